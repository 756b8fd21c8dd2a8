package api_test

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api"
	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/inventory/account"
)

func TestBodiesThatAreNone(t *testing.T) {
	s := furnish(t)
	for _, c := range []struct {
		name, body string
		status     int
		code       string
		field      string
	}{
		{"empty", "", 400, "malformed", ""},
		{"broken off", `{"id": "x"`, 400, "malformed", ""},
		{"not JSON", `id=x`, 400, "malformed", ""},
		{"two values", `{"id":"x","name":"X","kind":"cart"} {}`, 400, "malformed", ""},
		{"rubbish behind", `{"id":"x","name":"X","kind":"cart"}]`, 400, "malformed", ""},
		{"another type", `{"id":7,"name":"X","kind":"cart"}`, 400, "wrong_type", "id"},
		{"another type, in a line", `{"id":"x","lines":[{"quantity":"3"}]}`, 400, "unknown_member", "lines"},
		{"a list", `[]`, 400, "wrong_type", ""},
		{"unknown member", `{"id":"x","name":"X","knid":"cart"}`, 400, "unknown_member", "knid"},
		{"given twice", `{"id":"x","name":"X","name":"Y","kind":"cart"}`, 400, "repeated_member", "name"},
		{"null", `{"id":"x","name":null,"kind":"cart"}`, 400, "wrong_type", "name"},
		{"another case", `{"id":"x","Name":"X","kind":"cart"}`, 400, "unknown_member", "Name"},
		{"too deep", strings.Repeat("[", 100000), 400, "malformed", ""},
		{"no time", `{"id":"x","name":"X","kind":"cart","at":"yesterday"}`, 400, "malformed", ""},
		{"no year", `{"id":"x","name":"X","kind":"cart","at":"0001-01-01T00:00:00Z"}`, 400, "wrong_type", "at"},
		{"too large", `{"id":"` + strings.Repeat("x", 1<<20) + `"}`, 413, "too_large", ""},
	} {
		a := s.do(account.Stock, "POST", "/v1/locations", c.body)
		if a.status != c.status || a.text("code") != c.code || a.text("field") != c.field {
			t.Errorf("%s: status %d: %s", c.name, a.status, a.body)
			continue
		}
		a.problem(c.status, c.code)
	}
	for body, says := range map[string]string{
		"": "has no body", " \n": "has no body",
		`{"to":`: "ends too early, after 6 bytes", `{"to"`: "ends too early", `{"to":"ro`: "ends too early", `{"lines":[`: "ends too early", `{`: "ends too early",
	} {
		a := s.do(account.Stock, "POST", "/v1/receipts", body).problem(400, "malformed")
		if !strings.Contains(a.text("detail"), says) {
			t.Errorf("%q: it is said %q, want %q", body, a.text("detail"), says)
		}
	}
	s.do(account.Stock, "POST", "/v1/receipts", `{"to":"room","lines":[{"product":"SAL","quantity":"3"}]}`).problem(400, "wrong_type").field("lines.quantity")
	s.do(account.Nurse, "POST", "/v1/patients", `{"id":"P7","name":"x","prescription":{"minutes":1.5}}`).problem(400, "wrong_type").field("prescription.minutes")
	s.do(account.Stock, "POST", "/v1/receipts", `{"to":"room","lines":[{"product":"SAL","quantyti":3}]}`).problem(400, "unknown_member").field("lines.quantyti")
	good := []byte(`{"id":"x","name":"X","kind":"cart"}`)
	for _, mediaType := range []string{"", "text/plain", "application/x-www-form-urlencoded", "application/json; charset=latin1", "application/problem+json"} {
		s.do(account.Stock, "POST", "/v1/locations", raw{mediaType, good}).problem(415, "media_type")
	}
	s.do(account.Stock, "POST", "/v1/locations", raw{"application/json; charset=UTF-8", good}).want(201)
}

// What is sent as a lot is recorded to the character, or not at all. RFC 8259,
// section 8.1: JSON is UTF-8. RFC 7493, section 2.1: no lone surrogates in it.
// The pair of surrogates is the example of RFC 8259, section 7.
func TestCharactersAreKept(t *testing.T) {
	s := furnish(t)
	receipt := func(lot string) string {
		return `{"to":"room","lines":[{"product":"SAL","lot":"` + lot + `","expires":"2028-03-31","quantity":1}]}`
	}
	before := s.do(account.Stock, "GET", "/v1/head", nil).number("seq")
	for name, lot := range map[string]string{
		"Latin-1": "S-\xe9", "half a sequence": "S-\xc3", "overlong": "S-\xc0\xaf", "a surrogate as UTF-8": "S-\xed\xa0\x80",
		"the first half alone": `S-\ud834`, "the second half alone": `S-\udd1e`, "two first halves": `S-\ud834\ud834`,
		"the wrong way round": `S-\udd1e\ud834`, "after a backslash": `S-\\\ud834`,
	} {
		a := s.do(account.Stock, "POST", "/v1/receipts", receipt(lot)).problem(400, "malformed")
		if a.text("hint") == "" {
			t.Errorf("%s: it is not said what to do", name)
		}
	}
	if got := s.do(account.Stock, "GET", "/v1/head", nil).number("seq"); got != before {
		t.Errorf("%d entries were written", got-before)
	}
	for sent, want := range map[string]string{`S-\ud834\udd1e`: "S-\U0001d11e", "S-é": "S-é", `S-\u00e9-2`: "S-é-2", `S-\\ud834`: `S-\ud834`, "S-\ufffd": "S-\ufffd"} {
		s.do(account.Stock, "POST", "/v1/receipts", receipt(sent)).want(201)
		if lots := s.do(account.Stock, "GET", "/v1/lots?product=SAL", nil).want(200).texts("lot", "lots"); !slices.Contains(lots, want) {
			t.Errorf("sent %q, and on record are %q", sent, lots)
		}
	}
}

func TestAddressesThatAreNone(t *testing.T) {
	s := newSite(t)
	s.do(account.Stock, "GET", "/v1/nothing", nil).problem(404, "no_route")
	s.do("", "GET", "/v1/nothing", nil).problem(404, "no_route")
	s.do(account.Stock, "GET", "/v1/products/", nil).problem(404, "no_route")
	a := s.do(account.Stock, "DELETE", "/v1/products", nil).problem(405, "method_not_allowed")
	if allow := a.header.Get("Allow"); !strings.Contains(allow, "GET") || !strings.Contains(allow, "POST") {
		t.Errorf("Allow %q", allow)
	}
	s.do(account.Stock, "GET", "/v1/products", nil, withHeader("Authorization", "Bearer wrong")).problem(401, "bad_token")
	s.do(account.Stock, "POST", "/v1/locations", m{}, withHeader("Sec-Fetch-Site", "cross-site")).problem(403, "cross_origin")
}

// An id in an address may hold any character.
func TestIDsInAddresses(t *testing.T) {
	s := newSite(t)
	for i, c := range []struct{ id, path string }{{"A/B", "A%2FB"}, {"a+b c", "a+b%20c"}, {"50%", "50%25"}, {"Ä?", "%C3%84%3F"}} {
		s.do(account.Stock, "POST", "/v1/products", m{"products": []m{{"id": c.id, "name": fmt.Sprintf("Product %d", i), "category": "other"}}}).want(201)
		if got := s.do(account.Stock, "GET", "/v1/products/"+c.path, nil).want(200).text("id"); got != c.id {
			t.Errorf("%s: got %q, want %q", c.path, got, c.id)
		}
	}
}

// The lines that are refused are all told, by their numbers.
func TestRefusedLinesAreTold(t *testing.T) {
	s := furnish(t)
	a := s.do(account.Stock, "POST", "/v1/receipts", m{"to": "room", "lines": []m{
		{"product": "DLZ", "lot": "D-1", "quantity": 1}, {"product": "NONE", "quantity": 1}, {"product": "SAL", "quantity": -1}, {"gtin": "123"},
	}})
	if a.status != 404 || len(a.list("errors")) != 3 || a.number("errors", 0, "line") != 2 || a.text("errors", 0, "code") != "unknown_product" ||
		a.number("errors", 2, "line") != 4 || a.text("errors", 2, "field") != "gtin" {
		t.Errorf("status %d: %s", a.status, a.body)
	}
	if got := s.do(account.Stock, "GET", "/v1/balances?location=room", nil).want(200); len(got.list("balances")) != 0 {
		t.Errorf("something was written: %s", got.body)
	}
}

// brokenPages has a page that panics with what nobody may be told.
type brokenPages struct{}

func (brokenPages) Register(r gin.IRouter) {
	r.GET("/sign-in", func(*gin.Context) { panic("the secret is 4711") })
	r.GET("/", func(c *gin.Context) {
		c.Status(http.StatusOK)
		_, _ = c.Writer.WriteString("half a page")
		panic("later")
	})
}

func (brokenPages) Fail(c *gin.Context, p problem.Problem) { _ = p.Write(c.Writer) }

func TestPanicsAndTheLog(t *testing.T) {
	s := newSite(t, func(d *api.Deps) {
		d.Pages = func(*auth.Auth) (api.Pages, error) { return brokenPages{}, nil }
	})
	a := s.do("", "GET", "/sign-in", nil).problem(500, "internal")
	if bytes.Contains(a.body, []byte("4711")) || bytes.Contains(a.body, []byte("panic")) {
		t.Errorf("the client is told %s", a.body)
	}
	log := s.log.String()
	if !strings.Contains(log, "the secret is 4711") || !strings.Contains(log, a.text("request_id")) || !strings.Contains(log, `"status":500`) {
		t.Errorf("the log has\n%s", log)
	}
	// An answer that had begun is broken off and does not look whole.
	_, err := s.server.Client().Do(s.request(account.Nurse, "GET", "/", nil))
	if err == nil {
		t.Error("half a page arrived as if it were whole")
	}
}

// The log names neither patients nor lots nor secrets, whatever the address or
// the body had.
func TestTheLogTellsNoSecrets(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	s.scan(id, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(201)
	s.do(account.Nurse, "GET", "/v1/treatments?patient=P1", nil).want(200)
	s.do(account.Nurse, "POST", "/v1/patients/P1/prescriptions", prescription()).want(201)
	s.do(account.Quality, "GET", "/v1/exposures?product=DLZ&lot=D-4711", nil).want(200)
	s.do(account.Administrator, "POST", "/v1/users", m{"id": "bea", "name": "Bea", "role": "nurse", "password": "five odd umbrellas"}).want(201)
	s.do(account.Nurse, "GET", "/v1/treatments?patient=P99", nil).want(404)
	log := s.log.String()
	for _, secret := range []string{"Invented P1", `P1`, "P99", "D-4711", "umbrellas", s.tokens[account.Nurse]} {
		if strings.Contains(log, secret) {
			t.Errorf("the log has %q", secret)
		}
	}
	for _, want := range []string{`"route":"/v1/treatments/:id/scans"`, `"user":"nurse"`, `"status":201`} {
		if !strings.Contains(log, want) {
			t.Errorf("the log does not have %s", want)
		}
	}
}

func TestHeaders(t *testing.T) {
	s := newSite(t)
	for path, policy := range map[string]string{
		"/v1/head": "default-src 'none'; frame-ancestors 'none'", "/sign-in": "script-src 'self'; style-src 'self'; ", "/health": "default-src 'none'",
	} {
		a := s.do(account.Nurse, "GET", path, nil).want(200)
		csp := a.header.Get("Content-Security-Policy")
		if !strings.Contains(csp, policy) || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: Content-Security-Policy %q", path, csp)
		}
		for name, want := range map[string]string{
			"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
			"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
		} {
			if got := a.header.Get(name); got != want {
				t.Errorf("%s: %s %q, want %q", path, name, got, want)
			}
		}
		// Pages tell their own site where a link was.
		if got := a.header.Get("Referrer-Policy"); got != "no-referrer" && (got != "same-origin" || path != "/sign-in") {
			t.Errorf("%s: Referrer-Policy %q", path, got)
		}
		if len(a.header.Get("X-Request-Id")) != 16 {
			t.Errorf("%s: X-Request-Id %q", path, a.header.Get("X-Request-Id"))
		}
	}
	if got := s.do(account.Nurse, "GET", "/v1/head", nil).header.Get("Cache-Control"); got != "no-store" {
		t.Errorf("Cache-Control %q", got)
	}
	a := s.do("", "GET", "/health", nil, withHeader("X-Request-Id", "mine")).want(200)
	if a.text("status") != "ok" || a.text("version") != "0.0-test" || len(a.at().(m)) != 2 {
		t.Errorf("health: %s", a.body)
	}
	if a.header.Get("X-Request-Id") == "mine" {
		t.Error("a client's own request id was taken")
	}
}

// A request that takes too long ends with words on what to do.
func TestTimeIsLimited(t *testing.T) {
	s := newSite(t, func(d *api.Deps) {
		d.Limits = api.DefaultLimits()
		d.Limits.Time = time.Nanosecond
	})
	a := s.do(account.Stock, "GET", "/v1/balances", nil).problem(503, "timeout")
	if a.header.Get("Retry-After") == "" {
		t.Error("it is not said when to try again")
	}
}

func TestDepsThatAreMissing(t *testing.T) {
	if _, err := api.New(api.Deps{}); err == nil {
		t.Error("a service without a book")
	}
	s := newSite(t)
	broken := errors.New("no templates")
	_, err := api.New(api.Deps{Book: s.book, Accounts: s.accounts, TempDir: t.TempDir(), Pages: func(*auth.Auth) (api.Pages, error) { return nil, broken }})
	if !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
}
