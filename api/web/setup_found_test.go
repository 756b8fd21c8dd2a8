package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// scanSerial is a dialyzer with a serial number (AI 21 of the GS1 General
// Specifications).
const scanSerial = "]d201" + gtinDialyzer + "1728033110D-4711\x1d2155123"

// The same piece scanned twice is said to be that with one touch, and counts
// once.
func TestScannedTwice(t *testing.T) {
	s, c, path := started(t)
	c.sent(path, url.Values{"action": {"scan"}, "text": {scanSerial}})
	without(t, "an ordinary stop", c.sent(path, url.Values{"action": {"scan"}, "text": {"]d201" + gtinDialyzer + "1726103110D-385"}}), "scanned twice")
	c.sent(path, url.Values{"action": {"answer"}, "stopped": {itoa(s.treatment().Stopped[0].Entry)}})
	page := c.sent(path, url.Values{"action": {"scan"}, "text": {scanSerial}})
	c.says("stopped", page, http.StatusOK, "The same piece again", "serial 55123", "Set it aside, not used", "If it was scanned twice, say so below")
	form := url.Values{"action": {"answer"}, "stopped": {hidden(t, page, "The same piece, scanned twice", "stopped")}, "reason": {"The same piece, scanned twice"}}
	page = c.sent(path, form)
	c.says("said", page, http.StatusOK, "Not counted a second time", "Set aside, or scanned twice (2)", "scanned twice, not counted again, said at 10:00 by Nelvia Testwell", "set aside at 10:00")
	tr := s.treatment()
	if len(tr.Uses) != 1 || len(tr.Stopped) != 0 || tr.Uses[0].Struck != 0 {
		t.Errorf("%+v", tr)
	}
	c.says("said twice", c.post(path, form), http.StatusConflict, "scanned twice, not counted again")
}

// A pack that turns up after somebody said that it was not recorded: the note is
// struck out with one touch, and the treatment has its pack once.
func TestFoundAfterAll(t *testing.T) {
	s, c, path := started(t)
	c.sent(path, url.Values{"action": {"absent"}, "category": {"saline"}, "cause_used": {"Packaging thrown away"}})
	s.pass(5 * time.Minute)
	page := c.sent(path, url.Values{"action": {"scan"}, "text": {scanSaline}})
	c.says("found", page, http.StatusOK, "Taken as saline", "“Packaging thrown away”, noted at 10:00 by Nelvia Testwell: was it this pack?", "Noted as not recorded</span>")
	without(t, "found", page, "said_not_recorded")
	entry := hidden(t, page, "Yes: strike that note out", "entry")
	if want := itoa(s.treatment().Absences[0].Entry); entry != want {
		t.Fatalf("it would strike out entry %s, want %s", entry, want)
	}
	page = c.sent(path, url.Values{"action": {"strike"}, "entry": {entry}, "reason": {hidden(t, page, "Yes: strike that note out", "reason")}})
	c.says("struck out", page, http.StatusOK, "Struck out: “saline used, lot not recorded”", "its pack is recorded now", "S-100")
	without(t, "struck out", page, "Noted as not recorded", "lot not recorded: Packaging thrown away")
	tr := s.treatment()
	if len(tr.Absences) != 0 || len(tr.Uses) != 1 || tr.Uses[0].Struck != 0 {
		t.Errorf("%+v", tr)
	}
	// Without such a note nothing is asked.
	without(t, "another", c.sent(path, url.Values{"action": {"scan"}, "text": {scanSaline}}), "was it this pack?")
}

// No code of a finding is shown in the place of words.
func TestFindingsHaveWords(t *testing.T) {
	s, c, path := started(t)
	s.ok(s.Hold(ctx, by("quality"), inventory.Held{Product: "SAL", Lots: []string{"S-100"}, Reason: "notice"}))
	c.sent(path, url.Values{"action": {"absent"}, "category": {"dialyzer"}, "cause_used": {"Packaging thrown away"}})
	for _, text := range []string{scanSerial, scanSerial, scanSaline, "]d201" + gtinUnknown + "10U1", "]d201" + gtinAcid3K + "1726103110A-9O1", "]d201" + gtinNeedle + "1727013110N-55", "]d201" + gtinDialyzer + "1726122410D-4711"} {
		c.sent(path, url.Values{"action": {"scan"}, "text": {text}})
	}
	page := c.get(path)
	n := 0
	err := s.View(ctx, func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			ev, err := s.Registry().Decode(e)
			if err != nil {
				return err
			}
			var found []inventory.Finding
			switch ev := ev.(type) {
			case *trace.Used:
				found = ev.Findings
			case *trace.ScanStopped:
				found = ev.Findings
			}
			for _, f := range found {
				n++
				if strings.Contains(page.body, ">"+f.Code+"<") {
					t.Errorf("the page shows the code %q", f.Code)
				}
			}
		}
		return nil
	})
	if err != nil || n < 8 {
		t.Errorf("%d findings, %v", n, err)
	}
}

// Two open treatments at one station or on one machine are shown on both pages,
// with the way to the other; it is not refused, since it may be what happened.
func TestAnotherIsOpenHere(t *testing.T) {
	s, c, path := started(t)
	without(t, "alone", c.get(path), "Another treatment is open")
	// P2 is planned at S2, with M2; this one is at S1, with M1.
	without(t, "the plan", c.get("/setup"), "Another treatment is open")
	first := s.treatment().Opened
	for _, x := range []struct {
		trace.Opening
		says string
	}{
		{trace.Opening{Patient: "P1", Station: "S2", Machine: "M1", Another: true}, "Another treatment is open here."},
		{trace.Opening{Patient: "P1", Station: "S1", Machine: "M2", Another: true}, "Another treatment is open on this machine."},
	} {
		seq := s.ok(s.Open(ctx, by("nurse"), x.Opening)).Entries[0].Seq
		c.says("the plan", c.get("/setup"), http.StatusOK, x.says)
		s.ok(s.Correct(ctx, by("nurse"), seq, "opened by mistake"))
	}
	if s.treatment().Opened != first {
		t.Fatal("another one is open")
	}
	open := func(station, machine string) (string, answer) {
		t.Helper()
		a := c.post("/setup", url.Values{"patient": {"P2"}, "station": {station}, "machine": {machine}})
		if a.status != http.StatusSeeOther {
			t.Fatalf("%d\n%s", a.status, a.body)
		}
		return a.header.Get("Location"), c.get(a.header.Get("Location"))
	}
	s.pass(10 * time.Minute)
	for _, x := range []struct{ station, machine, says string }{
		{"S1", "M2", "Another treatment is open at Station 1<"},
		{"S2", "M1", "Another treatment is open on Machine 1<"},
		{"S1", "", "Another treatment is open on Machine 1 at Station 1<"},
	} {
		second, page := open(x.station, x.machine)
		c.says("the second", page, http.StatusOK, x.says, "Imagino Fabelmann", "since 10:00", `href="`+path+`"`)
		c.says("the first", c.get(path), http.StatusOK, x.says, "Rosalba Noxample", "since 10:10", `href="`+second+`"`)
		c.sent(second, url.Values{"action": {"not_done"}, "note": {"Machine out of order"}})
		without(t, "when it is over", c.get(path), "Another treatment is open")
		without(t, "when it is over", c.get(second), "Another treatment is open")
	}
	_, page := open("S2", "M2")
	without(t, "elsewhere", page, "Another treatment is open")
}
