package trace_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

func TestReconcileAShift(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	u.receive("NDL", "N1", "2027-06-30", 50, "cart-a")
	morning := inventory.Shift{Date: "2026-03-02", Number: 1}
	full := func(s *inventory.Shift, dlz, ndl int64) {
		u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-a", Complete: true, Shift: s, Lines: []inventory.CountLine{
			{Product: "DLZ", Lot: "D1", Counted: dlz}, {Product: "NDL", Lot: "N1", Counted: ndl},
		}}))
	}
	full(&inventory.Shift{Date: "2026-03-01", Number: 3}, 20, 50)
	u.clock.pass(10 * time.Minute)
	a := u.open("P1", "S1")
	first := u.scan(a, gtinDialyzer, "D1").Entries[0].Seq
	u.scan(a, gtinNeedle, "N1")
	u.scan(a, gtinNeedle, "N1")
	u.clock.pass(time.Hour)
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: a, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}, Replaces: first, Cause: "clotted"}))
	b := u.open("P2", "S1") // its dialyzer is not scanned
	u.scan(b, gtinNeedle, "N1")
	u.scan(b, gtinNeedle, "N1")
	u.scan(b, gtinNeedle, "N1") // a failed stick
	u.ok(u.NotRecorded(ctx, u.by("nurse"), trace.Unrecorded{Treatment: b, Category: inventory.Dialyzer, Used: true, Cause: "packaging gone"}))
	u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 1}, From: "cart-a", Cause: "dropped"}))
	u.clock.pass(4 * time.Hour)
	u.close(a)
	u.close(b)
	full(&morning, 16, 44) // 4 dialyzers gone: 2 used, 1 not recorded, 1 wasted; 6 needles: 5 used, 1 without a trace

	rec, err := u.Reconcile(ctx, morning)
	if err != nil {
		t.Fatal(err)
	}
	line := func(p inventory.ProductID) trace.Line {
		for _, l := range rec.Lines {
			if l.Product == p && l.Location == "cart-a" {
				return l
			}
		}
		t.Fatalf("no line of %s", p)
		return trace.Line{}
	}
	d := line("DLZ")
	if d.Counted == nil || *d.Counted != 4 || d.Recorded != 3 || d.Used != 2 || d.Wasted != 1 || d.Expected != 2 {
		t.Fatalf("dialyzers %+v", d)
	}
	if *d.CountedLessRecorded != 1 || *d.OpenCountedLessRecorded != 0 || d.RecordedLessExpected != 1 || d.OpenRecordedLessExpected != 0 {
		t.Errorf("dialyzers: differences %d (%d open) and %d (%d open)", *d.CountedLessRecorded, *d.OpenCountedLessRecorded, d.RecordedLessExpected, d.OpenRecordedLessExpected)
	}
	n := line("NDL")
	if *n.Counted != 6 || n.Recorded != 5 || n.Expected != 4 || *n.OpenCountedLessRecorded != 1 || n.OpenRecordedLessExpected != 0 {
		t.Errorf("needles %+v", n)
	}
	// The next shift has no closing count: counted is not known, not zero.
	rec, err = u.Reconcile(ctx, inventory.Shift{Date: "2026-03-02", Number: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range rec.Lines {
		if l.Counted != nil {
			t.Errorf("counted without a count: %+v", l)
		}
	}
}

// A count that names one lot of a product of which the book has two says
// nothing of the product as a whole.
func TestPartialCountIsNoClosing(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	u.receive("DLZ", "D2", "2027-08-31", 10, "cart-a")
	morning := inventory.Shift{Date: "2026-03-02", Number: 1}
	closing := func(lines ...inventory.CountLine) trace.Line {
		u.clock.pass(time.Hour)
		u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-a", Shift: &morning, Lines: lines}))
		rec, err := u.Reconcile(ctx, morning)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range rec.Lines {
			if l.Product == "DLZ" {
				return l
			}
		}
		t.Fatal("no line")
		return trace.Line{}
	}
	if l := closing(inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: 19}); l.Counted != nil {
		t.Errorf("one of two lots was counted, and the product's figure is %d", *l.Counted)
	}
	if l := closing(inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: 19}, inventory.CountLine{Product: "DLZ", Lot: "D2", Counted: 10}); l.Counted == nil || *l.Counted != 1 {
		t.Errorf("both lots were counted: %+v", l)
	}
}

// A recount, and a cart counted in halves: the shift's counts close it
// together, and none makes another unsaid. "Found 0" is a figure.
func TestCountsOfAShiftAddUp(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 4, "cart-a")
	u.receive("SAL", "S1", "2027-06-30", 3, "cart-a")
	morning := inventory.Shift{Date: "2026-03-02", Number: 1}
	count := func(complete bool, lines ...inventory.CountLine) map[inventory.ProductID]trace.Line {
		u.clock.pass(time.Minute)
		u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-a", Shift: &morning, Complete: complete, Lines: lines}))
		rec, err := u.Reconcile(ctx, morning)
		if err != nil {
			t.Fatal(err)
		}
		m := map[inventory.ProductID]trace.Line{}
		for _, l := range rec.Lines {
			m[l.Product] = l
		}
		return m
	}
	got := count(true, inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: 3}, inventory.CountLine{Product: "SAL", Lot: "S1", Counted: 2})
	if l := got["SAL"]; l.Counted == nil || *l.Counted != 1 {
		t.Fatalf("saline %+v", l)
	}
	got = count(false, inventory.CountLine{Product: "SAL", Lot: "S1", Counted: 0, Cause: "two lent, nobody wrote it"})
	if l := got["SAL"]; l.Closing == nil || *l.Closing != 0 || *l.Counted != 3 {
		t.Errorf("saline after the recount %+v", l)
	} else if c := l.Causes[len(l.Causes)-1]; c.Kind != trace.CauseCount || !strings.Contains(c.Text, "two lent") {
		t.Errorf("causes %+v", l.Causes)
	}
	if l := got["DLZ"]; l.Counted == nil || *l.Counted != 1 || len(l.Causes) != 0 {
		t.Errorf("dialyzers after the recount of saline %+v", l)
	}
}

func TestCausesSayWhy(t *testing.T) {
	u := newUnit(t)
	u.receive("SAL", "S1", "2027-06-30", 9, "cart-a")
	st := inventory.Stock{Product: "SAL", Lot: "S1", Quantity: 1}
	u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: st, From: "cart-a", Cause: "dropped"}))
	u.ok(u.Consume(ctx, u.by("nurse"), inventory.Consumed{Stock: st, From: "cart-a", Purpose: "training"}))
	rec, err := u.Reconcile(ctx, inventory.Shift{Date: "2026-03-02", Number: 1})
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, c := range rec.Lines[0].Causes {
		said = append(said, c.Text)
	}
	if strings.Join(said, ", ") != "wasted: dropped, used outside treatments: training" {
		t.Errorf("causes %q", said)
	}
}

// A count written down later is compared with the book of its own time, and one
// of another week closes no shift.
func TestLateCountAndItsShift(t *testing.T) {
	u := newUnit(t)
	u.clock.pass(2 * time.Hour)
	u.receive("DLZ", "D1", "2027-06-30", 9, "cart-a")
	late := inventory.Call{Actor: "stock", Happened: u.clock.at.Add(-time.Hour)}
	c := event[*inventory.Counted](u, u.ok(u.Count(ctx, late, inventory.Counted{Location: "cart-a", Complete: true})))
	if len(c.Lines) != 0 {
		t.Errorf("a count of before the delivery names it: %+v", c.Lines)
	}
	_, err := u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-a", Complete: true, Shift: &inventory.Shift{Date: "2020-01-01", Number: 1}})
	if !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("a count closes a shift of six years ago: %v", err)
	}
}
