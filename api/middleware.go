package api

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
)

// identify gives a request its id. One that a client sends is not taken: it
// would stand in the log.
func (s *service) identify(c *gin.Context) {
	var b [8]byte
	_, _ = rand.Read(b[:]) // never fails: crypto/rand ends the process first
	id := hex.EncodeToString(b[:])
	c.Header("X-Request-Id", id)
	c.Request = c.Request.WithContext(problem.WithID(c.Request.Context(), id))
}

// logged writes a line for each request. Addresses and bodies may name patients
// or hold secrets, so there is the route's pattern alone.
func (s *service) logged(c *gin.Context) {
	start := s.Book.Now()
	defer func() {
		ctx := c.Request.Context()
		attrs := []slog.Attr{
			slog.String("request", problem.ID(ctx)),
			slog.String("method", c.Request.Method),
			slog.String("route", c.FullPath()),
			slog.Int("status", c.Writer.Status()),
			slog.Int("bytes", max(0, c.Writer.Size())),
			slog.Duration("took", s.Book.Now().Sub(start)),
		}
		if id, ok := auth.FromContext(ctx); ok {
			attrs = append(attrs, slog.String("user", string(id.User)))
		}
		s.Log.LogAttrs(ctx, slog.LevelInfo, "request", attrs...)
	}()
	c.Next()
}

// note writes down an error that the client is not told.
func (s *service) note(c *gin.Context, err error, p *problem.Problem) {
	if p.Status < http.StatusInternalServerError {
		return
	}
	ctx := c.Request.Context()
	level := slog.LevelError
	if errors.Is(err, context.Canceled) || p.Code == "busy" {
		level = slog.LevelDebug
	}
	s.Log.LogAttrs(ctx, level, "request failed",
		slog.String("request", p.RequestID), slog.String("route", c.FullPath()),
		slog.String("code", p.Code), slog.String("error", err.Error()))
}

// recovered answers for a handler that panicked.
func (s *service) recovered(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if err, ok := v.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(v)
		}
		ctx := c.Request.Context()
		s.Log.ErrorContext(ctx, "panic", "request", problem.ID(ctx), "route", c.FullPath(), "stack", string(debug.Stack()))
		s.fail(c, fmt.Errorf("panic: %v", v))
	}()
	c.Next()
}

// contentPolicy lets a page use this service's own files and nothing else; a
// picture may also come from the page itself, as it shows what a camera took.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; " +
	"connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// secured sets the headers that the OWASP Secure Headers Project lists and that
// fit a service of its own origin.
func (s *service) secured(c *gin.Context) {
	h := c.Writer.Header()
	policy := contentPolicy
	if strings.HasPrefix(c.Request.URL.Path, "/v1/") {
		policy = "default-src 'none'; frame-ancestors 'none'"
	}
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
	if s.Auth.TLS {
		h.Set("Strict-Transport-Security", "max-age=31536000")
	}
	c.Next()
}

// mayBePicture are the routes that take a picture.
func mayBePicture(pattern string) bool {
	switch pattern {
	case "/v1/read", "/v1/treatments/:id/scans", "/setup/:id", "/v1/problems/:id/pictures", "/problems/:id":
		return true
	}
	return false
}

// limited bounds a request's bytes and time.
func (s *service) limited(c *gin.Context) {
	size, took := s.Limits.Body, s.Limits.Time
	if mayBePicture(c.FullPath()) {
		size = s.Limits.Picture
	}
	if strings.HasSuffix(c.FullPath(), ".xlsx") {
		took = s.Limits.Workbook
	}
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, size)
	ctx, cancel := context.WithTimeout(c.Request.Context(), took)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	c.Next()
}
