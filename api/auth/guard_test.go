package auth_test

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/api/auth"
	"lotbook/inventory/account"
)

func TestIdentityReachesTheHandler(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /v1/patients")
	s.want("nobody", s.do("GET", "/v1/patients"), http.StatusUnauthorized)
	if !errors.Is(s.err, auth.ErrNotSignedIn) || s.reached != 0 {
		t.Errorf("error %v, handler reached %d times", s.err, s.reached)
	}

	s.want("session", s.do("GET", "/v1/patients", s.session("lotbook", "nurse")), http.StatusNoContent)
	if !s.known || s.who.User != "nurse" || s.who.Name != "The nurse" || s.who.Role != account.Nurse || s.who.SignIn == 0 || s.who.Token != 0 {
		t.Errorf("the handler knows %+v", s.who)
	}

	s.want("token", s.do("GET", "/v1/patients", s.token("quality")), http.StatusNoContent)
	if !s.known || s.who.User != "quality" || s.who.Role != account.Quality || s.who.SignIn != 0 || s.who.Token == 0 {
		t.Errorf("the handler knows %+v", s.who)
	}
	if call := s.who.Call("k"); call.Actor != "quality" || call.Key != "k" {
		t.Errorf("call %+v", call)
	}
}

func TestWrongRole(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /v1/patients")
	for _, role := range []account.UserID{"stock", "administrator"} {
		s.want(string(role), s.do("GET", "/v1/patients", s.token(role)), http.StatusForbidden)
		var d *auth.Denied
		if !errors.As(s.err, &d) || d.Role != account.Role(role) || d.Pattern != "/v1/patients" ||
			!slices.Equal(d.Allowed, []account.Role{account.Nurse, account.Quality}) {
			t.Errorf("%s: error %+v", role, s.err)
		}
	}
	if s.reached != 0 {
		t.Error("the handler was reached")
	}
}

// A route that nobody thought of is nobody's: not the administrator's either,
// nor that of somebody who is not asked who they are.
func TestDeniedByDefault(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /v1/forgotten/:id", "POST /v1/patients/:id", "DELETE /v1/patients", "GET /assets")
	for _, route := range []string{"GET /v1/forgotten/7", "POST /v1/patients/7", "DELETE /v1/patients", "GET /assets"} {
		method, path, _ := strings.Cut(route, " ")
		for _, role := range account.Roles() {
			s.want(route+" for "+string(role), s.do(method, path, s.token(account.UserID(role))), http.StatusForbidden)
			var d *auth.Denied
			if !errors.As(s.err, &d) || d.Role != "" || d.Allowed != nil {
				t.Errorf("%s: error %+v", route, s.err)
			}
		}
		s.want(route+" for nobody", s.do(method, path), http.StatusForbidden)
	}
	if s.reached != 0 {
		t.Error("a handler was reached")
	}
	// What is no route at all is for the router to say.
	s.want("no route", s.do("GET", "/v1/nothing"), http.StatusNotFound)
}

func TestPublicRoutesAskNobody(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /health", "GET /assets/*path", "GET /sign-in", "POST /sign-in")
	for _, route := range []string{"GET /health", "GET /assets/a/b.css", "GET /sign-in", "POST /sign-in"} {
		method, path, _ := strings.Cut(route, " ")
		r := s.do(method, path, header("Authorization", "Bearer wrong"))
		s.want(route, r, http.StatusNoContent)
		if s.known || r.Header.Get("Cache-Control") != "" {
			t.Errorf("%s: identity %+v, Cache-Control %q", route, s.who, r.Header.Get("Cache-Control"))
		}
	}
}

func TestHeadGoesWithGet(t *testing.T) {
	s := newSite(t, auth.Settings{}, "HEAD /v1/patients", "HEAD /v1/moves")
	s.want("nobody", s.do("HEAD", "/v1/patients"), http.StatusUnauthorized)
	s.want("stock", s.do("HEAD", "/v1/patients", s.token("stock")), http.StatusForbidden)
	s.want("nurse", s.do("HEAD", "/v1/patients", s.token("nurse")), http.StatusNoContent)
	s.want("HEAD of a POST", s.do("HEAD", "/v1/moves", s.token("nurse")), http.StatusForbidden)
}

func TestBearer(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /v1/patients")
	is, err := s.accounts.IssueToken(ctx, console, account.NewToken{User: "nurse", Label: "test"})
	if err != nil {
		t.Fatal(err)
	}
	session := s.session("lotbook", "nurse")
	for _, h := range []string{"Bearer " + is.Secret, "bearer " + is.Secret, "BEARER   " + is.Secret} {
		s.want(h[:8], s.do("GET", "/v1/patients", header("Authorization", h)), http.StatusNoContent)
	}
	// A wrong one is refused also beside a session that is right.
	for _, h := range []string{
		"", "Bearer", "Bearer ", is.Secret, "Bearer " + is.Secret + "x", "Bearer " + is.Secret + " ",
		"Basic " + is.Secret, "Basic bnVyc2U6dGhyZWUgd2V0IHVtYnJlbGxhcw==",
	} {
		r := s.do("GET", "/v1/patients", header("Authorization", h), session)
		s.want(h, r, http.StatusUnauthorized)
		// RFC 6750, section 3.1.
		if got := r.Header.Get("WWW-Authenticate"); got != `Bearer realm="lotbook", error="invalid_token"` || !errors.Is(s.err, account.ErrBadToken) {
			t.Errorf("%q: WWW-Authenticate %q, error %v", h, got, s.err)
		}
	}
	two := s.do("GET", "/v1/patients", header("Authorization", "Bearer "+is.Secret), header("Authorization", "Bearer "+is.Secret))
	s.want("two headers", two, http.StatusUnauthorized)

	if _, err := s.accounts.RevokeToken(ctx, console, is.ID); err != nil {
		t.Fatal(err)
	}
	s.want("revoked", s.do("GET", "/v1/patients", header("Authorization", "Bearer "+is.Secret)), http.StatusUnauthorized)
}

func TestSessionEnds(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /v1/patients")
	session := s.session("lotbook", "nurse")
	s.now.Add(int64(29 * time.Minute))
	s.want("29 minutes", s.do("GET", "/v1/patients", session), http.StatusNoContent)
	s.now.Add(int64(30 * time.Minute))
	r := s.do("GET", "/v1/patients", session)
	s.want("idle", r, http.StatusUnauthorized)
	if !errors.Is(s.err, auth.ErrNotSignedIn) || !errors.Is(s.err, account.ErrNoSession) {
		t.Errorf("error %v", s.err)
	}
	if got := r.Header.Get("WWW-Authenticate"); got != `Bearer realm="lotbook"` {
		t.Errorf("WWW-Authenticate %q", got)
	}
	if cs := r.Cookies(); len(cs) != 1 || cs[0].Name != "lotbook" || cs[0].MaxAge >= 0 || cs[0].Value != "" {
		t.Errorf("the cookie is not taken away: %v", cs)
	}

	session = s.session("lotbook", "nurse")
	role, active := account.Stock, false
	if _, err := s.accounts.Change(ctx, console, "nurse", account.Change{Role: &role}); err != nil {
		t.Fatal(err)
	}
	s.want("another role", s.do("GET", "/v1/patients", session), http.StatusForbidden)
	if _, err := s.accounts.Change(ctx, console, "nurse", account.Change{Active: &active}); err != nil {
		t.Fatal(err)
	}
	s.want("deactivated", s.do("GET", "/v1/patients", session), http.StatusUnauthorized)
}

func TestAnswersAboutSomebodyAreNotKept(t *testing.T) {
	s := newSite(t, auth.Settings{}, "GET /v1/patients")
	for name, o := range map[string][]func(*http.Request){"nobody": nil, "stock": {s.token("stock")}, "nurse": {s.token("nurse")}} {
		if got := s.do("GET", "/v1/patients", o...).Header.Get("Cache-Control"); got != "no-store" {
			t.Errorf("%s: Cache-Control %q", name, got)
		}
	}
}

// Requests that change something and come from another site's page, as the
// browsers mark them (W3C Fetch Metadata; RFC 6454 for Origin).
func TestCrossOrigin(t *testing.T) {
	s := newSite(t, auth.Settings{TrustedOrigins: []string{"https://board.example"}}, "GET /", "POST /setup", "POST /sign-in", "POST /v1/moves")
	session := s.session("lotbook", "nurse")
	const host = "http://example.com" // that of httptest's requests
	for _, c := range []struct {
		name    string
		headers []string
		refused bool
	}{
		{"same origin", []string{"Sec-Fetch-Site", "same-origin", "Origin", host}, false},
		{"typed by the user", []string{"Sec-Fetch-Site", "none"}, false},
		{"no browser", nil, false},
		{"old browser", []string{"Origin", host}, false},
		{"trusted", []string{"Sec-Fetch-Site", "cross-site", "Origin", "https://board.example"}, false},
		{"cross site", []string{"Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"}, true},
		{"cross site without origin", []string{"Sec-Fetch-Site", "cross-site"}, true},
		{"same site, other host", []string{"Sec-Fetch-Site", "same-site", "Origin", "https://other.example.com"}, true},
		{"old browser, cross site", []string{"Origin", "https://evil.example"}, true},
		{"old browser, other port", []string{"Origin", "http://example.com:8081"}, true},
		{"sandboxed", []string{"Origin", "null"}, true},
	} {
		options := []func(*http.Request){session}
		for i := 0; i < len(c.headers); i += 2 {
			options = append(options, header(c.headers[i], c.headers[i+1]))
		}
		for _, path := range []string{"/setup", "/sign-in", "/v1/moves"} {
			status, before := http.StatusNoContent, s.reached
			if c.refused {
				status = http.StatusForbidden
			}
			s.want(c.name+" POST "+path, s.do("POST", path, options...), status)
			if c.refused && (!errors.Is(s.err, auth.ErrCrossOrigin) || s.reached != before) {
				t.Errorf("%s: error %v, handler reached %d times", c.name, s.err, s.reached-before)
			}
		}
		s.want(c.name+" GET", s.do("GET", "/", options...), http.StatusNoContent)
	}
	// A token does not change it: no page of another site has one.
	s.want("with a token", s.do("POST", "/v1/moves", s.token("nurse"), header("Sec-Fetch-Site", "cross-site")), http.StatusForbidden)
}

func TestTrustedOriginMustBeOne(t *testing.T) {
	for _, o := range []string{"board.example", "https://", "https://board.example/path"} {
		if _, err := auth.New(nil, auth.Settings{TrustedOrigins: []string{o}}, nil); err == nil {
			t.Errorf("%q was taken", o)
		}
	}
}
