package auth

import "net/http"

// cookieName is the name of the session cookie. With the prefix a browser
// takes it only over TLS, for this host alone and for all paths (RFC 6265bis,
// section 4.1.3.2).
func (a *Auth) cookieName() string {
	if a.set.TLS {
		return "__Host-lotbook"
	}
	return "lotbook"
}

// cookie returns the session cookie, or with an empty secret the one that
// removes it.
func (a *Auth) cookie(secret string) *http.Cookie {
	c := &http.Cookie{
		Name:     a.cookieName(),
		Value:    secret,
		Path:     "/",
		Secure:   a.set.TLS,
		HttpOnly: true,
		SameSite: http.SameSiteStrictMode,
	}
	if secret == "" {
		c.MaxAge = -1
	}
	return c
}

// secretOf returns the session's string from a request, empty if there is none.
// Two cookies of the name are none: which of them was set here can't be told.
func (a *Auth) secretOf(r *http.Request) string {
	cs := r.CookiesNamed(a.cookieName())
	if len(cs) != 1 {
		return ""
	}
	return cs[0].Value
}
