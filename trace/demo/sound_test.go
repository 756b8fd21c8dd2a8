package demo_test

import (
	"fmt"
	"slices"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// main are the categories that the unit keeps by lot.
func mainCategories() []inventory.Category {
	var cs []inventory.Category
	for _, n := range inventory.DefaultRules().Needs {
		if n.Scan {
			cs = append(cs, n.Category)
		}
	}
	return cs
}

// lotsOnRecord returns the lots that the journal names of the products of a
// category, and the numbers that were struck out again.
func (m *made) lotsOnRecord(t *testing.T, c inventory.Category) []inventory.Lot {
	t.Helper()
	var lots []inventory.Lot
	err := m.View(ctx, func(r inventory.Reader) error {
		products, err := m.Products(r)
		if err != nil {
			return err
		}
		for _, p := range products {
			if p.Category != c {
				continue
			}
			ids := []inventory.ProductID{p.ID}
			for _, k := range p.Packs {
				ids = append(ids, inventory.ProvisionalID(k.GTIN))
			}
			for _, id := range ids {
				facts, err := inventory.LotsOf(r, id)
				if err != nil {
					return err
				}
				for _, f := range facts {
					l := inventory.Lot{Product: p.ID, Number: f.Lot.Number}
					if l.Number != "" && !slices.Contains(lots, l) {
						lots = append(lots, l)
					}
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return lots
}

// answer returns the treatments that an answer names, each with its surest
// grade, and what it says of each.
func (m *made) answer(t *testing.T, l inventory.Lot) (*trace.LotAnswer, map[trace.TreatmentID]trace.Exposure) {
	t.Helper()
	a, err := m.Exposures(ctx, trace.Question{Product: string(l.Product), Lot: l.Number})
	if err != nil {
		t.Fatal(err)
	}
	named := map[trace.TreatmentID]trace.Exposure{}
	for i := range a.Unrecorded {
		named[a.Unrecorded[i].Treatment] = a.Unrecorded[i]
	}
	err = m.EachConfirmed(ctx, a, func(x *trace.Exposure) error {
		named[x.Treatment] = *x
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return a, named
}

// trueUses returns the treatments that really used a lot.
func trueUses(truth *demo.Truth) map[inventory.Lot]map[trace.TreatmentID]*demo.Use {
	used := map[inventory.Lot]map[trace.TreatmentID]*demo.Use{}
	for _, tr := range truth.Treatments {
		for _, us := range tr.Used {
			for _, u := range us {
				l := inventory.Lot{Product: u.Product, Number: u.Lot}
				if used[l] == nil {
					used[l] = map[trace.TreatmentID]*demo.Use{}
				}
				used[l][tr.ID] = u
			}
		}
	}
	return used
}

// A sum adds up what answers say beside what is true.
type sum struct {
	lots, uses, confirmed, probable, probableTrue, open, openTrue int
}

// holdAgainstTruth asks for every lot on record of the categories kept by lot.
// Every confirmed exposure must be true, no true one may be missing, and the
// mass balance must close and agree with the balances. The truth comes from the
// simulation, which does not look at the journal.
func (m *made) holdAgainstTruth(t *testing.T) sum {
	t.Helper()
	var s sum
	used := trueUses(m.truth)
	for _, c := range mainCategories() {
		lots := m.lotsOnRecord(t, c)
		if len(lots) == 0 && !m.mayLackLots {
			t.Errorf("no lot of %s is on record", c)
		}
		for _, l := range lots {
			a, named := m.answer(t, l)
			s.lots++
			s.hold(t, l, a, named, used[l])
			m.massCloses(t, l, a)
		}
	}
	return s
}

// hold holds what an answer names against the true exposures of its lot.
func (s *sum) hold(t *testing.T, l inventory.Lot, a *trace.LotAnswer, named map[trace.TreatmentID]trace.Exposure, used map[trace.TreatmentID]*demo.Use) {
	t.Helper()
	for id, x := range named {
		_, really := used[id]
		switch x.Grade {
		case trace.Confirmed:
			s.confirmed++
			if !really {
				t.Errorf("%s %s: treatment %s is confirmed (entry %d) and did not use it: %s", l.Product, l.Number, id, x.Entry, x.Why)
			}
		case trace.Probable:
			s.probable++
			if really {
				s.probableTrue++
			}
		default:
			s.open++
			if really {
				s.openTrue++
			}
		}
	}
	for id, u := range used {
		s.uses++
		if _, ok := named[id]; !ok {
			t.Errorf("%s %s: treatment %s used it at %s (recorded by entry %d, through %q) and is not listed; the lot was here from %s to %s, holders %+v",
				l.Product, l.Number, id, u.At, u.Entry, u.Through, a.First, a.Last, a.Holders)
		}
	}
}

// massCloses holds the mass balance to the piece and to the balances.
func (m *made) massCloses(t *testing.T, l inventory.Lot, a *trace.LotAnswer) {
	t.Helper()
	if a.Mass.In() != a.Mass.Out() {
		t.Errorf("%s %s: %d in and %d out: %+v", l.Product, l.Number, a.Mass.In(), a.Mass.Out(), a.Mass)
	}
	var left int64
	for _, b := range a.Left {
		left += b.Quantity
	}
	if left != a.Mass.OnHand+a.Mass.Held {
		t.Errorf("%s %s: %d left and %+v", l.Product, l.Number, left, a.Mass)
	}
	err := m.View(ctx, func(r inventory.Reader) error {
		for _, b := range a.Left {
			have, err := inventory.BalanceAt(r, b.Location, b.Lot)
			if err != nil {
				return err
			}
			if have.Quantity != b.Quantity {
				t.Errorf("%s %s at %s: the lot's ledger leaves %d, the balance is %d", b.Lot.Product, b.Lot.Number, b.Location, b.Quantity, have.Quantity)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func (s *sum) add(o sum) {
	s.lots += o.lots
	s.uses += o.uses
	s.confirmed += o.confirmed
	s.probable += o.probable
	s.probableTrue += o.probableTrue
	s.open += o.open
	s.openTrue += o.openTrue
}

func (s sum) String() string {
	unrecorded := s.uses - s.confirmed
	return fmt.Sprintf("%d lots, %d true exposures, %d confirmed, %d not recorded; listed for these: %d probable (%d true), %d cannot be excluded (%d true)",
		s.lots, s.uses, s.confirmed, unrecorded, s.probable, s.probableTrue, s.open, s.openTrue)
}

func TestAnswersAgainstTruth(t *testing.T) {
	for _, miss := range []float64{0, 0.05, 0.2, 0.5} {
		var all sum
		for seed := uint64(1); seed <= 6; seed++ {
			t.Run(fmt.Sprintf("miss %.0f%%/seed %d", 100*miss, seed), func(t *testing.T) {
				all.add(makeUnit(t, small(seed, miss)).holdAgainstTruth(t))
			})
		}
		t.Logf("miss %.0f%%: %s", 100*miss, all)
	}
}
