package reports_test

import (
	"strings"
	"testing"
	"time"

	"lotbook/reports"
	"lotbook/trace"
	"lotbook/trace/associate"
)

// A published table with a zero cell (Kidney International 57:1668, 2000: 13 of
// 118 against 0 of 118) as it stands in a workbook: the odds ratio is a word,
// the bound a number, and what can't be compared is neither a zero nor a one.
func TestComparisonWorkbook(t *testing.T) {
	by := reports.Asked{By: "An officer", At: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC), Unit: "Invented", Zone: time.UTC}
	m := associate.Measure(associate.Table{A: 13, B: 105, C: 0, D: 118}, 0.95)
	none := associate.Measure(associate.Table{A: 118, C: 118}, 0.95)
	x := trace.Contrast{
		Cases: trace.Split{Met: 13, NotMet: 105}, Others: trace.Split{NotMet: 118}, Known: m, Least: m, Most: m, NotMet: m, Met: m, Corrected: 0.5e-9, FalseShare: 1,
	}
	c := &trace.Comparison{
		At: by.At, From: "2026-03-01", To: "2026-03-02", Alpha: 0.05, Looked: 1, Limits: []string{"Association is not cause."},
		Cases: []trace.FoundCase{{Treatment: "T1", Patient: "P1", Start: by.At}},
		Factors: []trace.SharedFactor{{
			Factor:     trace.Factor{Kind: trace.FactorLot, ID: "D-1", Product: "DLZ", Name: "Dialyzer", Via: []string{"batch", "kit"}},
			Treatments: x, Patients: trace.Contrast{Cases: trace.Split{Met: 118}, Others: trace.Split{Met: 118}, Known: none, Least: none, Most: none, Corrected: 1, FalseShare: 1},
			StandsOut: true, Words: "words",
		}},
	}
	wb := reports.Comparison(c, by)
	if err := wb.Check(); err != nil {
		t.Fatal(err)
	}
	first := wb.Sheets[0].Summary.Sections[0]
	if !first.Caution || !strings.Contains(strings.Join(first.Text, " "), "Association is not cause.") {
		t.Errorf("what it can't tell does not come first: %+v", first)
	}
	row := rowOf(t, wb.Sheets[1].Table)
	for header, want := range map[string]reports.Cell{
		"Number": reports.Text("D-1"), "Met through": reports.Text("batch, kit"), "Cases met": reports.Integer(13), "Others met": reports.Integer(0),
		"Odds ratio": reports.Mark("infinite"), "95 % to": reports.Mark("infinite"), "p": reports.Decimal(172, 6), "p corrected": reports.Text("<0.000001"),
		"Share of false ones": reports.Decimal(1_000_000, 6), "Stands out": reports.Flag(true),
	} {
		if row[header] != want {
			t.Errorf("%s: %+v, want %+v", header, row[header], want)
		}
	}
	if low := row["95 % from"]; low.Kind() != reports.KindDecimal || low.Int() < 3300 || low.Int() > 3320 { // 3.31
		t.Errorf("the lower bound is %+v", low)
	}
	patients := rowOf(t, wb.Sheets[3].Table)
	if patients["Odds ratio"] != reports.Mark("not defined") || patients["95 % from"].Int() != 0 || patients["p"] != reports.Decimal(1_000_000, 6) {
		t.Errorf("%+v", patients)
	}
	if at := rowOf(t, wb.Sheets[4].Table)["Reaction at"]; at != reports.NotRecorded() {
		t.Errorf("a time that nobody knows is %+v", at)
	}
	for _, f := range []struct {
		factor trace.Factor
		want   string
	}{
		{c.Factors[0].Factor, "Dialyzer, lot D-1"},
		{trace.Factor{Kind: trace.FactorShift, ID: "2"}, "shift 2 of the day"},
		{trace.Factor{Kind: trace.FactorMachine, ID: "M1"}, "machine M1"},
		{trace.Factor{Kind: trace.FactorLot, ID: "X", Product: "gtin:1"}, "gtin:1, lot X"},
	} {
		if got := reports.FactorText(&f.factor); got != f.want {
			t.Errorf("%q, want %q", got, f.want)
		}
	}
}
