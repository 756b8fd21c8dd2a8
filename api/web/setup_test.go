package web_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"lotbook/inventory"
	"lotbook/trace"
)

// picturePath returns a picture of a label; see ../reading/testdata/SOURCE.md.
func picturePath(t *testing.T, name string) string {
	t.Helper()
	p, err := filepath.Abs(filepath.Join("..", "reading", "testdata", name))
	if err == nil {
		_, err = os.Stat(p)
	}
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A nurse's way through a treatment, in a browser: by scanner, by picture, by
// typing; a stop answered, an undo, an absence, a replacement, the end.
func TestSetupInBrowser(t *testing.T) {
	s := newSite(t)
	b := newBrowser(t, s)
	b.signIn("nurse")
	b.says("main", "Setup", "2 treatments are planned")
	b.open("/setup")
	b.touch(`//li[contains(., "Imagino Fabelmann")]//button`)
	tr := s.treatment()
	if tr.Patient != "P1" || tr.Station != "S1" || tr.Machine != "M1" {
		t.Fatalf("opened %+v", tr)
	}
	b.says(".patient", "Imagino Fabelmann", "Station 1", "2.0 mmol/L", "1.25 mmol/L", "45X", "240 min", "720 mL/min")
	b.says(".missing-now", "Missing", "Dialyzer", "Bloodline set", "2 × Fistula needle")
	b.says("footer", "does not replace the prescription check")

	// By scanner: the field has the focus, whatever was touched before.
	if id := eval[string](b, `document.activeElement.id`); id != "text" {
		t.Fatalf("the focus is on %q", id)
	}
	eval[any](b, `document.activeElement.blur()`)
	b.scan("]d201" + gtinDialyzer + "1728033110D-4711")
	b.says(".told", "Taken as dialyzer", "Dialyzer 1.8 m²", "D-4711", "expires 2028-03-31", "Still missing")
	if strings.Contains(b.text(".missing-now"), "Dialyzer") {
		t.Error("the dialyzer is still missing")
	}
	if use := s.treatment().Uses[0]; use.Lot != "D-4711" || use.How != trace.Scanned || use.By != "nurse" {
		t.Errorf("recorded %+v", use)
	}

	// By picture, which is sent as soon as it is chosen.
	b.act(chromedp.SetUploadFiles(chromedp.CSS("#picture"), []string{picturePath(t, "acid-datamatrix.png")}))
	b.says(".told", "Taken as acid concentrate", "A-882", "from a picture")
	if use := s.treatment().Uses[1]; use.Lot != "A-882" || use.How != trace.Photo || use.Serial != "55123" {
		t.Errorf("recorded %+v", use)
	}

	// The separator that a browser would drop.
	b.scan("]d201" + gtinSaline + "10S-100\x1d17271231")
	b.says(".told", "Taken as saline", "S-100", "expires 2027-12-31")

	// A code without a lot asks; the second symbol answers.
	b.scan("]C101" + gtinBloodline)
	b.says(".ask", "Which lot?", "Bloodline set")
	if n := len(s.treatment().Uses); n != 3 {
		t.Fatalf("%d uses before the lot is known", n)
	}
	b.picture("ask")
	b.scan("]C11727063010B-77")
	b.says(".told", "Taken as bloodline set", "B-77")

	// An expired pack stops, and is set aside.
	b.scan("]d201" + gtinDialyzer + "1726103110D-385")
	b.says(".stopped.new", "Stop", "Expired", "2026-10-31", "25 days ago", "Set it aside")
	b.picture("stop")
	if n := len(s.treatment().Uses); n != 4 {
		t.Fatalf("%d uses after a stop", n)
	}
	b.touch(`//button[contains(., "Set it aside")]`)
	b.says(".told", "Set aside")

	// Another concentrate than prescribed, used all the same for a reason.
	b.scan("]d201" + gtinAcid3K + "1727063010A-901")
	b.says(".stopped.new", "Not as prescribed", "K 2.0 mmol/L", "K 3.0 mmol/L")
	b.do(click(`//summary[contains(., "Used all the same")]`))
	b.touch(`//button[text()="Prescriber agreed"]`)
	b.says(".told", "Taken as acid concentrate", "used all the same: Prescriber agreed")

	// Undo: the last entry is struck out.
	b.touch(`//button[contains(., "Undo")]`)
	b.says(".told", "Struck out", "A-901")
	if last := s.treatment().Uses[4]; last.Struck == 0 {
		t.Errorf("not struck out: %+v", last)
	}
	b.says(".struck-list", "Struck out (1)")

	// Two needles, as pieces of one scan.
	b.do(set(`.scan input[name=quantity]`, "2"), chromedp.Focus(chromedp.CSS("#text")))
	b.scan("]d201" + gtinNeedle + "1729013110N-55")
	b.says(".told", "fistula needle", "2 pieces")

	// Not scanned, because.
	b.says(".missing-now", "Missing: Bicarbonate")
	b.do(click(`//li[contains(@class, "need") and contains(., "Bicarbonate")]//summary`))
	b.touch(`//li[contains(@class, "need") and contains(., "Bicarbonate")]//button[text()="Packaging thrown away"]`)
	b.says(".told", "Bicarbonate used, lot not recorded", "Packaging thrown away")
	b.says(".missing-now", "All else is there", "Not recorded: Bicarbonate")

	// A dialyzer replaced in mid-treatment, with its time and cause.
	// The session has ended by then, and the way leads back to the treatment.
	s.pass(90 * time.Minute)
	b.open("/setup/" + string(tr.ID))
	b.signInHere("nurse")
	need := `//li[contains(@class, "need") and contains(., "Dialyzer")]`
	b.do(
		click(need+`//summary[contains(., "Change")]`),
		click(need+`//label[contains(., "Clotted")]`),
		set(need+`//input[@name="at"]`, "11:10"),
		write(need+`//input[@name="text"]`, "(01)"+gtinDialyzer+"(17)280331(10)D-4712"),
	)
	b.touch(need + `//button[text()="Record"]`)
	b.says(".told", "D-4712", "takes over: Clotted")
	uses := s.treatment().Uses
	at := time.Date(2026, 11, 25, 11, 10, 0, 0, time.UTC)
	if last := uses[len(uses)-1]; last.Replaces != uses[0].Entry || !last.From.Equal(at) || !uses[0].Until.Equal(at) {
		t.Errorf("replacement %+v of %+v", last, uses[0])
	}

	// Typed from the pack, a product for which the treatment has no need.
	b.do(click(`//summary[contains(., "Type it instead")]`),
		set(`.typed select[name=product]`, "SAL"), write(`.typed input[name=lot]`, "S-100"))
	b.touch(`//details[@class="typed"]//button[text()="Record"]`)
	b.says(".told", "Taken as saline", "typed", "Second of its kind")
	b.picture("setup")
	eval[any](b, `document.querySelector(".use details").open = true`)
	b.picture("change")

	// The end, with its real length.
	s.pass(2 * time.Hour)
	b.open("/setup/" + string(tr.ID))
	b.signInHere("nurse")
	b.do(write(`.closing input[name=minutes]`, "198"))
	b.touch(`//button[text()="Close the treatment"]`)
	b.says(".told", "Closed after 198 min")
	var closed *trace.Treatment
	if err := s.View(ctx, func(r inventory.Reader) (err error) {
		closed, err = trace.TreatmentByID(r, tr.ID)
		return err
	}); err != nil || !closed.Closed || closed.Minutes != 198 {
		t.Errorf("%+v, %v", closed, err)
	}
	b.quiet()
}

// Scans that come faster than answers, and scans without a connection: each is
// recorded once, in its order.
func TestScansWait(t *testing.T) {
	s := newSite(t)
	b := newBrowser(t, s)
	b.signIn("nurse")
	b.open("/setup")
	b.touch(`//li[contains(., "Imagino Fabelmann")]//button`)
	// Two symbols of one label, and a pack after it, without a pause.
	eval[any](b, `document.querySelector("main").dataset.old = "1"`)
	b.key("]C101" + gtinBloodline)
	b.key("]C11727063010B-77")
	b.key("]d201" + gtinDialyzer + "1728033110D-4711")
	b.await(".told", "D-4711")
	if got := lots(s.treatment()); got != "B-77 D-4711" {
		t.Errorf("recorded %q", got)
	}

	// The first is recorded and its answer lost on the way; nothing else gets
	// through.
	s.line.Store(answersLost)
	b.key("]d201" + gtinSaline + "10S-100\x1d17271231")
	b.key("]d201" + gtinNeedle + "1729013110N-55")
	b.await(".unsent", "No connection", "Not confirmed yet", "S-100", "N-55")
	if got := lots(s.treatment()); got != "B-77 D-4711 S-100" {
		t.Errorf("recorded without answers: %q", got)
	}
	s.line.Store(dead)
	b.picture("no-connection")
	s.line.Store(whole)
	b.await(".told", "N-55")
	if got := lots(s.treatment()); got != "B-77 D-4711 S-100 N-55" {
		t.Errorf("recorded %q", got)
	}
	if hidden := eval[bool](b, `document.getElementById("unsent").hidden`); !hidden {
		t.Error("the page still says that something was not sent")
	}

	// A service that is busy is asked again.
	s.line.Store(busy)
	b.key("]d201" + gtinNeedle + "1729013110N-56")
	b.await(".unsent", "can't take it at this moment", "N-56")
	s.line.Store(whole)
	b.await(".told", "N-56")
	if got := lots(s.treatment()); got != "B-77 D-4711 S-100 N-55 N-56" {
		t.Errorf("recorded %q", got)
	}

	// Another answers in the place of the service.
	s.line.Store(portal)
	b.key("]d201" + gtinNeedle + "1729013110N-57")
	b.await(".unsent", "No connection", "N-57")
	s.line.Store(whole)
	b.await(".told", "N-57")

	// An answer takes its time, and that is said.
	goOn := s.hold()
	b.key("]d201" + gtinNeedle + "1729013110N-58")
	b.await(".unsent", "On its way, not confirmed yet", "N-58")
	goOn()
	b.await(".told", "N-58")
	if got := lots(s.treatment()); got != "B-77 D-4711 S-100 N-55 N-56 N-57 N-58" {
		t.Errorf("recorded %q", got)
	}

	// The session ends: nothing is sent later in another's name, and that is
	// said. The way leads back to the treatment.
	s.pass(time.Hour)
	before := s.entries()
	eval[any](b, `document.querySelector("main").dataset.old = "1"`)
	b.key("]d201" + gtinSaline + "10S-100\x1d17271231")
	b.answered()
	b.says("main", "You had been signed out", "was not recorded")
	b.signInHere("nurse")
	b.says(".patient", "Imagino Fabelmann")
	if n := len(s.treatment().Uses); n != 7 {
		t.Errorf("%d uses, %d new entries", n, s.entries()-before)
	}
}

func lots(t *trace.Treatment) string {
	var list []string
	for _, u := range t.Uses {
		list = append(list, u.Lot)
	}
	return strings.Join(list, " ")
}

// Nothing needs the page's script: without it a code is typed and sent with
// Enter, and a picture with the button beside it.
func TestSetupWithoutScript(t *testing.T) {
	s := newSite(t)
	b := newBrowser(t, s)
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
	b.signIn("nurse")
	b.open("/setup")
	b.press(`//li[contains(., "Imagino Fabelmann")]//button`)
	b.scan("]d201" + gtinDialyzer + "1728033110D-4711")
	b.says(".told", "Taken as dialyzer", "D-4711")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#picture"), []string{picturePath(t, "acid-datamatrix.png")}))
	b.press(`//button[text()="Read the picture"]`)
	b.says(".told", "Taken as acid concentrate", "A-882")
	if n := len(s.treatment().Uses); n != 2 {
		t.Errorf("%d uses", n)
	}
}
