package web_test

import (
	"context"
	"math"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"lotbook/inventory"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

// Nothing moves under a finger after a panel was opened: whoever touches a cause
// at once touches that cause, however slow the device.
func TestPanelOpensInPlace(t *testing.T) {
	_, b := atTreatment(t)
	b.scan(scanDialyzer)
	for _, width := range []int64{1280, 820, 600} {
		b.size(width, 700)
		moved := ask(b, chromedp.Evaluate[float64](`new Promise((done) => {
			document.querySelectorAll("details[open]").forEach((d) => { d.open = false; });
			const panel = document.querySelector(".use details"), cause = [...panel.querySelectorAll("label.chip")].pop();
			const frames = (n, then) => requestAnimationFrame(() => n > 1 ? frames(n - 1, then) : then());
			let before;
			const measure = () => {
				panel.open = true;
				cause.scrollIntoView({block: "center"});
				before = cause.getBoundingClientRect().top;
				frames(4, () => done(cause.getBoundingClientRect().top - before));
			};
			frames(4, measure);
		})`, chromedp.EvalAwaitPromise))
		if math.Abs(moved) > 1 {
			t.Errorf("at %d px the causes move by %.0f px after the panel was opened", width, moved)
		}
		b.says("#replacing", "takes over from lot D-4711")
	}
	b.quiet()
}

// What is opened, chosen and typed while an answer is on its way is not lost
// when it comes.
func TestBegunWhileAnswersCome(t *testing.T) {
	_, b := atTreatment(t)
	b.scan(scanDialyzer)
	dialyzer := `//li[contains(@class, "need") and contains(., "Dialyzer")]`

	// A cause is chosen while a scan of before is on its way: the next scan
	// takes over for that cause.
	b.during(func() {
		b.key(scanSaline)
		b.do(click(dialyzer+`//summary[contains(., "Change")]`), click(dialyzer+`//label[contains(., "Leaked")]`))
	})
	b.says(".told", "S-100")
	b.says("#replacing", "takes over from lot D-4711")
	b.scan(scanDialyzer2)
	b.says(".told", "D-4712", "takes over: Leaked")
	b.touch(`//button[contains(., "Undo")]`)

	// A number of pieces, and half of a code.
	b.during(func() {
		b.key(scanSaline)
		b.do(set(`.pieces input`, "2"), chromedp.Focus(chromedp.CSS("#text")), chromedp.KeyEvent(scanNeedle[:20]))
	})
	b.scan(scanNeedle[20:])
	b.says(".told", "N-55", "2 pieces")

	// A reason that is being written, and the place in it.
	b.during(func() {
		b.key(scanSaline)
		reason := dialyzer + `//form[contains(@class, "careful")]//input[@name="reason"]`
		b.do(click(dialyzer+`//summary[contains(., "Change")]`), chromedp.Focus(chromedp.Search(reason)), chromedp.KeyEvent(kb.End), chromedp.KeyEvent(", wrong "))
	})
	b.do(chromedp.KeyEvent("patient"))
	if v := eval[string](b, `document.querySelector(".use details[open] .careful input[name=reason]").value`); v != "entered by mistake, wrong patient" {
		t.Errorf("the reason is %q", v)
	}
	b.quiet()
}

// The first key of a scanner counts, though the page has not put the focus
// anywhere yet.
func TestFirstKeyCounts(t *testing.T) {
	s, b := atTreatment(t)
	paths := []string{"/setup/" + string(s.treatment().ID), "/scanners"}
	for i, field := range []string{"#text", ".scan-lines"} {
		b.open(paths[i])
		eval[any](b, `document.activeElement.blur()`)
		code := wedge.SheetCodes()[0]
		b.do(chromedp.KeyEvent(code.Symbology + code.Text))
		if v := eval[string](b, `document.querySelector("`+field+`").value`); v != code.Symbology+code.Text {
			t.Errorf("%s has %q, want %q", field, v, code.Symbology+code.Text)
		}
	}
	b.quiet()
}

// back is a touch on the browser's button.
var back = chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
	_, err := chromedp.Run(ctx, chromedp.Evaluate[any](`history.back()`))
	return err
})

// What is scanned while a treatment's page is on its way is recorded there, and
// the way back leads back.
func TestScansWhileThePageComes(t *testing.T) {
	s := newSite(t)
	b := newBrowser(t, s)
	b.signIn("nurse")
	b.open("/setup")
	b.during(func() {
		b.do(click(`//li[contains(., "Imagino Fabelmann")]//button`))
		b.key(scanDialyzer)
		b.key(scanSaline)
		b.do(chromedp.KeyEvent(scanNeedle[:10]))
	})
	b.await(".told", "S-100")
	b.scan(scanNeedle[10:])
	b.says(".told", "N-55")
	if got := lots(s.treatment()); got != "D-4711 S-100 N-55" {
		t.Fatalf("recorded %q", got)
	}

	// What stood in the field was for this patient; what comes after the touch
	// is for the next.
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P2", Station: "S2"}))
	uses := func(p trace.PatientID) string {
		t.Helper()
		var tr *trace.Treatment
		if err := s.View(ctx, func(r inventory.Reader) (err error) {
			tr, err = trace.TreatmentByID(r, s.firstOf(p))
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return lots(tr)
	}
	b.do(chromedp.KeyEvent("]d2"), click(`//div[@class="patient-who"]//a`))
	b.await("h1", "Setup")
	b.touch(`//a[@class="treatment" and contains(., "Rosalba Noxample")]`)
	b.says(".patient", "Rosalba Noxample")
	if v := eval[string](b, `document.getElementById("text").value`); v != "" {
		t.Errorf("%q came along", v)
	}
	b.scan("]d201" + gtinBloodline + "10B-77")
	b.says(".told", "B-77")
	if one, two := uses("P1"), uses("P2"); one != "D-4711 S-100 N-55" || two != "B-77" {
		t.Errorf("recorded %q and %q", one, two)
	}

	b.act(back)
	b.says("h1", "Setup")
	b.act(back)
	b.says(".patient", "Imagino Fabelmann")
	b.quiet()
}

// A scan where no treatment is open is recorded nowhere, is no touch on the
// button that has the focus, and that is said.
func TestScansWithoutTreatment(t *testing.T) {
	s := newSite(t)
	b := newBrowser(t, s)
	b.signIn("nurse")
	b.open("/setup")
	before := s.entries()
	eval[any](b, `document.querySelector("li.slot button").focus()`)
	b.key(scanDialyzer)
	b.await("#unsent", "Not recorded", "D-4711")
	b.key(scanSaline)
	b.await("#unsent", "Not recorded", "S-100")
	if n := s.entries(); n != before {
		t.Errorf("%d entries were written", n-before)
	}
	if at := eval[string](b, `location.pathname`); at != "/setup" {
		t.Errorf("the page is %s", at)
	}
	b.quiet()
}
