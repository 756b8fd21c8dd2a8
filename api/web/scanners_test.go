package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

// A scanner is tested with the sheet, kept, and then its scans at this device
// are read by what was found; one that contradicts it says so.
func TestScannerIsTestedAndUsed(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	sheet := c.get("/scanners/sheet.svg?paper=Letter")
	if sheet.status != http.StatusOK || sheet.header.Get("Content-Type") != "image/svg+xml" || !strings.Contains(sheet.body, `width="215.9mm"`) {
		t.Fatalf("the sheet: %d %s", sheet.status, sheet.header)
	}
	// A scanner that is set for a US keyboard on a German computer and types a
	// bar for the separator, without symbology identifier.
	typed := func(text string) string {
		out, ok := wedge.Translate(strings.ReplaceAll(text, "\x1d", "|"), wedge.German, wedge.US)
		if !ok {
			t.Fatalf("%q can't be typed", text)
		}
		return out
	}
	var scans []string
	for _, code := range wedge.SheetCodes() {
		scans = append(scans, typed(code.Text))
	}
	before := s.entries()
	form := url.Values{"action": {"test"}, "scans": {strings.Join(scans[1:], "\r\n")}, "name": {"Station 1"}}
	c.says("code 1 left out", c.post("/scanners", form), http.StatusUnprocessableEntity, "Code 1 was not scanned", "do not say what the scanner does")
	form.Set("scans", strings.Join(scans, "\r\n"))
	c.says("tested", c.post("/scanners", form), http.StatusOK, "keyboard layout us and the computer for de", "Keep this")
	if s.entries() != before {
		t.Errorf("%d entries were written before it was kept", s.entries()-before)
	}
	form.Set("action", "keep")
	form.Set("key", "k1")
	form.Set("name", "")
	c.says("no name", c.post("/scanners", form), http.StatusUnprocessableEntity, "scanner needs a name")
	form.Set("name", "Station 1")
	if a := c.post("/scanners", form); a.status != http.StatusSeeOther || a.header.Get("Location") != "/scanners" {
		t.Fatalf("kept: %d %s", a.status, a.body)
	}
	c.says("listed", c.get("/scanners"), http.StatusOK, "Station 1", "Used at this device", "scanner us, computer de", "Nelvia Testwell")

	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	scan := func(text string) string {
		t.Helper()
		a := c.post(path, url.Values{"action": {"scan"}, "key": {text}, "text": {text}})
		if a.status != http.StatusSeeOther {
			t.Fatalf("%q: %d %s", text, a.status, a.body)
		}
		return c.get(a.header.Get("Location")).body
	}
	// Y and Z, and the bar, would be read wrongly without the profile.
	body := scan(typed("01" + gtinDialyzer + "17280331" + "10YZ-1" + "\x1d" + "21Y7"))
	if u := s.treatment().Uses; len(u) != 1 || u[0].Lot != "YZ-1" || u[0].Serial != "Y7" || strings.Contains(body, "scanner has changed") {
		t.Fatalf("by the profile: %+v", u)
	}
	body = scan("]d201" + gtinSaline + "17271231" + "10S-100")
	if u := s.treatment().Uses; len(u) != 2 || u[1].Lot != "S-100" || !strings.Contains(body, "The scanner has changed") {
		t.Errorf("a scan that contradicts the profile: %+v", u)
	}
	// Another device has no scanner yet: what it reads by the keys alone is right,
	// and it says so.
	other := newClient(t, s, "nurse")
	a := other.post(path, url.Values{"action": {"scan"}, "key": {"o"}, "text": {typed("01" + gtinNeedle + "17290131" + "10N-55" + "\x1d" + "21Y8")}})
	if a.status == http.StatusSeeOther && strings.Contains(a.header.Get("Location"), "done=") {
		if u := s.treatment().Uses; len(u) != 3 || u[2].Lot != "N-55" || u[2].Serial != "Y8" {
			t.Errorf("read wrongly at a device without a profile: %+v", u)
		}
	}
	// Chosen there, it is read there; given up, it is not.
	other.post("/scanners", url.Values{"action": {"choose"}, "name": {"Station 1"}})
	other.says("chosen", other.get("/scanners"), http.StatusOK, "Used at this device")
	other.post("/scanners", url.Values{"action": {"choose"}, "name": {""}})
	if strings.Contains(other.get("/scanners").body, "Used at this device") {
		t.Error("given up, and still used")
	}
	other.says("unknown", other.post("/scanners", url.Values{"action": {"choose"}, "name": {"Station 9"}}), http.StatusNotFound)
	quality := newClient(t, s, "quality")
	quality.says("a quality officer", quality.post("/scanners", form), http.StatusForbidden)

	var list []inventory.Scanner
	if err := s.View(ctx, func(r inventory.Reader) (err error) { list, err = inventory.Scanners(r); return err }); err != nil {
		t.Fatal(err)
	}
	want := wedge.Profile{Separator: "|", Scanner: wedge.US, Host: wedge.German, CapsLock: wedge.CapsOff}
	if len(list) != 1 || list[0].Profile != want {
		t.Errorf("kept %+v, want %+v", list, want)
	}
}

// The four codes are scanned into the page as a keyboard scanner types them, one
// after the other, with the separator as Ctrl and ] and Enter after each.
func TestScannerIsTestedInBrowser(t *testing.T) {
	s := newSite(t)
	b := newBrowser(t, s)
	b.open("/sign-in")
	b.signInHere("nurse")
	b.open("/scanners")
	b.look("scanners")
	b.open("/scanners")
	for _, c := range wedge.SheetCodes() {
		b.key(c.Symbology + c.Text)
	}
	b.press(`button[value="test"]`)
	b.says("#tested", "The scanner types what is printed")
	b.do(set(`#tested input[name="name"]`, "Station 1"))
	b.look("scanners-tested")
	b.press(`//button[contains(., "Keep this")]`)
	b.says("main", "Station 1", "Used at this device", "Separator: arrives")
	b.look("scanners-kept")
}
