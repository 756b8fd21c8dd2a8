package api_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"lotbook/api/auth"
	"lotbook/inventory/account"
)

// No route is without a row in the table of permissions, and no row is left
// over.
func TestEveryRouteHasItsPermission(t *testing.T) {
	routes := newSite(t).routes()
	if missing := auth.Missing(routes); len(missing) != 0 {
		t.Errorf("routes without a row: %q", missing)
	}
	if unrouted := auth.Unrouted(routes); len(unrouted) != 0 {
		t.Errorf("rows without a route: %q", unrouted)
	}
}

// filled puts something into a pattern's parameters.
func filled(pattern string) string {
	return strings.NewReplacer(":id", "99999", ":number", "7", ":seq", "7", "*path", "none.css").Replace(pattern)
}

// Every role is refused, over the real router, exactly what the table does not
// let it do, and nobody gets past it without signing in.
func TestRolesOnEveryRoute(t *testing.T) {
	s := newSite(t)
	table, err := auth.New(s.accounts, auth.Settings{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	public := auth.PublicRoutes()
	for _, r := range s.routes() {
		route := r.Method + " " + r.Path
		var body any
		if r.Method == http.MethodPost {
			body = m{}
		}
		for _, role := range account.Roles() {
			if route == "POST /sign-out" {
				continue // would answer with a redirect that the client follows
			}
			a := s.do(role, r.Method, filled(r.Path), body)
			if refused := a.status == http.StatusForbidden; refused == table.May(role, route) {
				t.Errorf("%s as %s: status %d", route, role, a.status)
			}
			if a.status >= 500 {
				t.Errorf("%s as %s: status %d: %s", route, role, a.status, a.body)
			}
		}
		if slices.Contains(public, route) || !strings.HasPrefix(r.Path, "/v1/") {
			continue
		}
		a := s.do("", r.Method, filled(r.Path), body).problem(http.StatusUnauthorized, "not_signed_in")
		if got := a.header.Get("WWW-Authenticate"); !strings.HasPrefix(got, "Bearer ") {
			t.Errorf("%s: WWW-Authenticate %q", route, got)
		}
	}
}

// What must not be possible is named here a second time, so that a slip in the
// table shows: patients are for those who treat them or must tell about them.
func TestWhatRolesMustNotDo(t *testing.T) {
	s := newSite(t)
	for _, c := range []struct {
		route string
		roles []account.Role
	}{
		{"GET /v1/patients", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/treatments?open=true", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/treatments/T1", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/exposures?product=x&lot=y", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/exposures.xlsx?product=x&lot=y", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"GET /v1/notices/N1/answer", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/notices/N1/answer.xlsx", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"GET /v1/notices/N1/difference?from=1&to=2", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/notices/N1/replies/1", []account.Role{account.Stock, account.Administrator}},
		{"GET /v1/notices/N1/replies/1/unit.xlsx", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"POST /v1/notices", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"POST /v1/notices/N1/releases", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"GET /v1/entries/1", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"POST /v1/treatments/T1/scans", []account.Role{account.Stock, account.Quality, account.Administrator}},
		{"POST /v1/releases", []account.Role{account.Nurse, account.Stock, account.Administrator}},
		{"POST /v1/users", []account.Role{account.Nurse, account.Stock, account.Quality}},
		{"POST /v1/unit", []account.Role{account.Nurse, account.Stock, account.Quality}},
	} {
		method, path, _ := strings.Cut(c.route, " ")
		var body any
		if method == http.MethodPost {
			body = m{}
		}
		for _, role := range c.roles {
			a := s.do(role, method, path, body).problem(http.StatusForbidden, "forbidden")
			if a.text("hint") == "" {
				t.Errorf("%s as %s: it is not said what to do", c.route, role)
			}
		}
	}
}
