package web_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
	"lotbook/trace/demo"
	"lotbook/trace/notice"
)

// newDemoSite opens an invented unit with some days behind it, on a Wednesday
// morning: 6 stations, 2 shifts.
func newDemoSite(t *testing.T) (*site, *demo.Truth) {
	t.Helper()
	o := demo.Defaults(time.Date(2026, 11, 25, 8, 20, 0, 0, time.UTC))
	o.Days, o.Stations, o.Shifts = 16, 6, 2
	clock := demo.NewClock(o)
	dir := t.TempDir()
	store, err := boltstore.Open(dir, boltstore.Options{Clock: clock.Now, NoSync: true, Bulk: 256})
	if err != nil {
		t.Fatal(err)
	}
	reg := inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events(), account.Events())
	truth, err := demo.Make(ctx, trace.NewBook(inventory.NewBook(store, reg, clock.Now)), clock, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	s := open(t, dir, o.Until)
	s.people()
	return s, truth
}

// measured is what a page's layout is measured by.
type measured struct {
	Wider   int      `json:"wider"`
	Small   []string `json:"small"`
	Unnamed []string `json:"unnamed"`
	H1      int      `json:"h1"`
	Skipped []string `json:"skipped"`
	Lang    string   `json:"lang"`
}

// measure looks at everything that can be touched. WCAG 2.2: 2.5.5 wants 44 CSS
// pixels, for gloves it is 48 here; 1.4.10 wants no scrolling in two directions;
// 4.1.2 and 1.3.1 want a name for every control; 2.4.6 headings in order.
const measure = `(() => {
	const out = {wider: document.documentElement.scrollWidth - document.documentElement.clientWidth, small: [], unnamed: [], skipped: [], h1: document.querySelectorAll("h1").length, lang: document.documentElement.lang};
	for (const e of document.querySelectorAll(".scroll")) out.wider = Math.max(out.wider, e.scrollWidth - e.clientWidth);
	const shown = (e) => e.checkVisibility({visibilityProperty: true}) && e.getBoundingClientRect().width > 0;
	for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, summary")) {
		if (!shown(e) || e.classList.contains("skip")) continue;
		const box = (e.type === "checkbox" || e.type === "radio") ? e.closest("label") : e;
		const r = box.getBoundingClientRect();
		const what = e.tagName + " " + (e.name || e.textContent.trim().slice(0, 30)) + " " + Math.round(r.width) + "x" + Math.round(r.height);
		if (r.height < 47.5 || r.width < 44) out.small.push(what);
		const name = (e.textContent || "").trim() || e.getAttribute("aria-label") || (e.labels && e.labels.length && e.labels[0].textContent.trim());
		if (!name) out.unnamed.push(what);
	}
	let level = 0;
	for (const h of document.querySelectorAll("h1, h2, h3, h4")) {
		const l = +h.tagName[1];
		if (l > level + 1) out.skipped.push(h.textContent.trim());
		level = l;
	}
	return out;
})()`

// look measures a page at the width of a desk and of a tablet, folded open and
// shut.
func (b *browser) look(name string) {
	b.t.Helper()
	for _, width := range []int64{1280, 820} {
		b.size(width, 1000)
		b.picture(fmt.Sprintf("%s-%d", name, width))
		for _, open := range []bool{true, false} {
			eval[any](b, fmt.Sprintf(`document.querySelectorAll("details").forEach((d) => { d.open = %t })`, open))
			m := eval[measured](b, measure)
			if m.Wider > 0 {
				b.t.Errorf("%s at %d: %d pixels too wide", name, width, m.Wider)
			}
			for _, w := range m.Small {
				b.t.Errorf("%s at %d: too small to touch: %s", name, width, w)
			}
			for _, w := range m.Unnamed {
				b.t.Errorf("%s at %d: without a name: %s", name, width, w)
			}
			if m.H1 != 1 || len(m.Skipped) > 0 || m.Lang != "en" {
				b.t.Errorf("%s at %d: %d h1, headings that skip a level: %q, lang %q", name, width, m.H1, m.Skipped, m.Lang)
			}
		}
	}
	b.size(1280, 1000)
}

// Every page, at the width of a desk and of a tablet, folded open and shut.
func TestPagesInBrowser(t *testing.T) {
	s, truth := newDemoSite(t)
	b := newBrowser(t, s)
	look := func(name string) { t.Helper(); b.look(name) }
	b.open("/sign-in")
	look("sign-in")
	b.signInHere("quality")
	look("home")
	lot := inventory.Lot{Product: truth.Notice.Product, Number: truth.Notice.Lots[0]}
	b.open("/lots")
	look("lots-ask")
	b.open("/lots?product=" + string(lot.Product) + "&lot=" + lot.Number)
	look("lots")
	b.open("/lots?product=" + string(lot.Product) + "&lot=NEVER-SEEN-1")
	b.says(".verdict", "not on record", "does not say that nobody received it")
	look("lots-unknown")
	b.open("/reconciliation?date=2026-11-24&shift=1")
	look("reconciliation")

	b.open("/sign-in")
	b.signInHere("nurse")
	b.open("/setup")
	look("setup-list")
	b.touch(`//a[@class="treatment" and contains(., "Station 2")]`)
	look("setup-some")
	b.open("/setup")
	b.touch(`//a[@class="treatment" and contains(., "stopped scan")]`)
	b.says(".stopped", "Waits for an answer")
	look("setup-stopped")
	b.quiet() // the console notes each page that is not found as an error
	b.open("/nowhere")
	look("not-found")
}

// What a treatment's page looks like when something is asked, wrong or over.
func TestStatesInBrowser(t *testing.T) {
	s, b := atTreatment(t)
	b.scan(scanDialyzer)
	b.do(click(`//li[contains(@class, "need") and contains(., "Dialyzer")]//summary[contains(., "Change")]`))
	b.await("#replacing", "takes over")
	b.picture("replacing")
	b.scan(scanDialyzer2)
	b.look("state-ask-cause")
	b.do(click(`//button[contains(., "a further one")]`))
	b.await(".told", "Second of its kind")
	b.look("state-second")
	b.scan("]d201" + gtinAcid3K + "1727063010A-901")
	b.do(click(`//summary[contains(., "Used all the same")]`))
	b.act(write(`input[name=reason_typed]`, strings.Repeat("x", 199)), click(`//button[text()="Record with this reason"]`))
	b.says(".need.stop", "Used all the same")
	b.look("state-all-the-same") // with a reason that has no spaces
	b.scan("01" + gtinSaline + "17271231" + "10S-100" + "01" + gtinDialyzer + "17280331" + "10D-4711")
	b.says(".ask", "Two packs")
	b.look("state-two-packs")
	b.scan("]C101" + gtinBloodline)
	b.scan("]C101" + gtinSaline)
	b.says(".work", "Not recorded yet: Bloodline set")
	b.look("state-left")
	b.scan("+A99912345/$$52001510X3X")
	b.look("state-unreadable")
	b.scan(scanSerial)
	b.scan(scanSerial)
	b.says(".stopped.new", "The same piece again")
	b.look("state-same-piece")
	b.touch(`//button[text()="The same piece, scanned twice"]`)
	b.do(click(`//li[contains(@class, "need") and contains(., "Bicarbonate")]//summary`))
	b.touch(`//li[contains(@class, "need") and contains(., "Bicarbonate")]//button[text()="Packaging thrown away"]`)
	b.scan("]d201" + gtinBicarb + "1728033110C-31")
	b.says(".told", "was it this pack?")
	b.look("state-found")
	b.touch(`//button[contains(., "strike that note out")]`)
	b.says(".told", "bicarbonate used, lot not recorded")
	beside := s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P2", Station: "S2", Machine: "M1"})).Entries[0].Seq
	b.open("/setup/" + string(s.firstOf("P1")))
	b.says("main", "Another treatment is open on Machine 1")
	b.look("state-beside")
	s.ok(s.Correct(ctx, by("nurse"), beside, "opened by mistake"))
	b.open("/setup")
	b.do(click(`//summary[contains(., "not planned")]`), set("select[name=patient]", "P1"), set("select[name=station]", "S2"))
	b.touch(`//button[text()="Open the treatment"]`)
	b.says("#already", "has a treatment open already")
	b.look("state-already-open")
	path := "/setup/" + string(s.treatment().ID)
	b.open(path)
	b.touch(`//button[text()="Close the treatment"]`)
	b.look("state-closed")
	b.touch(`//button[text()="Open it again"]`)
	b.do(click(`//summary[contains(., "It did not take place")]`))
	b.do(click(`//label[contains(., "Patient did not come")]`))
	b.look("state-not-done-asked")
	b.do(click(`//summary[contains(., "It did not take place")]`)) // folded shut by look
	b.size(820, 1000)
	b.picture("state-not-done-asked-820")
	b.touch(`//button[text()="Close as not done"]`)
	b.open(path)
	b.look("state-not-done")
	b.open("/setup")
	b.look("state-list")
	b.says("main", "Did not take place")
}
