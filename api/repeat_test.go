package api_test

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// Every write that is sent again, unchanged and with its key, is answered with
// the same bytes, and writes nothing.
func TestEveryWriteSentAgain(t *testing.T) {
	s := newSite(t)
	s.twice = true
	s.furnish()
	walkGood(s)
	for path, item := range theDescription().doc.Paths.Map() {
		if op := item.Post; op != nil && !questions[path] && !s.repeated[op.OperationID] {
			t.Errorf("%s was not sent again", path)
		}
	}
}

// again sends a write a second time and compares. Tokens and users differ from
// the rest: a token's secret is shown once, and that a change of a user was
// repeated is not told.
func (s *site) again(req *http.Request, first *answer) {
	s.t.Helper()
	head := func() int64 {
		return s.plain(s.request(account.Stock, "GET", "/v1/head", nil)).number("seq")
	}
	before := head()
	a := s.plain(req)
	route, _, err := theDescription().router.FindRoute(req)
	if err != nil {
		s.t.Fatal(err)
	}
	s.repeated[route.Operation.OperationID] = true
	want := first.body
	path := req.URL.Path
	if path == "/v1/tokens" {
		if a.text("secret") != "" {
			s.t.Error("a token's secret was shown twice")
		}
		i := bytes.Index(want, []byte(`,"secret"`))
		want = append(append([]byte{}, want[:i]...), "}\n"...)
	}
	if a.status != first.status || !bytes.Equal(a.body, want) {
		s.t.Errorf("%s: sent again: status %d, then %d:\n%s\n%s", a.what, first.status, a.status, want, a.body)
	}
	told := a.header.Get("Idempotency-Replayed") == "true"
	if users := strings.HasPrefix(path, "/v1/users") || strings.HasSuffix(path, "/revocations"); told == users {
		s.t.Errorf("%s: sent again: Idempotency-Replayed %q", a.what, a.header.Get("Idempotency-Replayed"))
	}
	if first.header.Get("Idempotency-Replayed") != "" {
		s.t.Errorf("%s: the first answer says that it is a repetition", a.what)
	}
	if after := head(); after != before {
		s.t.Errorf("%s: sent again: the journal went from %d to %d", a.what, before, after)
	}
}

// The first answer comes again though the world has changed since: the product
// has another name, the lot is on hold, the treatment is closed.
func TestAnAnswerDoesNotChange(t *testing.T) {
	s := furnish(t)
	s.receive("DLZ", "D-4711", "2028-03-31", 10, "cart-a")
	id := s.opened("P1", "S1")
	body := m{"codes": label(gtinDialyzer, "280331", "D-4711")}
	first := s.scan(id, body, withKey("scan-1")).want(http.StatusCreated)
	if first.text("outcome") != "used" || first.text("taken_as", "product_name") != "Dialyzer 1.8" {
		t.Fatalf("first: %s", first.body)
	}
	s.do(account.Stock, "POST", "/v1/products", m{"products": []m{{"id": "DLZ", "name": "Renamed", "category": "dialyzer", "packs": []m{{"level": "each", "gtin": gtinDialyzer, "holds": 1}}}}}).want(http.StatusCreated)
	s.do(account.Quality, "POST", "/v1/holds", m{"product": "DLZ", "all_lots": true, "reason": "notice"}).want(http.StatusCreated)
	s.pass(3600e9)
	s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/closures", m{}).want(http.StatusCreated)
	again := s.scan(id, body, withKey("scan-1")).want(http.StatusCreated)
	if !bytes.Equal(first.body, again.body) || again.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("the answer changed:\n%s\n%s", first.body, again.body)
	}
}

func TestAKeyIsForOneRequest(t *testing.T) {
	s := furnish(t)
	move := func(n int) m {
		return m{"from": "room", "to": "cart-a", "lines": []m{{"product": "SAL", "lot": "S1", "quantity": n}}}
	}
	s.do(account.Stock, "POST", "/v1/moves", move(3), withKey("k")).want(http.StatusCreated)
	a := s.do(account.Stock, "POST", "/v1/moves", move(4), withKey("k")).problem(http.StatusConflict, "key_reused")
	if !strings.Contains(a.text("hint"), "new key") {
		t.Errorf("hint %q", a.text("hint"))
	}
	// Nor is it for the same thing at another time, or for another thing.
	other := move(3)
	other["at"] = "2026-03-02T05:00:00Z"
	s.do(account.Stock, "POST", "/v1/moves", other, withKey("k")).problem(http.StatusConflict, "key_reused")
	s.do(account.Stock, "POST", "/v1/locations", m{"id": "x", "name": "X", "kind": "cart"}, withKey("k")).problem(http.StatusConflict, "key_reused")
	// Another user's keys are others.
	s.do(account.Nurse, "POST", "/v1/moves", move(4), withKey("k")).want(http.StatusCreated)
	// A request that was refused has not used its key up.
	s.do(account.Stock, "POST", "/v1/moves", m{"from": "room", "to": "nowhere", "lines": []m{{"product": "SAL", "lot": "S1", "quantity": 1}}}, withKey("k2")).problem(http.StatusNotFound, "unknown_location")
	s.do(account.Stock, "POST", "/v1/moves", move(5), withKey("k2")).want(http.StatusCreated)
	if got := s.do(account.Stock, "GET", "/v1/balances?location=cart-a", nil).want(http.StatusOK).number("balances", 0, "quantity"); got != 12 {
		t.Errorf("cart-a has %d pieces, want 3 + 4 + 5", got)
	}
}

func TestKeysThatAreNone(t *testing.T) {
	s := furnish(t)
	body := m{"id": "x", "name": "X", "kind": "cart"}
	a := s.do(account.Stock, "POST", "/v1/locations", body, without("Idempotency-Key")).problem(http.StatusBadRequest, "key_missing")
	if a.text("field") != "Idempotency-Key" || !strings.Contains(a.text("hint"), "UUID") {
		t.Errorf("missing key: %s", a.body)
	}
	for _, key := range []string{strings.Repeat("k", 201), "a b", "k\xc3\xa4"} {
		s.do(account.Stock, "POST", "/v1/locations", body, withKey(key)).problem(http.StatusBadRequest, "key_invalid")
	}
	two := s.request(account.Stock, "POST", "/v1/locations", body)
	two.Header.Add("Idempotency-Key", "another")
	s.send(two).problem(http.StatusBadRequest, "key_invalid")
	s.do(account.Stock, "POST", "/v1/locations", body, withKey(strings.Repeat("k", 200))).want(http.StatusCreated)
}
