package auth

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/inventory/account"
)

// Settings are what the service knows about how it is reached.
type Settings struct {
	// TLS says that browsers reach the service by https, be it ended here or
	// at a proxy before.
	TLS bool
	// TrustedOrigins are origins of other sites, "https://host[:port]",
	// whose pages may send requests that change something; usually none.
	TrustedOrigins []string
}

// Auth is the guard of one router.
type Auth struct {
	accounts *account.Accounts
	set      Settings
	table    table
	origins  *http.CrossOriginProtection
	fail     func(*gin.Context, error)
}

// New returns an Auth over a unit's accounts. fail answers a request that is
// not passed on; the errors are described at ErrNotSignedIn. The error that New
// returns is about a trusted origin.
func New(accounts *account.Accounts, set Settings, fail func(*gin.Context, error)) (*Auth, error) {
	a := &Auth{
		accounts: accounts,
		set:      set,
		table:    newTable(permissions()),
		origins:  http.NewCrossOriginProtection(),
		fail:     fail,
	}
	for _, o := range set.TrustedOrigins {
		if err := a.origins.AddTrustedOrigin(o); err != nil {
			return nil, fmt.Errorf("trusted origin %q: %w", o, err)
		}
	}
	return a, nil
}

// Guard is the middleware. It must come before every handler of the router. A
// request that no route matches is passed on, for the router to say so: what
// is registered for that must hold nothing of the unit's.
func (a *Auth) Guard(c *gin.Context) {
	id, err := a.check(c)
	if err != nil {
		c.Abort()
		a.fail(c, err)
		return
	}
	if id != (Identity{}) {
		c.Request = c.Request.WithContext(NewContext(c.Request.Context(), id))
	}
	c.Next()
}

func (a *Auth) check(c *gin.Context) (Identity, error) {
	if err := a.origins.Check(c.Request); err != nil {
		return Identity{}, fmt.Errorf("%w: %w", ErrCrossOrigin, err)
	}
	method, pattern := c.Request.Method, c.FullPath()
	if pattern == "" {
		return Identity{}, nil
	}
	who, ok := a.table.look(method, pattern)
	switch {
	case !ok:
		return Identity{}, &Denied{Method: method, Pattern: pattern}
	case who&Public != 0:
		return Identity{}, nil
	}
	// What follows is about somebody: no cache may keep it, whatever the
	// answer (RFC 9111, section 5.2.2.5). A handler may say otherwise.
	c.Header("Cache-Control", "no-store")
	id, err := a.Identify(c.Request)
	switch {
	case errors.Is(err, account.ErrBadToken):
		// RFC 6750, section 3.1; RFC 9110, section 11.6.1.
		c.Header("WWW-Authenticate", `Bearer realm="lotbook", error="invalid_token"`)
	case errors.Is(err, ErrNotSignedIn):
		c.Header("WWW-Authenticate", `Bearer realm="lotbook"`)
		if a.secretOf(c.Request) != "" {
			http.SetCookie(c.Writer, a.cookie(""))
		}
	}
	if err != nil {
		return Identity{}, err
	}
	if !who.May(id.Role) {
		return Identity{}, &Denied{Method: method, Pattern: pattern, Role: id.Role, Allowed: who.Roles()}
	}
	return id, nil
}

// Identify returns who sent a request. A bearer token goes before a cookie,
// and one that is wrong does not fall back on it. Errors: ErrNotSignedIn,
// account.ErrBadToken and those of the store.
func (a *Auth) Identify(r *http.Request) (Identity, error) {
	if hs := r.Header.Values("Authorization"); len(hs) > 0 {
		secret, ok := bearer(hs)
		if !ok {
			return Identity{}, account.ErrBadToken
		}
		t, u, err := a.accounts.Token(r.Context(), secret)
		if err != nil {
			return Identity{}, err
		}
		return Identity{User: u.ID, Name: u.Name, Role: u.Role, Token: t.ID}, nil
	}
	secret := a.secretOf(r)
	if secret == "" {
		return Identity{}, ErrNotSignedIn
	}
	s, err := a.accounts.Session(r.Context(), secret)
	if errors.Is(err, account.ErrNoSession) {
		return Identity{}, fmt.Errorf("%w: %w", ErrNotSignedIn, err)
	}
	if err != nil {
		return Identity{}, err
	}
	return identity(s), nil
}

func identity(s account.Session) Identity {
	return Identity{User: s.User.ID, Name: s.User.Name, Role: s.User.Role, SignIn: s.SignIn}
}

// bearer returns the token of the one Authorization header that there may be.
// The scheme's case does not matter (RFC 9110, section 11.1).
func bearer(headers []string) (string, bool) {
	scheme, rest, ok := strings.Cut(headers[0], " ")
	rest = strings.TrimLeft(rest, " ")
	return rest, ok && rest != "" && len(headers) == 1 && strings.EqualFold(scheme, "Bearer")
}

// May reports whether a role may use a route, "METHOD /pattern", so that a page
// shows nobody what would be refused to them.
func (a *Auth) May(r account.Role, route string) bool {
	w, ok := a.table.look(splitRoute(route))
	return ok && w.May(r)
}
