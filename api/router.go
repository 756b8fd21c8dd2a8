package api

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
	v1 "lotbook/api/v1"
)

// New returns the service.
func New(d Deps) (http.Handler, error) {
	engine, err := router(d)
	if err != nil {
		return nil, err
	}
	return engine, nil
}

// A service answers where no handler does.
type service struct {
	Deps
	pages Pages
}

func router(d Deps) (*gin.Engine, error) {
	d, err := d.filled()
	if err != nil {
		return nil, err
	}
	s := &service{Deps: d}
	guard, err := auth.New(d.Accounts, d.Auth, s.fail)
	if err != nil {
		return nil, fmt.Errorf("api: %w", err)
	}
	if d.Pages != nil {
		if s.pages, err = d.Pages(guard); err != nil {
			return nil, fmt.Errorf("api: pages: %w", err)
		}
	}
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	engine.HandleMethodNotAllowed = true
	engine.RedirectTrailingSlash = false
	// An id may hold any character. gin would take a plus sign for a space.
	engine.UseEscapedPath = true
	engine.UnescapePathValues = false
	if err := engine.SetTrustedProxies(nil); err != nil {
		return nil, fmt.Errorf("api: %w", err)
	}

	engine.Use(s.identify, s.logged, s.recovered, s.secured, s.limited, guard.Guard)
	engine.NoRoute(func(c *gin.Context) { s.fail(c, problem.NoRoute()) })
	engine.NoMethod(func(c *gin.Context) { s.fail(c, problem.NoMethod(c.Request.Method)) })
	engine.GET("/health", s.health)
	v1.New(v1.Deps{
		Book: d.Book, Accounts: d.Accounts, TempDir: d.TempDir, Version: d.Version, Scanner: d.Scanner, May: guard.May, Fail: s.fail,
		PicturePixels: d.Limits.PicturePixels, PictureTime: d.Limits.PictureTime, PicturesAtOnce: d.Limits.PicturesAtOnce,
	}).Register(engine.Group("/v1"))
	if s.pages != nil {
		s.pages.Register(engine)
	}
	return engine, nil
}

// fail answers a request with what went wrong.
func (s *service) fail(c *gin.Context, err error) {
	p := problem.Of(err)
	p.RequestID = problem.ID(c.Request.Context())
	s.note(c, err, &p)
	c.Abort()
	if c.Writer.Written() {
		// The answer has begun: it must not look as if it were whole.
		panic(http.ErrAbortHandler)
	}
	if s.pages != nil && !strings.HasPrefix(c.Request.URL.Path, "/v1/") && c.Request.URL.Path != "/health" {
		s.pages.Fail(c, p)
		return
	}
	if err := p.Write(c.Writer); err != nil {
		s.Log.DebugContext(c.Request.Context(), "the client was gone before its answer", "request", p.RequestID, "error", err)
	}
}
