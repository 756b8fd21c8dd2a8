package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

func TestSignIn(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "")
	a := c.get("/setup?date=2026-11-25")
	if a.status != http.StatusSeeOther || a.header.Get("Location") != "/sign-in?next=%2Fsetup%3Fdate%3D2026-11-25" {
		t.Errorf("not signed in: %d to %q", a.status, a.header.Get("Location"))
	}
	// What was sent without being signed in was not recorded, and that is said.
	before := s.entries()
	a = c.post("/setup", url.Values{"patient": {"P1"}, "station": {"S1"}})
	if a.status != http.StatusSeeOther || a.header.Get("Location") != "/sign-in?lost=1&next=%2Fsetup" {
		t.Errorf("sent without being signed in: %d to %q", a.status, a.header.Get("Location"))
	}
	c.says("lost", c.get("/sign-in?lost=1"), http.StatusOK, "What you sent last was not recorded")
	c.says("wrong password", c.post("/sign-in", url.Values{"user": {"nurse"}, "password": {"three dry umbrellas"}}), http.StatusUnprocessableEntity, "Not signed in", `value="nurse"`)
	if s.entries() != before {
		t.Errorf("%d entries were written", s.entries()-before)
	}
	// A link to somewhere else is not followed.
	a = c.post("/sign-in", url.Values{"user": {"nurse"}, "password": {password}, "next": {"https://example.org/"}})
	if a.header.Get("Location") != "/" {
		t.Errorf("after signing in the way led to %q", a.header.Get("Location"))
	}
	c.says("home", c.get("/"), http.StatusOK, "Nelvia Testwell", "Who received a lot")
	c.post("/sign-out", nil)
	if a := c.get("/"); a.status != http.StatusSeeOther {
		t.Errorf("signed out: %d", a.status)
	}
}

// Each role sees the way to its own pages and to no others.
func TestRoles(t *testing.T) {
	s := newSite(t)
	for role, may := range map[string][]string{
		"nurse":         {"/setup", "/lots", "/problems", "/reconciliation"},
		"stock":         {"/reconciliation"},
		"quality":       {"/setup", "/lots", "/problems", "/reconciliation"},
		"administrator": {},
	} {
		c := newClient(t, s, role)
		home := c.get("/")
		for _, path := range []string{"/setup", "/lots", "/problems", "/reconciliation"} {
			allowed := slices.Contains(may, path)
			if got := strings.Contains(home.body, `href="`+path+`"`); got != allowed {
				t.Errorf("%s: a link to %s: %t", role, path, got)
			}
			a := c.get(path)
			if allowed && a.status != http.StatusOK {
				t.Errorf("%s: %s gives %d", role, path, a.status)
			}
			if !allowed {
				c.says(role+" at "+path, a, http.StatusForbidden, "Not for this role", "This page is for the role", "What to do")
			}
		}
	}
	// A quality officer looks at a treatment, and has no forms to write with.
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	c := newClient(t, s, "quality")
	a := c.get(path)
	if a.status != http.StatusOK || strings.Contains(a.body, `name="action"`) {
		t.Errorf("a quality officer gets %d and forms: %t", a.status, strings.Contains(a.body, `name="action"`))
	}
	c.says("a quality officer writing", c.post(path, url.Values{"action": {"scan"}}), http.StatusForbidden, "for the role nurse")
	c.says("an administrator's home", newClient(t, s, "administrator").get("/"), http.StatusOK, "lotbook user")
}

func TestErrorPages(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	c.says("no such page", c.get("/nowhere"), http.StatusNotFound, "There is no page at this address", "What to do")
	c.says("no such treatment", c.get("/setup/T999"), http.StatusNotFound, "There is no treatment", "What to do")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	c.says("an entry of something else", c.post(path, url.Values{"action": {"strike"}, "entry": {"1"}, "reason": {"x"}}), http.StatusUnprocessableEntity, "not one of this treatment")
	c.says("no such form", c.post(path, url.Values{"action": {"dance"}}), http.StatusUnprocessableEntity, "There is no form")
	c.says("nothing scanned", c.post(path, url.Values{"action": {"scan"}, "text": {" "}}), http.StatusUnprocessableEntity, "Nothing was scanned")
	c.says("pieces that are none", c.post(path, url.Values{"action": {"scan"}, "quantity": {"two"}, "product": {"SAL"}, "lot": {"S-100"}}), http.StatusUnprocessableEntity, "is not a number")
	c.says("a time that is none", c.post(path, url.Values{"action": {"close"}, "at": {"25:70"}}), http.StatusUnprocessableEntity, "is not a time of day")
	c.says("no reason", c.post(path, url.Values{"action": {"not_done"}}), http.StatusUnprocessableEntity, "needs a reason")
	c.says("no such shift", c.get("/reconciliation?shift=9"), http.StatusNotFound, "There is no shift")
	c.says("no such day", c.get("/setup?date=tomorrow"), http.StatusUnprocessableEntity, "Give the date as 2027-03-31")
	c.says("no such product", c.get("/lots?product=NONE&lot=1"), http.StatusUnprocessableEntity, "There is no product", "Give a GTIN")
}

// A form that is sent twice, or a page that is loaded again, records once; the
// same key for something else is refused.
func TestSentTwice(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	open := url.Values{"key": {c.pageKeys("/setup")[0]}, "patient": {"P1"}, "station": {"S1"}}
	first := c.post("/setup", open)
	second := c.post("/setup", open)
	if first.status != http.StatusSeeOther || first.header.Get("Location") != second.header.Get("Location") {
		t.Errorf("opened twice: %d %q and %d %q", first.status, first.header.Get("Location"), second.status, second.header.Get("Location"))
	}
	path := first.header.Get("Location")
	keys := c.pageKeys(path)
	sorted := slices.Clone(keys)
	slices.Sort(sorted)
	if len(keys) < 5 || len(slices.Compact(sorted)) != len(keys) {
		t.Fatalf("keys of the forms: %q; want each form with a key of its own", keys)
	}
	scan := url.Values{"action": {"scan"}, "key": {keys[0]}, "text": {"]d201" + gtinDialyzer + "1728033110D-4711"}}
	a, b := c.post(path, scan), c.post(path, scan)
	if a.status != http.StatusSeeOther || a.header.Get("Location") != b.header.Get("Location") {
		t.Errorf("scanned twice: %d %q and %d %q", a.status, a.header.Get("Location"), b.status, b.header.Get("Location"))
	}
	if n := len(s.treatment().Uses); n != 1 {
		t.Errorf("%d uses", n)
	}
	scan.Set("text", "]d201"+gtinDialyzer+"1728033110D-4712")
	c.says("another scan under the same key", c.post(path, scan), http.StatusConflict, "Sent before")
	if n := len(s.treatment().Uses); n != 1 {
		t.Errorf("%d uses", n)
	}
	// Recording again with another number of pieces is two entries, once each.
	again := url.Values{"action": {"again"}, "key": {keys[1]}, "entry": {itoa(s.treatment().Uses[0].Entry)}, "quantity": {"2"}}
	a, b = c.post(path, again), c.post(path, again)
	uses := s.treatment().Uses
	if a.header.Get("Location") != b.header.Get("Location") || len(uses) != 2 || uses[0].Struck == 0 || uses[1].Quantity != 2 || uses[1].Lot != "D-4711" {
		t.Errorf("recorded again: %q, %q, %+v", a.header.Get("Location"), b.header.Get("Location"), uses)
	}
}

func (c *client) pageKeys(path string) []string {
	c.t.Helper()
	a := c.get(path)
	if a.status != http.StatusOK {
		c.t.Fatalf("%s: %d\n%s", path, a.status, a.body)
	}
	return a.keys()
}

// A code that waits for its lot is not lost when another pack is scanned first.
func TestUnfinishedScanStays(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	a := c.post(path, url.Values{"action": {"scan"}, "text": {"]C101" + gtinBloodline}})
	ask := a.header.Get("Location")
	c.says("asked", c.get(ask), http.StatusOK, "Which lot?", "Bloodline set")
	a = c.post(path, url.Values{"action": {"scan"}, "line": {"t]C101" + gtinBloodline}, "text": {"]d201" + gtinDialyzer + "1728033110D-4711"}})
	page := c.get(a.header.Get("Location"))
	c.says("another pack scanned", page, http.StatusOK, "Taken as dialyzer", "D-4711", "Which lot?", "Bloodline set")
	// What can't be read leaves the question where it was.
	a = c.post(path, url.Values{"action": {"scan"}, "line": {"t]C101" + gtinBloodline}, "text": {"hello"}})
	c.says("no code", a, http.StatusUnprocessableEntity, "Not recorded", "Which lot?")
	// A second pack without a lot takes the question over, and that is said.
	a = c.post(path, url.Values{"action": {"scan"}, "line": {"t]C101" + gtinBloodline}, "text": {"]C101" + gtinSaline}})
	c.says("two packs without a lot", c.get(a.header.Get("Location")), http.StatusOK, "Which lot?", "Saline", "was not recorded")
	// Loading it again asks again, and records nothing.
	before := s.entries()
	c.get(ask)
	if s.entries() != before {
		t.Error("a page that was loaded wrote something")
	}
	// Typed, by month: the last day of it.
	a = c.post(path, url.Values{"action": {"scan"}, "line": {"t]C101" + gtinBloodline}, "lot": {"B-77"}, "expires": {"2028-02"}})
	c.says("lot typed", c.get(a.header.Get("Location")), http.StatusOK, "Taken as bloodline set", "B-77", "expires 2028-02-29", "typed")
}

// A product that the catalogue does not know is recorded, and can be said to be
// one of what is needed.
func TestUnknownProduct(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	a := c.post(path, url.Values{"action": {"scan"}, "text": {"(01)" + gtinUnknown + "(17)280331(10)U-1"}})
	page := c.get(a.header.Get("Location"))
	c.says("unknown", page, http.StatusOK, "Not in the catalogue", "U-1", "What is it used as?")
	a = c.post(path, url.Values{"action": {"again"}, "key": {page.keys()[0]}, "entry": {itoa(s.treatment().Uses[0].Entry)}, "category": {"saline"}})
	c.says("assigned", c.get(a.header.Get("Location")), http.StatusOK, "Taken as saline")
	uses := s.treatment().Uses
	if len(uses) != 2 || uses[0].Struck == 0 || uses[1].Category != inventory.Saline || !uses[0].From.Equal(uses[1].From) {
		t.Errorf("%+v", uses)
	}
}

// A time of day is the first one after the start: a treatment goes on past
// midnight.
func TestTimeAfterMidnight(t *testing.T) {
	s := newSite(t)
	s.pass(13*time.Hour + 40*time.Minute) // 23:40
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	s.pass(2 * time.Hour)
	c := newClient(t, s, "nurse")
	scan := url.Values{"action": {"scan"}, "product": {"DLZ"}, "lot": {"D-4711"}}
	c.post(path, scan)
	scan.Set("lot", "D-4712")
	scan.Set("replaces", itoa(s.treatment().Uses[0].Entry))
	scan.Set("cause", "Clotted")
	for text, want := range map[string]time.Time{
		"0:20": time.Date(2026, 11, 26, 0, 20, 0, 0, time.UTC),
		"2350": time.Date(2026, 11, 25, 23, 50, 0, 0, time.UTC),
	} {
		scan.Set("at", text)
		a := c.post(path, scan)
		uses := s.treatment().Uses
		if last := uses[len(uses)-1]; a.status != http.StatusSeeOther || !last.From.Equal(want) {
			t.Errorf("replaced at %q: %d, from %s, want %s", text, a.status, last.From, want)
		}
		c.post(path, url.Values{"action": {"strike"}, "entry": {itoa(uses[len(uses)-1].Entry)}, "reason": {"again"}})
	}
	// 23:30 would lie in the future, and is refused.
	scan.Set("at", "23:30")
	c.says("a time to come", c.post(path, scan), http.StatusUnprocessableEntity, "lies in the future")
}

// What stands in a lot number can't become markup.
func TestTextStaysText(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	a := c.post(path, url.Values{"action": {"scan"}, "product": {"SAL"}, "lot": {`<b>"1"</b>`}})
	page := c.get(a.header.Get("Location"))
	if strings.Contains(page.body, "<b>\"1\"") || !strings.Contains(page.body, "&lt;b&gt;") {
		t.Error("a lot number became markup")
	}
}

var assetURL = regexp.MustCompile(`(?:href|src)="(/assets/[^"]+)"`)

// Assets may be kept for ever, pages never; nothing inline is in a page.
func TestHeaders(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	page := c.get("/setup")
	csp := page.header.Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "form-action 'self'", "frame-ancestors 'none'"} {
		if !strings.Contains(csp, want) {
			t.Errorf("the policy %q lacks %q", csp, want)
		}
	}
	if strings.Contains(csp, "unsafe") || page.header.Get("Cache-Control") != "no-store" {
		t.Errorf("policy %q, Cache-Control %q", csp, page.header.Get("Cache-Control"))
	}
	if regexp.MustCompile(`(?i)<style|\sstyle=|\son[a-z]+=|<script(?:>|[^>]*>[^<])`).MatchString(page.body) {
		t.Error("there is something inline in the page")
	}
	found := 0
	for _, m := range assetURL.FindAllStringSubmatch(page.body, -1) {
		a := c.get(m[1])
		if a.status != http.StatusOK || !strings.Contains(a.header.Get("Cache-Control"), "immutable") || len(a.body) == 0 {
			t.Errorf("%s: %d, Cache-Control %q, %d bytes", m[1], a.status, a.header.Get("Cache-Control"), len(a.body))
		}
		found++
	}
	if found < 3 {
		t.Errorf("%d assets in the page", found)
	}
	if a := c.get("/assets/app.000000000000.css"); a.status != http.StatusNotFound {
		t.Errorf("an asset with another sum: %d", a.status)
	}
}

func itoa(n uint64) string { return strconv.FormatUint(n, 10) }
