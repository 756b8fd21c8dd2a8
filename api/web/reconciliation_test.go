package web_test

import (
	"html"
	"net/http"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// rowOf returns a product's row of the reconciliation.
func rowOf(t *testing.T, a answer, product string) string {
	t.Helper()
	for _, row := range strings.Split(a.body, "<tr>")[1:] {
		if row, _, _ = strings.Cut(row, "</tr>"); strings.Contains(row, "<summary><span>"+product+"<br>") {
			return html.UnescapeString(row)
		}
	}
	t.Fatalf("no row of %s:\n%s", product, a.body)
	return ""
}

// An open difference is told by its figures; what may be behind it is told as a
// guess. The figures are worked out by hand: opening + in − out − closing, less
// what is recorded, less what the treatments without a record explain.
func TestDifferencesAreToldByWhatIsKnown(t *testing.T) {
	s := newSite(t)
	var ids []trace.TreatmentID
	for patient, station := range map[trace.PatientID]trace.StationID{"P1": "S1", "P2": "S2"} {
		ev, err := s.Registry().Decode(s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: patient, Station: station})).Entries[0])
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, ev.(*trace.Opened).Treatment)
	}
	s.ok(s.Scan(ctx, by("nurse"), trace.Scan{Treatment: ids[0], How: trace.Scanned, Stock: inventory.Stock{Product: "A2K", Lot: "A-882", Quantity: 1}}))
	s.pass(75 * time.Minute)
	for _, id := range ids {
		s.ok(s.Close(ctx, by("nurse"), trace.Closing{Treatment: id, Minutes: 70}))
	}
	s.pass(10 * time.Minute)
	s.ok(s.Count(ctx, by("stock"), inventory.Counted{
		Location: "cart-a", Shift: &inventory.Shift{Date: "2026-11-25", Number: 1}, Lines: []inventory.CountLine{
			{Product: "DLZ", Lot: "D-4711", Counted: 19},
			{Product: "DLZ", Lot: "D-385", Counted: 2},
			{Product: "A2K", Lot: "A-882", Counted: 8},
			{Product: "NDL", Lot: "N-55", Counted: 100},
			{Product: "SAL", Lot: "S-100", Counted: 22},
			{Product: "STR", Lot: "T-9", Counted: 99},
		},
	}))
	page := newClient(t, s, "stock").get("/reconciliation?date=2026-11-25&shift=1")
	for product, words := range map[string][]string{
		// 26 − 21 = 5 gone, none recorded, 2 explained.
		"Dialyzer 1.8 m²": {"+3 open", "3 pieces more gone by the counts than explained, with nothing recorded", "Perhaps used and not written down, lost"},
		// 8 − 8 = 0 gone, 1 recorded, 1 explained.
		"Acid concentrate 45X K 2.0": {"−2 open", "2 pieces fewer gone by the counts than recorded and explained", "Perhaps written down and not used"},
		// 100 − 100 = 0 gone, none recorded, 4 expected.
		"Fistula needle 15 G": {"−4 open", "Expected 4, nothing gone by the counts and nothing recorded"},
		// 20 − 22 = −2 gone.
		"Saline 0.9% 1 L": {"2 pieces more at the closing count than there can have been by the book", "Perhaps brought in without an entry"},
		// 100 − 99 = 1 gone, none recorded or explained.
		"Chlorine test strip": {"+1 open", "1 piece more gone by the counts than recorded<"},
	} {
		row := rowOf(t, page, product)
		for _, w := range words {
			if !strings.Contains(row, w) {
				t.Errorf("%s: it is not said %q:\n%s", product, w, row)
			}
		}
		if _, means, _ := strings.Cut(row, `class="means"`); product != "Acid concentrate 45X K 2.0" && strings.Contains(means, "written down and not used") {
			t.Errorf("%s: nothing was written down, and it is said to be:\n%s", product, row)
		}
	}
}

// A shift that has not begun is not one that runs, and every shift's page has
// the caution.
func TestShiftsAheadNowAndBefore(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "stock")
	for date, words := range map[string]string{"2099-01-05": "This shift lies ahead", "2026-11-25": "This shift is still running", "2026-11-24": "Nothing moved"} {
		page := c.get("/reconciliation?date=" + date + "&shift=1")
		c.says(date, page, http.StatusOK, words, "<b>Caution.</b>", "does not replace the prescription check")
		for _, other := range []string{"lies ahead", "still running"} {
			if !strings.Contains(words, other) {
				without(t, date, page, other)
			}
		}
	}
	without(t, "ahead", c.get("/reconciliation?date=2099-01-05&shift=1"), "open differences", "not counted", "workbook")
	c.says("when it begins", c.get("/reconciliation?date=2099-01-05&shift=1"), http.StatusOK, "It begins on 2099-01-05")
}
