package auth

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/inventory/account"
)

// SignIn begins a session for whoever gives a user's name and password, and
// sets the session cookie on the answer. A session that the browser had before
// is ended: nothing set before a sign-in outlives it. Call it from the handler
// of POST /sign-in, then redirect to SafeNext with 303. Errors:
// account.ErrBadCredentials, account.ErrInactive, account.ErrBusy and those of
// the store.
func (a *Auth) SignIn(c *gin.Context, user, password string) (Identity, error) {
	ctx := c.Request.Context()
	secret, s, err := a.accounts.SignIn(ctx, account.NormalID(user), password)
	if err != nil {
		return Identity{}, err
	}
	if old := a.secretOf(c.Request); old != "" {
		// The new session stands either way, and the old one ends by itself.
		_ = a.accounts.SignOut(ctx, old)
	}
	a.private(c)
	http.SetCookie(c.Writer, a.cookie(secret))
	return identity(s), nil
}

// SignOut ends the session of the request's cookie, if there is one, and
// removes the cookie. Call it from the handler of POST /sign-out.
func (a *Auth) SignOut(c *gin.Context) error {
	if secret := a.secretOf(c.Request); secret != "" {
		if err := a.accounts.SignOut(c.Request.Context(), secret); err != nil {
			return err
		}
	}
	a.private(c)
	http.SetCookie(c.Writer, a.cookie(""))
	return nil
}

// private keeps an answer that sets the cookie out of caches.
func (a *Auth) private(c *gin.Context) { c.Header("Cache-Control", "no-store") }

// signInPath is the page to which somebody is sent who is not signed in.
const signInPath = "/sign-in"

// SignInURL returns where to send somebody who asked for a page without being
// signed in: the sign-in page, and from there back.
func SignInURL(r *http.Request) string {
	if r.Method != http.MethodGet {
		return signInPath
	}
	next := SafeNext(r.URL.RequestURI())
	if next == "/" {
		return signInPath
	}
	return signInPath + "?" + url.Values{"next": {next}}.Encode()
}

// SafeNext returns where to go after a sign-in: next if it is a path of this
// site, "/" for anything else, so that nobody can be led elsewhere by a link to
// the sign-in page.
func SafeNext(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.Opaque != "" || u.User != nil ||
		!strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.Contains(next, `\`) ||
		strings.HasPrefix(u.Path, "//") || strings.HasPrefix(u.Path, "/sign-") {
		return "/"
	}
	for _, c := range []byte(next) {
		if c <= ' ' || c == 0x7f {
			return "/"
		}
	}
	return next
}
