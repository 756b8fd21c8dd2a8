package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// started opens the first patient's treatment, for a client that shows where it
// is sent.
func started(t *testing.T) (s *site, c *client, path string) {
	t.Helper()
	s = newSite(t)
	c = newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	return s, c, "/setup/" + string(s.treatment().ID)
}

// sent posts a form and returns the page that it leads to.
func (c *client) sent(path string, form url.Values) answer {
	c.t.Helper()
	a := c.post(path, form)
	if a.status != http.StatusSeeOther {
		c.t.Fatalf("%v: %d\n%s", form, a.status, a.body)
	}
	return c.get(a.header.Get("Location"))
}

// without fails the test if a page says something.
func without(t *testing.T, what string, a answer, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(a.body, w) {
			t.Errorf("%s: the page says %q", what, w)
		}
	}
}

// hidden returns the value of a hidden field in the form that has a button.
func hidden(t *testing.T, a answer, button, field string) string {
	t.Helper()
	for _, form := range strings.Split(a.body, "<form")[1:] {
		form, _, _ = strings.Cut(form, "</form>")
		if !strings.Contains(form, ">"+button+"<") {
			continue
		}
		if _, rest, ok := strings.Cut(form, `name="`+field+`" value="`); ok {
			v, _, _ := strings.Cut(rest, `"`)
			return v
		}
	}
	t.Fatalf("no form with the button %q and a field %q:\n%s", button, field, a.body)
	return ""
}

// A treatment closed as not done says so everywhere, and is taken back on its
// own page, at any later time.
func TestNotDoneIsTakenBack(t *testing.T) {
	s, c, path := started(t)
	c.post(path, url.Values{"action": {"scan"}, "text": {scanDialyzer}})
	page := c.sent(path, url.Values{"action": {"not_done"}, "note": {"Patient did not come"}})
	c.says("closed", page, http.StatusOK, "Closed as not done", "Undo: Closed by mistake")
	page = c.get(path) // later, by another way
	c.says("not done", page, http.StatusOK, "Did not take place", "Patient did not come", "Nelvia Testwell", "recorded as wasted", "Open it again")
	without(t, "not done", page, "after 0 min", "Nothing is missing", "0 of 0", "Scan a pack")
	list := c.get("/setup")
	c.says("list", list, http.StatusOK, "Did not take place")
	without(t, "list", list, "All recorded")
	page = c.sent(path, url.Values{"action": {"strike"}, "entry": {hidden(t, page, "Open it again", "entry")}, "reason": {"closed by mistake"}})
	c.says("open again", page, http.StatusOK, "The treatment is open again", "used again", "D-4711")
	if tr := s.treatment(); tr.Closed || tr.NotDone || !slices.ContainsFunc(tr.Uses, func(u trace.Use) bool { return u.Lot == "D-4711" && u.Struck == 0 }) {
		t.Errorf("%+v", tr)
	}
}

// Closing as not done takes a reason and then a button of its own, without any
// script: no one touch on a reason sends it. What becomes of the packs stands
// beside the button.
func TestNotDoneTakesTwoSteps(t *testing.T) {
	s, c, path := started(t)
	form := func() string {
		t.Helper()
		_, f, ok := strings.Cut(c.get(path).body, `<input type="hidden" name="action" value="not_done">`)
		f, _, _ = strings.Cut(f, "</form>")
		if !ok {
			t.Fatal("there is no form to close it as not done")
		}
		return f
	}
	f := form()
	if n := strings.Count(f, "<button"); n != 1 || !strings.Contains(f, ">Close as not done</button>") {
		t.Errorf("%d buttons, want one:\n%s", n, f)
	}
	if !strings.Contains(f, `<input type="radio" name="note" value="Patient did not come">`) || strings.Contains(f, "checked") {
		t.Errorf("a reason is to be chosen, and none is chosen before:\n%s", f)
	}
	if !strings.Contains(f, "Nothing is recorded as used") {
		t.Errorf("it is not said what closing does:\n%s", f)
	}
	c.post(path, url.Values{"action": {"scan"}, "text": {scanDialyzer}})
	if f := form(); !strings.Contains(f, "The piece recorded in it becomes wasted") {
		t.Errorf("it is not said what becomes of the pack:\n%s", f)
	}
	before := s.entries()
	c.says("no reason", c.post(path, url.Values{"action": {"not_done"}}), http.StatusUnprocessableEntity, "needs a reason")
	if s.entries() != before {
		t.Error("something was written without a reason")
	}
	c.says("the reason chosen", c.sent(path, url.Values{"action": {"not_done"}, "note": {"Patient did not come"}, "note_typed": {""}}), http.StatusOK, "Closed as not done", "Patient did not come")
}

// A wrong length is put right on the closed page; the end stays when it was.
func TestLengthIsPutRight(t *testing.T) {
	s, c, path := started(t)
	id := s.treatment().ID
	s.pass(20 * time.Minute)
	c.sent(path, url.Values{"action": {"close"}, "minutes": {"24"}})
	end := s.clock()
	s.pass(5 * time.Minute)
	page := c.get(path)
	c.says("closed", page, http.StatusOK, "after 24 min", "Put the length right")
	entry := hidden(t, page, "Put the length right", "entry")
	c.says("no length", c.post(path, url.Values{"action": {"reclose"}, "key": {"k0"}, "entry": {entry}, "minutes": {"0"}}), http.StatusUnprocessableEntity, "length")
	form := url.Values{"action": {"reclose"}, "key": {"k1"}, "entry": {entry}, "minutes": {"240"}}
	c.says("put right", c.sent(path, form), http.StatusOK, "Closed after 240 min")
	before := s.entries()
	c.sent(path, form) // sent twice, recorded once
	if s.entries() != before {
		t.Error("it was recorded twice")
	}
	err := s.View(ctx, func(r inventory.Reader) error {
		tr, err := trace.TreatmentByID(r, id)
		if err == nil && (!tr.Closed || tr.Minutes != 240 || !tr.End.Equal(end)) {
			t.Errorf("%+v, want it to end at %s", tr, end)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	// What is found out later is added, and that is said.
	c.says("added", c.sent(path, url.Values{"action": {"scan"}, "text": {scanSaline}}), http.StatusOK, "Taken as saline", "was closed before", "Add a pack after closing")
}

// What was used in spite of a stop stays red.
func TestUsedAllTheSameStaysRed(t *testing.T) {
	s, c, path := started(t)
	page := c.sent(path, url.Values{"action": {"scan"}, "text": {"]d201" + gtinAcid3K + "1727063010A-901"}})
	c.says("stopped", page, http.StatusOK, "Not as prescribed")
	stopped := itoa(s.treatment().Stopped[0].Entry)
	page = c.sent(path, url.Values{"action": {"answer"}, "used": {"1"}, "stopped": {stopped}, "reason": {"Prescriber agreed"}})
	c.says("used all the same", page, http.StatusOK, `class="need stop"`, "Used all the same")
	// A second nurse who answers is told that it was answered.
	c.says("answered twice", c.post(path, url.Values{"action": {"answer"}, "stopped": {stopped}}), http.StatusConflict, "Nelvia Testwell", "answered")
}

// A pack that is set aside is named, and one that was typed was not scanned.
func TestSetAsideIsNamed(t *testing.T) {
	s, c, path := started(t)
	page := c.sent(path, url.Values{"action": {"scan"}, "product": {"DLZ"}, "lot": {"D-385"}, "expires": {"2026-10-31"}})
	c.says("stopped", page, http.StatusOK, "Typed at 10:00 by Nelvia Testwell", "Expired")
	without(t, "stopped", page, "strike it out", "strike this out", "Scanned at")
	page = c.sent(path, url.Values{"action": {"answer"}, "stopped": {itoa(s.treatment().Stopped[0].Entry)}})
	c.says("set aside", page, http.StatusOK, "Set aside, not used", "Dialyzer 1.8 m²", "D-385")
	s.pass(10 * time.Minute)
	c.sent(path, url.Values{"action": {"scan"}, "text": {scanSaline}})
	c.says("later", c.get(path), http.StatusOK, "Set aside, not used (1)", "D-385", "Expired · set aside at 10:00 by Nelvia Testwell")
}

// What could not be read is shown as it was read.
func TestWhatWasReadIsShown(t *testing.T) {
	_, c, path := started(t)
	// HIBC (ANSI/HIBC 2.6) with a check character that is wrong; the labeller
	// is that of the standard's examples, from memory.
	for _, text := range []string{"+A99912345/$$52001510X3X", "hello there"} {
		c.says(text, c.post(path, url.Values{"action": {"scan"}, "text": {text}}), http.StatusUnprocessableEntity, "Not recorded", "Read was:", strings.ReplaceAll(text, "+", "&#43;"))
	}
}

// A patient who has a treatment open is found there, and another is opened only
// if somebody says so.
func TestAlreadyOpen(t *testing.T) {
	s, c, path := started(t)
	form := url.Values{"patient": {"P1"}, "station": {"S2"}}
	page := c.post("/setup", form)
	c.says("already open", page, http.StatusConflict, "Imagino Fabelmann has a treatment open already", "At Station 1 since 10:00, opened by Nelvia Testwell", path)
	if got := hidden(t, page, "Open another all the same", "station"); got != "S2" {
		t.Errorf("another one at %q", got)
	}
	before := s.entries()
	form.Set("another", "1")
	c.says("another", c.sent("/setup", form), http.StatusOK, "Station 2")
	if s.entries() != before+1 {
		t.Error("nothing was opened")
	}
}

// Stations stand in the order of their numbers.
func TestStationsInOrder(t *testing.T) {
	s := newSite(t)
	for _, n := range []string{"10", "9"} {
		s.ok(s.SetStation(ctx, by("administrator"), trace.Station{ID: trace.StationID("X" + n), Name: "Station " + n, Location: "cart-a", Machine: "M1"}))
	}
	page := newClient(t, s, "nurse").get("/setup").body
	var at []int
	for _, n := range []string{"1", "2", "9", "10"} {
		at = append(at, strings.Index(page, ">Station "+n+"</option>"))
	}
	if at[0] < 0 || !slices.IsSorted(at) {
		t.Errorf("the stations stand at %v", at)
	}
}

// After a session has ended, the way leads back to the treatment.
func TestBackAfterSignIn(t *testing.T) {
	s, c, path := started(t)
	s.pass(2 * time.Hour)
	a := c.post(path, url.Values{"action": {"close"}})
	if to := a.header.Get("Location"); to != "/sign-in?"+(url.Values{"lost": {"1"}, "next": {path}}).Encode() {
		t.Errorf("sent to %q", to)
	}
}

// A code without separators finds the lot that is on record, as at setup.
func TestLotsLookForTheLotOnRecord(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "quality")
	s.ok(s.Receive(ctx, by("stock"), inventory.Received{Stock: inventory.Stock{Product: "DLZ", Lot: "D4711", Expires: "2028-03-31", Quantity: 2}, To: "cart-a"}))
	a := c.get("/lots?" + url.Values{"code": {"01" + gtinDialyzer + "10D4711" + "17280331" + "21" + "55123"}}.Encode())
	if to := a.header.Get("Location"); !strings.Contains(to, "lot=D4711&") {
		t.Errorf("%d to %q\n%s", a.status, to, a.body)
	}
}

// The answer names who recorded a use, as people are called.
func TestLotsNamePeople(t *testing.T) {
	s := newSite(t)
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	s.ok(s.Scan(ctx, by("nurse"), trace.Scan{Treatment: s.treatment().ID, Stock: inventory.Stock{Product: "DLZ", Lot: "D-4711"}}))
	newClient(t, s, "quality").says("lot", newClient(t, s, "quality").get("/lots?product=DLZ&lot=D-4711"), http.StatusOK, "typed by Nelvia Testwell")
}
