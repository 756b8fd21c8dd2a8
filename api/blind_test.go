package api_test

import (
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// While a sheet is open nobody who may count is told what the book has there, by
// whatever they ask: the figure of what lies there stands in none of the answers.
// Quality officers see it, other places and products are shown, and once the
// count is finished all is told again.
func TestBlindCountsHideTheBook(t *testing.T) {
	s := furnish(t)
	s.receive("DLZ", "D-1", "2028-03-31", 4700, "cart-a") // 4711 in two parts, since what came is no secret
	s.receive("DLZ", "D-1", "2028-03-31", 11, "cart-a")
	s.receive("DLZ", "D-1", "2028-03-31", 23, "room")
	s.receive("SAL", "S-1", "2028-03-31", 29, "cart-a")
	open := s.do(account.Stock, "POST", "/v1/count-sheets", m{"location": "cart-a", "products": []string{"DLZ"}, "complete": true}).want(http.StatusCreated).text("sheet")
	paths := []string{
		"/v1/balances", "/v1/balances?location=cart-a&product=DLZ", "/v1/lots?product=DLZ", "/v1/next-lots", "/v1/next-lots?location=cart-a",
		"/v1/reconciliations?date=2026-03-02&shift=1", "/v1/trends?from=2026-03-01&to=2026-03-02", "/v1/count-plan", "/v1/count-sheets", "/v1/count-sheets/" + open,
		"/v1/order-proposals", "/v1/products.csv", "/v1/receipts.csv", "/v1/counts.csv", "/v1/counting", "/v1/ordering",
	}
	told := func(role account.Role) (list []string) {
		for _, p := range paths {
			if a := s.do(role, "GET", p, nil).want(http.StatusOK); strings.Contains(string(a.body), "4711") {
				list = append(list, p)
			}
		}
		return list
	}
	if list := told(account.Stock); len(list) > 0 {
		t.Errorf("whoever counts is told by %q", list)
	}
	if list := told(account.Quality); len(list) < 5 {
		t.Errorf("a quality officer is told by %q only", list)
	}
	for path, left := range map[string]string{"/v1/balances": "balances", "/v1/next-lots": "shelves", "/v1/reconciliations?date=2026-03-02&shift=1": "lines"} {
		a := s.do(account.Stock, "GET", path, nil).want(http.StatusOK)
		if a.text("withheld", 0, "sheet") != open || a.text("withheld", 0, "location") != "cart-a" {
			t.Errorf("%s: withheld %v", path, a.at("withheld"))
		}
		if n := len(a.list(left)); n != 2 {
			t.Errorf("%s shows %d of the 2 that nobody counts", path, n)
		}
	}
	if a := s.do(account.Stock, "GET", "/v1/lots?product=DLZ", nil).want(http.StatusOK); a.at("lots", 0, "on_hand") != nil {
		t.Errorf("lots: %s", a.body)
	}
	a := s.do(account.Nurse, "POST", "/v1/wastes", m{"product": "DLZ", "lot": "D-1", "quantity": 5000, "from": "cart-a", "cause": "dropped"}).want(http.StatusCreated)
	if body := string(a.body); strings.Contains(body, "4711") || !strings.Contains(body, "below_zero") {
		t.Errorf("a finding: %s", body)
	}
	s.do(account.Stock, "POST", "/v1/corrections", m{"entry": a.number("lines", 0, "entry"), "reason": "a slip"}).want(http.StatusCreated)

	s.do(account.Stock, "POST", "/v1/count-sheets/"+open+"/lines", m{"lines": []m{{"product": "DLZ", "lot": "D-1", "pieces": 4711}}}).want(http.StatusCreated)
	if a := s.do(account.Stock, "POST", "/v1/count-sheets/"+open+"/finishes", m{}).want(http.StatusCreated); a.text("state") != "done" {
		t.Fatalf("finish: %s", a.body)
	}
	a = s.do(account.Stock, "GET", "/v1/balances?location=cart-a&product=DLZ", nil).want(http.StatusOK)
	if a.number("balances", 0, "quantity") != 4711 || len(a.list("withheld")) != 0 {
		t.Errorf("after the count: %s", a.body)
	}
}
