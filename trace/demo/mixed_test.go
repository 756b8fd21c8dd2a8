package demo_test

import (
	"fmt"
	"slices"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// mixedUnit is a small unit with tanks, kits, numbered vials and a home patient.
func mixedUnit(seed uint64, miss float64) demo.Options {
	o := small(seed, miss)
	o.Mixed = true
	return o
}

// Lots are traced through batches, kits and opened vials as well as by their own
// packs: asked for every lot that the journal names or that was truly used, with
// scans, contents of kits, lots of inputs and ends of feeds left out.
func TestMixedAnswersAgainstTruth(t *testing.T) {
	for _, miss := range []float64{0, 0.05, 0.2, 0.5} {
		var all, through sum
		for seed := uint64(1); seed <= 3; seed++ {
			t.Run(fmt.Sprintf("miss %.0f%%/seed %d", 100*miss, seed), func(t *testing.T) {
				m := makeUnit(t, mixedUnit(seed, miss))
				all.add(m.holdAgainstTruth(t))
				through.add(m.holdThrough(t))
				m.holdHomes(t)
			})
		}
		t.Logf("miss %.0f%%: all kept by lot: %s", 100*miss, all)
		t.Logf("miss %.0f%%: through kits and batches: %s", 100*miss, through)
	}
}

// holdThrough asks for the lots that met a patient through a kit or a batch, and
// for all lots of what goes into batches.
func (m *made) holdThrough(t *testing.T) sum {
	t.Helper()
	var s sum
	used := trueUses(m.truth)
	lots := m.lotsOnRecord(t, inventory.OtherCategory)
	for l, by := range used {
		for _, u := range by {
			if u.Through != "" && !slices.Contains(lots, l) {
				lots = append(lots, l)
			}
		}
	}
	for _, l := range lots {
		a, named := m.answer(t, l)
		s.lots++
		s.hold(t, l, a, named, used[l])
		m.massCloses(t, l, a)
	}
	if s.lots < 5 || s.uses < 50 {
		t.Errorf("only %d lots and %d true exposures through kits and batches", s.lots, s.uses)
	}
	return s
}

// holdHomes: the home patient is in the answer of each lot that was sent there.
func (m *made) holdHomes(t *testing.T) {
	t.Helper()
	if len(m.truth.Home) == 0 {
		t.Error("nothing was sent home")
	}
	for _, h := range m.truth.Home {
		a, _ := m.answer(t, inventory.Lot{Product: h.Product, Number: h.Lot})
		if !slices.ContainsFunc(a.Homes, func(x trace.HomeExposure) bool { return x.Patient == h.Patient }) {
			t.Errorf("%s %s was sent to %s, who is not in the answer: %+v", h.Product, h.Lot, h.Patient, a.Homes)
		}
	}
}
