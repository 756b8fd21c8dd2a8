package auth

import (
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/inventory/account"
)

// A Who is a set of roles, or everybody.
type Who uint8

// The roles as a set. Public is everybody, without asking who it is.
const (
	nurse Who = 1 << iota
	stock
	quality
	administrator
	Public

	everyone = nurse | stock | quality | administrator
)

// bits says which bit stands for a role.
func bits(r account.Role) Who {
	switch r {
	case account.Nurse:
		return nurse
	case account.Stock:
		return stock
	case account.Quality:
		return quality
	case account.Administrator:
		return administrator
	}
	return 0
}

// May reports whether the set has a role in it.
func (w Who) May(r account.Role) bool { return w&(bits(r)|Public) != 0 }

// Roles returns the roles of the set, in the order of account.Roles.
func (w Who) Roles() []account.Role {
	return slices.DeleteFunc(account.Roles(), func(r account.Role) bool { return !w.May(r) })
}

// A permission is a row of the table: "METHOD /pattern", and who may.
type permission struct {
	route string
	who   Who
}

// A table is the rows by route.
type table map[string]Who

func newTable(rows []permission) table {
	t := make(table, len(rows))
	for _, p := range rows {
		if _, twice := t[p.route]; twice {
			panic("two permissions for " + p.route)
		}
		t[p.route] = p.who
	}
	return t
}

// look returns who may use a route; ok is false if there is no row.
func (t table) look(method, pattern string) (w Who, ok bool) {
	if method == http.MethodHead {
		method = http.MethodGet
	}
	w, ok = t[method+" "+pattern]
	return w, ok
}

func (t table) missing(routes gin.RoutesInfo) []string {
	var out []string
	for _, r := range routes {
		if _, ok := t.look(r.Method, r.Path); !ok {
			out = append(out, r.Method+" "+r.Path)
		}
	}
	slices.Sort(out)
	return out
}

func (t table) unrouted(routes gin.RoutesInfo) []string {
	rest := maps.Clone(t)
	for _, r := range routes {
		delete(rest, r.Method+" "+r.Path)
	}
	return slices.Sorted(maps.Keys(rest))
}

// Missing returns the routes of a router that no row of the table names, as
// "METHOD /pattern": nobody can use them. A test over the real router wants
// none.
func Missing(routes gin.RoutesInfo) []string { return newTable(permissions()).missing(routes) }

// Unrouted returns the rows of the table that no route of a router matches:
// left over, or misspelt. A test over the real router wants none.
func Unrouted(routes gin.RoutesInfo) []string { return newTable(permissions()).unrouted(routes) }

// PublicRoutes returns the routes that ask nobody who they are, for a test
// that names each of them a second time.
func PublicRoutes() []string {
	var out []string
	for _, p := range permissions() {
		if p.who&Public != 0 {
			out = append(out, p.route)
		}
	}
	return out
}

// splitRoute takes "METHOD /pattern" apart.
func splitRoute(route string) (method, pattern string) {
	method, pattern, _ = strings.Cut(route, " ")
	return method, pattern
}
