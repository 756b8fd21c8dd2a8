package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"lotbook/trace"
)

// Texts that scanners send: GS1 element strings with the symbology identifiers
// of the GS1 General Specifications, sections 3 and 5.10; the products are
// invented.
const (
	scanDialyzer  = "]d201" + gtinDialyzer + "1728033110D-4711"
	scanDialyzer2 = "]d201" + gtinDialyzer + "1728033110D-4712"
	scanSaline    = "]d201" + gtinSaline + "10S-100\x1d17271231"
	scanNeedle    = "]d201" + gtinNeedle + "1729013110N-55"
)

// atTreatment opens the first patient's treatment in a browser.
func atTreatment(t *testing.T) (*site, *browser) {
	t.Helper()
	s := newSite(t)
	b := newBrowser(t, s)
	b.signIn("nurse")
	b.open("/setup")
	b.touch(`//li[contains(., "Imagino Fabelmann")]//button`)
	return s, b
}

// A scanner types wherever the focus is, and what it types there is a scan: no
// reason, no number, no choice.
func TestScansIntoOtherFields(t *testing.T) {
	s, b := atTreatment(t)
	b.scan(scanDialyzer)

	// Into the reason for striking out.
	b.do(click(`.use summary`), chromedp.Focus(chromedp.CSS(`.use .careful input[name=reason]`)))
	b.scan(scanSaline)
	b.says(".told", "Taken as saline", "S-100")
	if u := s.treatment().Uses; u[0].Struck != 0 || len(u) != 2 {
		t.Errorf("a scan into a reason: %+v", u)
	}

	// Into the number of pieces, and ended by Tab.
	b.do(chromedp.Focus(chromedp.CSS(`.pieces input`)))
	b.scan(scanNeedle)
	if u := s.treatment().Uses; len(u) != 3 || u[2].Lot != "N-55" || u[2].Quantity != 1 {
		t.Errorf("a scan into the pieces: %+v", u)
	}
	b.act(chromedp.Focus(chromedp.CSS("#text")), chromedp.KeyEvent("]d201"+gtinBloodline+"10B-77"), chromedp.KeyEvent(kb.Tab))
	b.says(".told", "Taken as bloodline set", "B-77")
	if id := eval[string](b, `document.activeElement.id`); id != "text" {
		t.Errorf("after a scan with Tab the focus is on %q", id)
	}

	// Enter in a reason is no touch on the button beside it.
	b.do(click(`.use summary`), chromedp.Focus(chromedp.CSS(`.use .careful input[name=reason]`)))
	before := s.entries()
	b.key("HELLO-5")
	b.scan(scanSaline) // recorded after whatever Enter had sent
	if n := s.entries(); n != before+1 {
		t.Errorf("%d entries, want one", n-before)
	}
	// A list to choose from.
	b.do(click(`//summary[contains(., "Type it instead")]`), chromedp.Focus(chromedp.CSS(`.typed select`)))
	b.scan(scanNeedle)
	b.says(".told", "N-55")
	b.quiet()
}

// While the panel of a use is open, a scan takes over from that use; nothing is
// asked twice, and nothing else is taken for a replacement.
func TestScansWhileReplacing(t *testing.T) {
	s, b := atTreatment(t)
	b.scan(scanDialyzer)
	dialyzer := `//li[contains(@class, "need") and contains(., "Dialyzer")]`
	uses := func() []trace.Use { t.Helper(); return s.treatment().Uses }

	// The panel is open and the pack scanned at once: the cause is asked.
	b.do(click(dialyzer + `//summary[contains(., "Change")]`))
	b.await("#replacing", "takes over from lot D-4711")
	b.scan(scanDialyzer2)
	b.says(".ask", "Why was it replaced?", "D-4712", "lot D-4711")
	if n := len(uses()); n != 1 {
		t.Errorf("%d uses before the cause is known", n)
	}
	b.picture("ask-cause")
	b.touch(`//section[contains(@class, "ask")]//button[text()="Clotted"]`)
	b.says(".told", "D-4712", "takes over: Clotted")
	if u := uses(); len(u) != 2 || u[1].Replaces != u[0].Entry || u[0].Until.IsZero() {
		t.Fatalf("replaced: %+v", u)
	}
	b.touch(`//button[contains(., "Undo")]`)

	// In the panel's own field, by a scanner that ends with Tab.
	b.do(click(dialyzer+`//summary[contains(., "Change")]`), click(dialyzer+`//label[contains(., "Alarm")]`))
	b.act(chromedp.Focus(chromedp.CSS(`form.replace input[name=text]`)), chromedp.KeyEvent(scanDialyzer2), chromedp.KeyEvent(kb.Tab))
	b.says(".told", "takes over: Alarm")
	b.touch(`//button[contains(., "Undo")]`)

	// The cause touched first, a code that can't be read in between.
	b.do(click(dialyzer+`//summary[contains(., "Change")]`), click(dialyzer+`//label[contains(., "Leaked")]`))
	b.scan("]d20109506000100013" + "10X")
	b.says(".note.stop", "Not recorded")
	b.says(".scan .replacing", "D-4711", "leaked")
	b.scan(scanDialyzer2)
	b.says(".told", "takes over: Leaked")
	b.touch(`//button[contains(., "Undo")]`)

	// Something else is scanned while the panel is open.
	b.do(click(dialyzer + `//summary[contains(., "Change")]`))
	b.scan(scanSaline)
	b.says(".told", "Taken as saline", "S-100")
	if u := uses(); u[len(u)-1].Replaces != 0 {
		t.Errorf("saline takes over from a dialyzer: %+v", u)
	}
	// The panel is shut again: a second of the kind, put right by one touch.
	b.do(click(dialyzer+`//summary[contains(., "Change")]`), click(`#replacing button`))
	b.scan(scanDialyzer2)
	b.says(".told", "Second of its kind", "took over from lot D-4711. Why?")
	b.touch(`//section[contains(@class, "told")]//button[text()="Clotted"]`)
	b.says(".told", "D-4712", "takes over: Clotted")
	u := uses()
	if last := u[len(u)-1]; last.Replaces != u[0].Entry || u[len(u)-2].Struck == 0 || !last.From.Equal(u[len(u)-2].From) {
		t.Errorf("put right: %+v", u)
	}
	b.quiet()
}

// While an answer is on its way, what is scanned waits, after a touch on a
// button as after a scan.
func TestScansDuringAnswers(t *testing.T) {
	s, b := atTreatment(t)
	b.scan(scanDialyzer)
	b.during(func() {
		b.do(click(`//button[contains(., "Undo")]`))
		for _, text := range []string{scanDialyzer2, scanSaline, scanNeedle} {
			b.key(text)
		}
	})
	b.await(".told", "N-55")
	if u := s.treatment().Uses; u[0].Struck == 0 || lots(s.treatment()) != "D-4711 D-4712 S-100 N-55" {
		t.Errorf("recorded %+v", u)
	}
	// A question is dropped, and the next pack scanned at once.
	b.scan("]C101" + gtinBloodline)
	b.during(func() {
		b.do(click(`//a[text()="Drop this scan"]`))
		b.key("]d201" + gtinBloodline + "10B-77")
	})
	b.await(".told", "B-77")
	if left := eval[bool](b, `document.querySelector(".ask") !== null`); left {
		t.Error("the question that was dropped came back")
	}
	b.quiet()
}

// The same without a script: the server finds the code in the field.
func TestCodesInOtherFields(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	c.post(path, url.Values{"action": {"scan"}, "text": {scanDialyzer}})
	entry := itoa(s.treatment().Uses[0].Entry)
	for i, text := range []string{
		"entered by mistake" + scanSaline, scanSaline + "entered by mistake", scanSaline, "(01)" + gtinSaline + "(10)S-100", "entered by mistake01" + gtinSaline + "10S-100",
		"https://id.example.com/01/" + gtinSaline + "/10/S-100",
	} {
		a := c.post(path, url.Values{"action": {"strike"}, "entry": {entry}, "reason": {text}})
		c.says(text, c.get(a.header.Get("Location")), http.StatusOK, "Taken as saline", "S-100")
		if u := s.treatment().Uses; u[0].Struck != 0 || len(u) != i+2 {
			t.Fatalf("%q: %+v", text, u)
		}
	}
	a := c.post(path, url.Values{"action": {"scan"}, "text": {scanNeedle}, "quantity": {"1" + scanSaline}})
	c.says("a code in the pieces", c.get(a.header.Get("Location")), http.StatusOK, "S-100")
	a = c.post(path, url.Values{"action": {"scan"}, "line": {"t]C101" + gtinBloodline}, "lot": {"]C11727063010B-77"}})
	c.says("a code in the lot", c.get(a.header.Get("Location")), http.StatusOK, "Taken as bloodline set", "B-77")
	before := s.entries()
	a = c.post(path, url.Values{"action": {"strike"}, "entry": {entry}, "reason": {strings.Repeat("x", 500)}})
	c.says("a reason without an end", a, http.StatusUnprocessableEntity, "longer than")
	if s.entries() != before {
		t.Error("it was recorded")
	}
	// A reason with figures is a reason.
	a = c.post(path, url.Values{"action": {"strike"}, "entry": {entry}, "reason": {"wrong (2 packs), box 17 (2026), call +49 555 0100"}})
	c.says("struck out", c.get(a.header.Get("Location")), http.StatusOK, "Struck out")
}

// Two packs in one line are neither of them: the nurse is told, and scans each.
func TestTwoPacksAsOne(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	before := s.entries()
	a := c.post(path, url.Values{"action": {"scan"}, "text": {"01" + gtinSaline + "17271231" + "10S-100" + "01" + gtinDialyzer + "17280331" + "10D-4711"}})
	page := c.get(a.header.Get("Location"))
	c.says("two packs", page, http.StatusOK, "Two packs may have been read as one", "Nothing is recorded", "by itself")
	if s.entries() != before {
		t.Error("one of them was recorded")
	}
	for _, m := range strings.Split(page.body, "<form")[1:] {
		if strings.Contains(m, `class="scan"`) && strings.Contains(strings.Split(m, "</form>")[0], `name="line"`) {
			t.Error("the next scan is taken together with the two")
		}
	}
}

// Questions that are not answered come back, and are named until then.
func TestQuestionsComeBack(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	a := c.post(path, url.Values{"action": {"scan"}, "line": {"t]C101" + gtinBloodline}, "text": {"]C101" + gtinSaline}})
	to, err := url.Parse(a.header.Get("Location"))
	if err != nil {
		t.Fatal(err)
	}
	c.says("two without a lot", c.get(to.String()), http.StatusOK, "Which lot?", "Saline 0.9% 1 L", "Not recorded yet: Bloodline set")
	form := to.Query()
	form.Set("action", "scan")
	form.Set("lot", "S-100")
	a = c.post(path, form)
	c.says("the second is answered", c.get(a.header.Get("Location")), http.StatusOK, "Taken as saline", "Which lot?", "Bloodline set")
	if n := len(s.treatment().Uses); n != 1 {
		t.Errorf("%d uses", n)
	}
}

// The other code of a pack may say its product again: a linear symbol for the
// till stands beside one with the lot on many labels.
func TestOtherCodeSaysAll(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	a := c.post(path, url.Values{"action": {"scan"}, "text": {gtinSaline[1:]}}) // as EAN-13
	to, err := url.Parse(a.header.Get("Location"))
	if err != nil {
		t.Fatal(err)
	}
	c.says("the till's code", c.get(to.String()), http.StatusOK, "Which lot?", "Saline 0.9% 1 L")
	form := to.Query()
	form.Set("action", "scan")
	form.Set("text", "]d201"+gtinSaline+"10S-100")
	page := c.get(c.post(path, form).header.Get("Location"))
	c.says("the other code", page, http.StatusOK, "Taken as saline", "S-100")
	if u := s.treatment().Uses; len(u) != 1 || strings.Contains(page.body, "Which lot?") {
		t.Errorf("%d uses, and a question is left", len(u))
	}
}
