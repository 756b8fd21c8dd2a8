package demo_test

import (
	"strings"
	"testing"

	"lotbook/trace"
)

// In a unit with tanks, kits and a home patient: what is mixed in the unit is not
// ordered, what it is mixed from and what comes in place of what is planned are
// forecast by the record, and nothing out of the house counts as stock.
func TestProposalOfAMixedUnit(t *testing.T) {
	o := small(1, 0.03)
	o.Stations, o.Mixed, o.Days = 18, true, 42
	m := makeUnit(t, o)
	p, err := m.Propose(ctx, trace.OrderQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	made := p.Of("ACM-K2")
	if made.Quantity != nil || !strings.Contains(strings.Join(made.NotKnown, "\n"), "made in the unit") {
		t.Errorf("what is mixed here: %+v", made)
	}
	for _, id := range []string{"ACB-K2", "KIT-AV"} {
		for i := range p.Lines {
			if l := &p.Lines[i]; string(l.Product) == id && (l.Forecast == nil || l.Forecast.Basis != trace.BasisRecord || l.Forecast.Ratio <= 0) {
				t.Errorf("%s: %v, %+v", id, l.NotKnown, l.Forecast)
			}
		}
	}
	n, err := m.Next(ctx, trace.NextQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range n.Shelves {
		if s.Location == "home-1" {
			t.Errorf("a home patient's store is listed: %+v", s)
		}
	}
	if _, err := m.Next(ctx, trace.NextQuestion{Location: "home-1"}); err == nil {
		t.Error("a home patient's store is asked about and answered")
	}
}
