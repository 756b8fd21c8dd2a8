package auth_test

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory/account"
)

// signing adds the routes that sign in and out as the pages will.
func signing(s *site) {
	s.router.POST("/sign-in", func(c *gin.Context) {
		id, err := s.auth.SignIn(c, c.Query("user"), c.Query("password"))
		if s.err = err; err != nil {
			c.Status(status(err))
			return
		}
		s.who = id
		c.Redirect(http.StatusSeeOther, auth.SafeNext(c.Query("next")))
	})
	s.router.POST("/sign-out", func(c *gin.Context) {
		if s.err = s.auth.SignOut(c); s.err != nil {
			c.Status(http.StatusInternalServerError)
			return
		}
		c.Redirect(http.StatusSeeOther, "/sign-in")
	})
}

// The attributes of RFC 6265bis: __Host- needs Secure, Path=/ and no Domain
// (section 4.1.3.2).
func TestCookie(t *testing.T) {
	for _, c := range []struct {
		tls  bool
		name string
	}{{true, "__Host-lotbook"}, {false, "lotbook"}} {
		s := newSite(t, auth.Settings{TLS: c.tls}, "GET /")
		signing(s)
		r := s.do("POST", "/sign-in?user=+Nurse+&password=three+wet+umbrellas&next=/setup")
		s.want("sign in", r, http.StatusSeeOther)
		if s.who.User != "nurse" || r.Header.Get("Location") != "/setup" || r.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("signed in as %+v, header %v", s.who, r.Header)
		}
		cs := r.Cookies()
		if len(cs) != 1 {
			t.Fatalf("cookies %v", cs)
		}
		got := cs[0]
		if got.Name != c.name || got.Value == "" || got.Path != "/" || got.Domain != "" || got.Secure != c.tls ||
			!got.HttpOnly || got.SameSite != http.SameSiteStrictMode || got.MaxAge != 0 || !got.Expires.IsZero() {
			t.Errorf("TLS %v: cookie %s", c.tls, got.Raw)
		}
		s.want("signed in", s.do("GET", "/", cookie(got)), http.StatusNoContent)
		if s.who.User != "nurse" {
			t.Errorf("the handler knows %+v", s.who)
		}
		// The other name, or a second one, is no cookie of ours.
		other := *got
		other.Name = map[bool]string{true: "lotbook", false: "__Host-lotbook"}[c.tls]
		s.want("other name", s.do("GET", "/", cookie(&other)), http.StatusUnauthorized)
		s.want("a second one", s.do("GET", "/", cookie(got), cookie(&http.Cookie{Name: c.name, Value: "planted"})), http.StatusUnauthorized)
		s.want("one before", s.do("GET", "/", cookie(&http.Cookie{Name: c.name, Value: "planted"}), cookie(got)), http.StatusUnauthorized)

		r = s.do("POST", "/sign-out", cookie(got))
		s.want("sign out", r, http.StatusSeeOther)
		if cs := r.Cookies(); len(cs) != 1 || cs[0].Name != c.name || cs[0].Value != "" || cs[0].MaxAge >= 0 ||
			cs[0].Path != "/" || cs[0].Secure != c.tls || !cs[0].HttpOnly {
			t.Errorf("the cookie is not taken away: %v", cs)
		}
		s.want("signed out", s.do("GET", "/", cookie(got)), http.StatusUnauthorized)
	}
}

func TestSignInFails(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /")
	signing(s)
	no := false
	if _, err := s.accounts.Change(ctx, console, "stock", account.Change{Active: &no}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		query string
		want  error
	}{
		{"user=nurse&password=four+dry+umbrellas", account.ErrBadCredentials},
		{"user=nobody&password=three+wet+umbrellas", account.ErrBadCredentials},
		{"user=stock&password=three+wet+umbrellas", account.ErrInactive},
		{"", account.ErrBadCredentials},
	} {
		r := s.do("POST", "/sign-in?"+c.query)
		if !errors.Is(s.err, c.want) || len(r.Cookies()) != 0 {
			t.Errorf("%s: error %v, cookies %v", c.query, s.err, r.Cookies())
		}
	}
}

// A session that was there before a sign-in does not outlive it, whoever had
// it (OWASP Session Management Cheat Sheet, "Renew the Session ID After Any
// Privilege Level Change").
func TestSignInEndsTheSessionBefore(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /")
	signing(s)
	old := s.session("lotbook", "stock")
	r := s.do("POST", "/sign-in?user=nurse&password=three+wet+umbrellas", old)
	s.want("sign in", r, http.StatusSeeOther)
	s.want("the old session", s.do("GET", "/", old), http.StatusUnauthorized)
	s.want("the new session", s.do("GET", "/", cookie(r.Cookies()[0])), http.StatusNoContent)
	// One that failed leaves everything as it was.
	other := cookie(r.Cookies()[0])
	s.do("POST", "/sign-in?user=nurse&password=wrong", other)
	s.want("after an attempt", s.do("GET", "/", other), http.StatusNoContent)
}

// Unvalidated redirects: OWASP cheat sheet of that name; the backslash and
// control characters are what the WHATWG URL standard lets browsers take for a
// slash or leave out.
func TestSafeNext(t *testing.T) {
	for next, want := range map[string]string{
		"/setup":                "/setup",
		"/setup/12?tab=a&b=%2F": "/setup/12?tab=a&b=%2F",
		"/lots?lot=A%20B":       "/lots?lot=A%20B",
		"":                      "/",
		"setup":                 "/",
		"//evil.example":        "/",
		"///evil.example":       "/",
		"/\\evil.example":       "/",
		"\\\\evil.example":      "/",
		"/\t/evil.example":      "/",
		"/\n/evil.example":      "/",
		"/%2F/evil.example":     "/",
		"https://evil.example":  "/",
		"javascript:alert(1)":   "/",
		"/sign-in?next=/":       "/",
		"/sign-out":             "/",
		" /setup":               "/",
		"/a\x00b":               "/",
		"/%zz":                  "/",
		"mailto:a@b.example":    "/",
		"//user@evil.example/":  "/",
		"?next=/":               "/",
		"#":                     "/",
	} {
		if got := auth.SafeNext(next); got != want {
			t.Errorf("%q leads to %q, want %q", next, got, want)
		}
	}
}

func TestSignInURL(t *testing.T) {
	for _, c := range []struct{ method, path, want string }{
		{"GET", "/", "/sign-in"},
		{"GET", "/setup/12?a=b&c=d", "/sign-in?next=%2Fsetup%2F12%3Fa%3Db%26c%3Dd"},
		{"POST", "/setup/12", "/sign-in"},
		{"GET", "//evil.example/", "/sign-in"},
	} {
		r := httptest.NewRequest(c.method, "http://example.com"+c.path, nil)
		got := auth.SignInURL(r)
		if got != c.want {
			t.Errorf("%s %s: %q, want %q", c.method, c.path, got, c.want)
		}
		if _, q, ok := strings.Cut(got, "?"); ok {
			back := httptest.NewRequest("GET", "/sign-in?"+q, nil).URL.Query().Get("next")
			if auth.SafeNext(back) != c.path {
				t.Errorf("%s leads back to %q", c.path, back)
			}
		}
	}
}
