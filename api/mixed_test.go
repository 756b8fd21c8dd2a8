package api_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// From a bag's lot to the treatments that its batch fed, and from a treatment
// back to the bag; and likewise through a kit and an opened container.
func TestTracedBothWays(t *testing.T) {
	s := furnish(t)
	const ok, created = http.StatusOK, http.StatusCreated
	walkMixed(s)
	s.do(account.Nurse, "POST", "/v1/batches", m{
		"batch": "B-2", "product": "MIX", "tank": "T1", "poured_into": "empty", "mixed_by": "Ada", "checked_by": "Bea",
		"inputs": []m{{"product": "BAG", "lot": "BG-1", "quantity": 2, "from": "room"}},
	}).want(created)
	s.do(account.Nurse, "POST", "/v1/tanks/T1/feeds", m{"loop": "L1"}).want(created)
	s.do(account.Nurse, "POST", "/v1/containers", m{"container": "C-2", "product": "SAL", "lot": "S1", "expires": "2028-03-31", "from": "cart-a"}).want(created)
	s.pass(60e9)
	id := s.opened("P1", "S1")
	path := "/v1/treatments/" + id
	lacks := func() []string {
		t.Helper()
		var out []string
		for i := range s.do(account.Nurse, "GET", path, nil).want(ok).list("missing") {
			out = append(out, s.do(account.Nurse, "GET", path, nil).text("missing", i, "category", "id"))
		}
		return out
	}
	if got := lacks(); slices.Contains(got, "acid_concentrate") || !slices.Contains(got, "fistula_needle") {
		t.Errorf("at a fed station are missing: %q", got)
	}
	s.scan(id, m{"product": "KIT", "lot": "K-1", "expires": "2028-03-31", "reason": "agreed"}).want(created)
	if got := lacks(); slices.Contains(got, "fistula_needle") || slices.Contains(got, "bloodline_set") {
		t.Errorf("with a kit are missing: %q", got)
	}
	drawn := s.scan(id, m{"container": "C-2"})
	if drawn.status != created || drawn.text("taken_as", "lot") != "S1" || drawn.number("taken_as", "quantity") != 0 {
		t.Errorf("drawn from a container: %d %s", drawn.status, drawn.body)
	}
	s.pass(4 * 3600e9)
	s.do(account.Nurse, "POST", path+"/closures", m{"minutes": 235}).want(created)

	tr := s.do(account.Quality, "GET", path, nil).want(ok)
	if tr.text("supplied", 0, "batches", 0, "batch") != "B-2" || tr.text("supplied", 0, "batches", 0, "grade") != "confirmed" ||
		tr.text("supplied", 0, "batches", 0, "inputs", 0, "lot") != "BG-1" {
		t.Errorf("the treatment's supplies: %s", tr.body)
	}
	uses := map[string]int{}
	for i := range tr.list("uses") {
		uses[tr.text("uses", i, "product")] = i
	}
	if tr.text("uses", uses["KIT"], "contents", 0, "lot") != "N-7" || tr.text("uses", uses["SAL"], "container") != "C-2" {
		t.Errorf("the treatment's uses: %s", tr.body)
	}
	for _, ask := range []struct{ product, lot, via, grade string }{
		{"BAG", "BG-1", "B-2", "confirmed"},
		{"MIX", "B-2", "", "confirmed"},
		{"NDL", "N-7", "K-1", "confirmed"},
		{"SAL", "S1", "", "confirmed"},
		{"SAL", "never-seen", "K-1", "cannot be excluded"}, // which saline is in the kit is not known
	} {
		a := s.do(account.Quality, "GET", "/v1/exposures?product="+ask.product+"&lot="+ask.lot, nil).want(ok)
		i := slices.Index(a.texts("treatment", "exposures"), id)
		if i < 0 || a.text("exposures", i, "grade") != ask.grade || a.text("exposures", i, "via", "lot") != ask.via || a.text("exposures", i, "why") == "" {
			t.Errorf("%s %s: %s", ask.product, ask.lot, a.body)
		}
		s.do(account.Quality, "GET", "/v1/exposures.xlsx?product="+ask.product+"&lot="+ask.lot, nil).want(ok)
	}
	// The kit's component is put on hold: the next one is stopped.
	s.do(account.Nurse, "POST", "/v1/holds", m{"product": "NDL", "lots": []string{"N-7"}, "reason": "bent"}).want(created)
	stop := s.scan(s.opened("P2", "S2"), m{"product": "KIT", "lot": "K-1"}).want(created)
	if stop.text("outcome") != "stopped" || !strings.Contains(stop.text("findings", 0, "message"), "N-7") {
		t.Errorf("a kit with a held lot in it: %s", stop.body)
	}
}

// A stock clerk sees that a place is a home store, and not whose.
func TestHomeStoresNameNoPatientToAClerk(t *testing.T) {
	s := furnish(t)
	s.do(account.Stock, "POST", "/v1/locations", m{"id": "home-1", "name": "Home store 1", "kind": "home", "patient": "P1"}).want(http.StatusCreated)
	s.receive("DLZ", "D-1", "2028-03-31", 10, "room")
	s.do(account.Stock, "POST", "/v1/moves", m{"from": "room", "to": "home-1", "lines": []m{{"product": "DLZ", "lot": "D-1", "quantity": 4}}}).want(http.StatusCreated)
	find := func(role account.Role) string {
		a := s.do(role, "GET", "/v1/locations", nil).want(http.StatusOK)
		return a.text("locations", slices.Index(a.texts("id", "locations"), "home-1"), "patient")
	}
	if find(account.Stock) != "" || find(account.Administrator) != "" || find(account.Nurse) != "P1" {
		t.Errorf("whose store it is: %q to a clerk, %q to a nurse", find(account.Stock), find(account.Nurse))
	}
	a := s.do(account.Quality, "GET", "/v1/exposures?product=DLZ&lot=D-1", nil).want(http.StatusOK)
	if a.text("home_patients", 0, "patient") != "P1" || a.number("home_patients", 0, "supplied") != 4 || a.number("mass_balance", "on_hand") != 10 {
		t.Errorf("home patients: %s", a.body)
	}
}
