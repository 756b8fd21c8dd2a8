package demo_test

import (
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// leftOut adds up what really went from a place without an entry in (from, to]:
// it is what counted less recorded must be.
func leftOut(truth *demo.Truth, place map[trace.TreatmentID]inventory.LocationID, l *trace.Line, from time.Time) int64 {
	in := func(at time.Time) bool { return at.After(from) && !at.After(l.To) }
	var n int64
	for _, tr := range truth.Treatments {
		if place[tr.ID] != l.Location {
			continue
		}
		for _, us := range tr.Used {
			for _, u := range us {
				if u.Entry == 0 && u.Product == l.Product && in(u.At) {
					n += u.Pieces
				}
			}
		}
	}
	for _, x := range truth.NotWritten {
		if x.Product != l.Product || !in(x.At) {
			continue
		}
		if x.From == l.Location {
			n += x.Pieces
		}
		if x.To == l.Location {
			n -= x.Pieces
		}
	}
	return n
}

// lastCount returns when the count was made that a line starts from: at its
// From, or, where the opening is by the book, the last complete one before.
func (m *made) lastCount(t *testing.T, l *trace.Line) time.Time {
	t.Helper()
	at := l.From
	if l.OpeningCounted {
		return at
	}
	err := m.View(ctx, func(r inventory.Reader) error {
		return inventory.ScanCountsBack(r, l.Location, l.From, func(c *inventory.Count) error {
			if !c.Complete {
				return nil
			}
			at = c.At
			return inventory.ErrStop
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// wrongCount reports whether a count that a line rests on was wrong about its
// product: the one that it starts from or the one that closes it.
func wrongCount(truth *demo.Truth, l *trace.Line, from time.Time) bool {
	for _, e := range truth.CountErrors {
		if e.Location == l.Location && e.Product == l.Product && (e.At.Equal(l.To) || e.At.Equal(from)) {
			return true
		}
	}
	return false
}

// places returns the place of each treatment.
func (m *made) places(t *testing.T) map[trace.TreatmentID]inventory.LocationID {
	t.Helper()
	place := map[trace.TreatmentID]inventory.LocationID{}
	err := m.View(ctx, func(r inventory.Reader) error {
		for _, tr := range m.truth.Treatments {
			row, err := trace.TreatmentByID(r, tr.ID)
			if err != nil {
				return err
			}
			place[tr.ID] = row.Location
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return place
}

// Counted less recorded is, in every shift, place and product whose counts were
// right, exactly what was left out since the count that it starts from.
func TestReconciliationAgainstTruth(t *testing.T) {
	for _, o := range []demo.Options{small(1, 0), small(2, 0.05), small(3, 0.2), small(4, 0.5), mixedUnit(5, 0.2)} {
		m := makeUnit(t, o)
		place := m.places(t)
		compared, differing, passed := 0, 0, 0
		for day := range o.Days {
			date := inventory.DateOf(until, time.UTC).AddDays(-o.Days + day)
			for n := 1; n <= o.Shifts; n++ {
				rec, err := m.Reconcile(ctx, inventory.Shift{Date: date, Number: n})
				if err != nil {
					t.Fatal(err)
				}
				for i := range rec.Lines {
					l := &rec.Lines[i]
					if l.Counted == nil {
						continue
					}
					from := m.lastCount(t, l)
					if wrongCount(m.truth, l, from) {
						passed++
						continue
					}
					compared++
					if *l.CountedLessRecorded != 0 {
						differing++
					}
					if want := leftOut(m.truth, place, l, from); *l.CountedLessRecorded != want {
						t.Errorf("miss %v, %s, %s at %s: counted less recorded is %d, left out were %d: %+v", o.Miss, rec.Shift, l.Product, l.Location, *l.CountedLessRecorded, want, l)
					}
				}
			}
		}
		if compared < 1000 || differing == 0 {
			t.Errorf("only %d lines compared, %d of them with a difference", compared, differing)
		}
		t.Logf("miss %v: %d lines compared, %d of them with a difference; %d passed over for a wrong count", o.Miss, compared, differing, passed)
	}
}
