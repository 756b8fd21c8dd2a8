package auth_test

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/inventorytest"
)

const password = "three wet umbrellas"

var (
	ctx     = context.Background()
	console = inventory.Call{Actor: string(account.Console)}
)

// A site is a router with one handler for all, behind the guard.
type site struct {
	t        *testing.T
	accounts *account.Accounts
	auth     *auth.Auth
	router   *gin.Engine
	now      *atomic.Int64
	// err is what the guard gave to the function that answers; who is whom
	// the handler found in its context.
	err     error
	who     auth.Identity
	known   bool
	reached int
}

// newSite returns a site with a user of each role, called like the role, and
// the given routes, "METHOD /pattern".
func newSite(t *testing.T, set auth.Settings, routes ...string) *site {
	t.Helper()
	gin.SetMode(gin.TestMode)
	s := &site{t: t, now: new(atomic.Int64)}
	s.now.Store(time.Date(2026, 11, 24, 6, 0, 0, 0, time.UTC).UnixNano())
	clock := func() time.Time { return time.Unix(0, s.now.Load()).UTC() }
	settings := account.DefaultSettings()
	settings.Hash = account.Params{Memory: 64, Passes: 1, Lanes: 1}
	s.accounts = account.New(inventorytest.NewMemory(clock), inventory.NewRegistry(account.Events()), clock, settings)
	for _, r := range account.Roles() {
		if _, err := s.accounts.Add(ctx, console, account.NewUser{ID: account.UserID(r), Name: "The " + string(r), Role: r}, password); err != nil {
			t.Fatal(err)
		}
	}
	var err error
	s.auth, err = auth.New(s.accounts, set, func(c *gin.Context, err error) {
		s.err = err
		c.Status(status(err))
	})
	if err != nil {
		t.Fatal(err)
	}
	s.router = gin.New()
	s.router.Use(s.auth.Guard)
	for _, r := range routes {
		method, pattern, _ := strings.Cut(r, " ")
		s.router.Handle(method, pattern, s.handle)
	}
	return s
}

// status is what the errors' comments say.
func status(err error) int {
	switch {
	case errors.Is(err, auth.ErrNotSignedIn), errors.Is(err, account.ErrBadToken), errors.Is(err, account.ErrBadCredentials):
		return http.StatusUnauthorized
	case errors.Is(err, auth.ErrForbidden), errors.Is(err, auth.ErrCrossOrigin):
		return http.StatusForbidden
	}
	return http.StatusInternalServerError
}

func (s *site) handle(c *gin.Context) {
	s.reached++
	s.who, s.known = auth.FromContext(c.Request.Context())
	c.Status(http.StatusNoContent)
}

// do sends a request, after the options changed it.
func (s *site) do(method, path string, options ...func(*http.Request)) *http.Response {
	s.t.Helper()
	s.err, s.who, s.known = nil, auth.Identity{}, false
	r := httptest.NewRequest(method, path, nil)
	for _, o := range options {
		o(r)
	}
	w := httptest.NewRecorder()
	s.router.ServeHTTP(w, r)
	return w.Result()
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Add(name, value) }
}

func cookie(c *http.Cookie) func(*http.Request) {
	return func(r *http.Request) { r.AddCookie(c) }
}

// token returns the option that sends a token of a user.
func (s *site) token(user account.UserID) func(*http.Request) {
	s.t.Helper()
	is, err := s.accounts.IssueToken(ctx, console, account.NewToken{User: user, Label: "test"})
	if err != nil {
		s.t.Fatal(err)
	}
	return header("Authorization", "Bearer "+is.Secret)
}

// session returns the option that sends the cookie of a new session.
func (s *site) session(name string, user account.UserID) func(*http.Request) {
	s.t.Helper()
	secret, _, err := s.accounts.SignIn(ctx, user, password)
	if err != nil {
		s.t.Fatal(err)
	}
	return cookie(&http.Cookie{Name: name, Value: secret})
}

func (s *site) want(what string, r *http.Response, status int) {
	s.t.Helper()
	if r.StatusCode != status {
		s.t.Errorf("%s: status %d (error %v), want %d", what, r.StatusCode, s.err, status)
	}
}
