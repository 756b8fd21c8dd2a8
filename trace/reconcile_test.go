package trace_test

import (
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
