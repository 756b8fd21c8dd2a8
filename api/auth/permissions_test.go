package auth_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory/account"
)

// What is public is named here a second time, so that nothing becomes so by a
// slip in the table.
func TestPublicRoutes(t *testing.T) {
	want := []string{"GET /health", "GET /assets/*path", "GET /sign-in", "POST /sign-in"}
	if got := auth.PublicRoutes(); !slices.Equal(got, want) {
		t.Errorf("public are %q, want %q", got, want)
	}
}

func TestMissingAndUnrouted(t *testing.T) {
	routes := gin.RoutesInfo{
		{Method: "GET", Path: "/v1/patients"},
		{Method: "HEAD", Path: "/v1/patients"},
		{Method: "PUT", Path: "/v1/patients"},
		{Method: "GET", Path: "/v1/patients/:id"},
		{Method: "GET", Path: "/a/new/page"},
	}
	want := []string{"GET /a/new/page", "GET /v1/patients/:id", "PUT /v1/patients"}
	if got := auth.Missing(routes); !slices.Equal(got, want) {
		t.Errorf("missing %q, want %q", got, want)
	}
	all := auth.Unrouted(nil)
	got := auth.Unrouted(routes)
	if len(got) != len(all)-1 || slices.Contains(got, "GET /v1/patients") || !slices.Contains(all, "GET /v1/patients") {
		t.Errorf("unrouted %q", got)
	}
}

// walk asks every route of the table as every role over a real router, and
// returns which roles came through, by route.
func walk(t *testing.T) map[string][]account.Role {
	t.Helper()
	routes := auth.Unrouted(nil)
	s := newSite(t, auth.Settings{}, routes...)
	if m := auth.Missing(s.router.Routes()); len(m) != 0 {
		t.Fatalf("missing %q", m)
	}
	out := map[string][]account.Role{}
	for _, role := range account.Roles() {
		token := s.token(account.UserID(role))
		for _, route := range routes {
			method, path, _ := strings.Cut(route, " ")
			path = strings.NewReplacer(":id", "7", ":seq", "7", "*path", "a.css").Replace(path)
			before := s.reached
			r := s.do(method, path, token)
			through := s.reached > before
			if through != (r.StatusCode == http.StatusNoContent) || !through && r.StatusCode != http.StatusForbidden {
				t.Errorf("%s as %s: status %d, handler reached %v", route, role, r.StatusCode, through)
			}
			if through != s.auth.May(role, route) {
				t.Errorf("%s as %s: May says %v", route, role, !through)
			}
			if through {
				out[route] = append(out[route], role)
			}
		}
	}
	for _, route := range routes {
		method, path, _ := strings.Cut(route, " ")
		path = strings.NewReplacer(":id", "7", ":seq", "7", "*path", "a.css").Replace(path)
		want := http.StatusUnauthorized
		if slices.Contains(auth.PublicRoutes(), route) {
			want = http.StatusNoContent
		}
		s.want(route+" as nobody", s.do(method, path), want)
	}
	return out
}

// What the roles are for, said once more from the roles' side: the table may
// change, these must hold.
func TestWhoMayDoWhat(t *testing.T) {
	got := walk(t)
	only := func(roles ...account.Role) []account.Role { return roles }
	for route, roles := range got {
		if len(roles) == 0 {
			t.Errorf("%s: nobody", route)
		}
		// Patients by name: nurses and quality officers.
		for _, p := range []string{"/v1/patients", "/v1/treatments", "/v1/exposures", "/v1/comparisons", "/v1/entries", "/setup", "/lots"} {
			if strings.Contains(route, " "+p) && (slices.Contains(roles, account.Stock) || slices.Contains(roles, account.Administrator)) {
				t.Errorf("%s shows patients to %q", route, roles)
			}
		}
		// An administrator writes users, settings and their own tokens, and
		// nothing about stock or treatments.
		if strings.HasPrefix(route, "POST ") && slices.Contains(roles, account.Administrator) && !slices.Contains([]string{
			"POST /sign-in", "POST /sign-out", "POST /v1/read", "POST /v1/locations", "POST /v1/stations", "POST /v1/machines", "POST /v1/tanks", "POST /v1/loops",
			"POST /v1/unit", "POST /v1/ordering", "POST /v1/counting", "POST /v1/problem-settings", "POST /scanners", "POST /v1/scanners", "POST /v1/users", "POST /v1/users/:id/changes", "POST /v1/tokens", "POST /v1/tokens/:id/revocations",
		}, route) {
			t.Errorf("%s: administrators write %q", route, roles)
		}
	}
	for route, want := range map[string][]account.Role{
		"POST /v1/treatments":           only(account.Nurse),
		"POST /v1/treatments/:id/scans": only(account.Nurse),
		"POST /v1/receipts":             only(account.Stock),
		"POST /v1/counts":               only(account.Nurse, account.Stock),
		// What a blind count is compared with.
		"GET /v1/count-sheets/:id/expected":  only(account.Quality),
		"POST /v1/releases":                  only(account.Quality),
		"GET /v1/exposures":                  only(account.Nurse, account.Quality), // as the page /lots,
		"GET /v1/exposures.xlsx":             only(account.Quality),
		"GET /v1/entries/:seq":               only(account.Quality),
		"GET /v1/problems":                   only(account.Nurse, account.Quality), // in whose treatment
		"GET /v1/problems/:id/pictures/:seq": only(account.Nurse, account.Quality),
		"GET /v1/problems/:id/draft.xlsx":    only(account.Quality),
		"POST /v1/problems":                  only(account.Nurse, account.Stock, account.Quality),
		"POST /v1/users":                     only(account.Administrator),
		"POST /v1/users/:id/changes":         only(account.Administrator),
		"POST /v1/unit":                      only(account.Administrator),
		"GET /v1/products":                   account.Roles(),
		"POST /v1/tokens":                    account.Roles(),
	} {
		if !slices.Equal(got[route], want) {
			t.Errorf("%s: %q, want %q", route, got[route], want)
		}
	}
}

func TestMayManage(t *testing.T) {
	mara := auth.Identity{User: "mara", Role: account.Nurse}
	ada := auth.Identity{User: "ada", Role: account.Administrator}
	if !mara.MayManage("mara") || mara.MayManage("ada") || !ada.MayManage("mara") {
		t.Error("a token is its user's and the administrators' business")
	}
}
