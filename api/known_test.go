package api_test

import (
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// A scan without separators of a known product is taken alone only where the
// order of its identifiers and the shape of lot and serial both are those of
// earlier scans that left no doubt. The texts are element strings as the GS1
// General Specifications, section 3, lay them out, with and without U+001D.
func TestKnownLabelsSettleALostSeparator(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	text := func(lot, sep, serial string) m {
		return m{"codes": []string{"01" + gtinDialyzer + "17280331" + "10" + lot + sep + "21" + serial}}
	}
	asks := func(what string, body m) {
		t.Helper()
		if a := s.scan(id, body).want(http.StatusOK); a.text("outcome") != "needs_choice" {
			t.Errorf("%s: not asked: %s", what, a.body)
		}
	}
	asks("nothing known", text("AB4711", "", "30021"))
	// What a person typed teaches nothing of the label.
	s.scan(id, m{"gtin": gtinDialyzer, "lot": "AB4700", "serial": "30001", "expires": "2028-03-31"}).want(http.StatusCreated)
	asks("only typed before", text("AB4711", "", "30021"))

	first := s.scan(id, m{"codes": []string{"]d2" + text("AB4712", "\x1d", "30022")["codes"].([]string)[0]}}).want(http.StatusCreated)
	a := s.scan(id, text("AB4713", "", "30023")).want(http.StatusCreated)
	if a.text("taken_as", "lot") != "AB4713" || a.text("taken_as", "serial") != "30023" || !strings.Contains(string(a.body), "separator_known") || !strings.Contains(string(a.body), "reading_chosen") {
		t.Errorf("known product: %s", a.body)
	}
	if len(a.list("other_readings")) < 2 {
		t.Errorf("the other readings are not listed: %s", a.body)
	}
	asks("another shape of lot", text("AB471", "", "30024"))
	asks("another shape of serial", text("AB4714", "", "3002X"))
	asks("another order", m{"codes": []string{"01" + gtinDialyzer + "10AB4715" + "17280331" + "2130025"}})

	// The choices keep their numbers whatever is learned in between: the answer
	// is about what was shown.
	ask := text("CD47", "", "30026")
	choices := s.scan(id, ask).want(http.StatusOK)
	at := 0
	for i := range choices.list("choices") {
		if choices.text("choices", i, "lot") == "CD472130026" {
			at = i + 1
		}
	}
	if at == 0 {
		t.Fatalf("no such choice: %s", choices.body)
	}
	s.scan(id, m{"codes": []string{"]d2" + text("EF48", "\x1d", "30027")["codes"].([]string)[0]}}).want(http.StatusCreated)
	ask["choice"] = at
	if a := s.scan(id, ask).want(http.StatusCreated); a.text("taken_as", "lot") != "CD472130026" || a.text("taken_as", "serial") != "" {
		t.Errorf("choice %d was taken as another: %s", at, a.body)
	}

	// Struck out, the scan that taught the first shape teaches no more.
	s.scan(id, text("AB4716", "", "30028")).want(http.StatusCreated)
	s.do(account.Nurse, "POST", "/v1/corrections", m{"entry": first.number("entry"), "reason": "another pack"}).want(http.StatusCreated)
	asks("its teacher struck out", text("AB4717", "", "30029"))
}
