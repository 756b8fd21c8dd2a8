package demo_test

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

func TestTheSameSeedMakesTheSameJournal(t *testing.T) {
	o := small(7, 0.05)
	o.TimeZone = "Europe/Lisbon" // its clocks go back within these days
	o.Until = time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)
	a, b := makeUnit(t, o), makeUnit(t, o)
	if a.truth.Head != b.truth.Head || a.store.Unit() != b.store.Unit() {
		t.Errorf("two runs end at %v and %v, units %s and %s", a.truth.Head, b.truth.Head, a.store.Unit(), b.store.Unit())
	}
	if !reflect.DeepEqual(a.truth, b.truth) {
		t.Error("two runs have two truths")
	}
	o.Seed = 8
	if c := makeUnit(t, o); c.truth.Head == a.truth.Head || c.store.Unit() == a.store.Unit() {
		t.Error("another seed makes the same journal")
	}
}

func TestTruthIsReadAsItWasWritten(t *testing.T) {
	truth := makeUnit(t, small(1, 0.2)).truth
	var file bytes.Buffer
	if err := demo.WriteTruth(&file, truth); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes for %d treatments", file.Len(), len(truth.Treatments))
	again, err := demo.ReadTruth(bytes.NewReader(file.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	var twice bytes.Buffer
	if err := demo.WriteTruth(&twice, again); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(file.Bytes(), twice.Bytes()) {
		t.Error("read and written again it differs")
	}
	if !reflect.DeepEqual(trueUses(again), trueUses(truth)) || len(again.Treatments) != len(truth.Treatments) {
		t.Error("read again it tells of other uses")
	}
	if _, err := demo.ReadTruth(bytes.NewReader([]byte(`{"format":"lotbook demo truth","version":99}`))); err == nil {
		t.Error("a later version is read")
	}
}

// Where nobody errs, the book's balances are what really lies there.
func TestWithoutErrorsTheBookIsRight(t *testing.T) {
	o := small(3, 0)
	o.CountErrors, o.Loss, o.Borrowed, o.Unwritten, o.Mistyped, o.Late = 0, 0, 0, 0, 0, 0
	m := makeUnit(t, o)
	left := map[inventory.LocationID]map[inventory.Lot]int64{}
	for _, x := range m.truth.Left {
		if left[x.Location] == nil {
			left[x.Location] = map[inventory.Lot]int64{}
		}
		left[x.Location][inventory.Lot{Product: x.Product, Number: x.Lot}] = x.Pieces
	}
	// Stopped scans that nobody answered are the one gap that is left.
	place := m.places(t)
	unanswered := map[inventory.LocationID]map[inventory.Lot]int64{}
	for _, c := range m.truth.Treatments {
		for _, us := range c.Used {
			for _, u := range us {
				if u.Entry != 0 {
					continue
				}
				loc := place[c.ID]
				if unanswered[loc] == nil {
					unanswered[loc] = map[inventory.Lot]int64{}
				}
				unanswered[loc][inventory.Lot{Product: u.Product, Number: u.Lot}]++
			}
		}
	}
	compared := 0
	err := m.View(ctx, func(r inventory.Reader) error {
		for loc, lots := range left {
			for l, n := range lots {
				if unanswered[loc][l] > 0 || l.Product == "DLZ-17T" {
					continue
				}
				b, err := inventory.BalanceAt(r, loc, l)
				if err != nil {
					return err
				}
				compared++
				if b.Quantity != n {
					t.Errorf("%s %s at %s: the book has %d, there are %d", l.Product, l.Number, loc, b.Quantity, n)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if compared < 40 {
		t.Errorf("only %d balances compared", compared)
	}
}

// The unit of lotbook demo itself: made, held against its truth, verified.
func TestDefaultUnit(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: the 90 days of the default unit are left out, the small units are not")
	}
	m := makeUnit(t, demo.Defaults(until))
	s := m.holdAgainstTruth(t)
	t.Logf("%d treatments, %d entries; %+v", len(m.truth.Treatments), m.truth.Head.Seq, s)
	if len(m.truth.Notice.Lots) != 1 {
		t.Fatalf("the notice names %v", m.truth.Notice.Lots)
	}
	a, named := m.answer(t, inventory.Lot{Product: m.truth.Notice.Product, Number: m.truth.Notice.Lots[0]})
	t.Logf("the notice's lot: %+v, %d treatments named", a.Counts, len(named))
	if span := a.Mass.Used; span < 40 {
		t.Errorf("%d pieces of the notice's lot were used: too few for a demonstration", span)
	}
	m.toDo(t)
}

// toDo holds that there is something for the setup page: treatments that are
// open, one of them with a stopped scan, and a schedule for today and later.
func (m *made) toDo(t *testing.T) {
	t.Helper()
	open, stopped, planned := 0, 0, 0
	err := m.View(ctx, func(r inventory.Reader) error {
		err := trace.ScanOpen(r, func(tr *trace.Treatment) error {
			open++
			stopped += len(tr.Stopped)
			return nil
		})
		if err != nil {
			return err
		}
		today := inventory.DateOf(until, time.UTC)
		for day := range 3 {
			slots, err := trace.Slots(r, inventory.Shift{Date: today.AddDays(day), Number: 2})
			if err != nil {
				return err
			}
			planned += len(slots)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if open != 4 || stopped != 1 || planned < 30 {
		t.Errorf("%d treatments are open, %d scans wait for an answer, %d are planned", open, stopped, planned)
	}
}

// TestSmallUnitsVerify: makeUnit has each unit's store verified.
func TestSmallUnitsVerify(t *testing.T) {
	for seed := range uint64(3) {
		makeUnit(t, small(seed, 0.2))
	}
}

func BenchmarkDefaultUnit(b *testing.B) {
	for b.Loop() {
		makeUnit(b, demo.Defaults(until))
	}
}
