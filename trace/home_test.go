package trace_test

import (
	"errors"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A home patient whose store has the lot is in the answer, and the pieces there
// are still this unit's.
func TestHomePatientsAreInTheAnswer(t *testing.T) {
	u := newUnit(t)
	for _, l := range []inventory.Location{
		{ID: "home-1", Name: "Home store 1", Type: inventory.HomeStore, Patient: "P1"},
		{ID: "home-2", Name: "Home store 2", Type: inventory.HomeStore, Patient: "P2"},
	} {
		u.ok(u.SetLocation(ctx, u.by("stock"), l))
	}
	u.receive("DLZ", "D1", "2027-06-30", 20, "room")
	st := func(n int64) inventory.Stock { return inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: n} }
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: st(6), From: "room", To: "home-1"}, inventory.Moved{Stock: st(6), From: "room", To: "home-2"}))
	u.clock.pass(24 * time.Hour)
	u.ok(u.Consume(ctx, u.by("nurse"), inventory.Consumed{Stock: st(2), From: "home-1"}))
	a, xs := u.exposures(gtinDialyzer, "D1")
	if len(xs) != 0 || len(a.Homes) != 2 {
		t.Fatalf("%d exposures, homes %+v", len(xs), a.Homes)
	}
	if h := a.Homes[0]; h.Patient != "P1" || h.Grade != trace.Confirmed || h.Supplied != 6 || h.Used != 2 || h.Name == "" {
		t.Errorf("used at home: %+v", h)
	}
	if h := a.Homes[1]; h.Grade != trace.Probable {
		t.Errorf("nobody said what was used: %+v", h)
	}
	if a.Counts[0].Patients != 1 || a.Counts[1].Patients != 1 {
		t.Errorf("counts %+v", a.Counts)
	}
	want := inventory.MassBalance{Received: 20, Used: 2, OnHand: 18}
	if a.Mass != want {
		t.Errorf("mass %+v, want %+v", a.Mass, want)
	}
	// All of it comes back: that patient had none.
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: st(6), From: "home-2", To: "room"}))
	if a, _ = u.exposures(gtinDialyzer, "D1"); len(a.Homes) != 1 || len(a.Limits) != 1 {
		t.Errorf("after it came back: %+v, limits %q", a.Homes, a.Limits)
	}
}

// What is only at home is not in the unit: a treatment here without a record
// can't have had it, once the rest is accounted for.
func TestWhatIsAtHomeIsNotHere(t *testing.T) {
	u := newUnit(t)
	u.ok(u.SetLocation(ctx, u.by("stock"), inventory.Location{ID: "home-1", Name: "Home store", Type: inventory.HomeStore, Patient: "P1"}))
	u.receive("DLZ", "D1", "2027-06-30", 6, "room")
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 6}, From: "room", To: "home-1"}))
	u.clock.pass(time.Hour)
	u.treated("P2", "S1")
	if a, xs := u.exposures(gtinDialyzer, "D1"); len(xs) != 0 || len(a.Homes) != 1 {
		t.Errorf("%+v, homes %+v", xs, a.Homes)
	}
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 1}, From: "home-1", To: "cart-a"}))
	u.clock.pass(time.Hour)
	back := u.treated("P2", "S1")
	if _, xs := u.exposures(gtinDialyzer, "D1"); grades(xs)[back] == "" {
		t.Errorf("one came back and could be used: %+v", xs)
	}
}

// Another unit keeps a balance of its own: what it was lent is transferred out.
func TestLendingKeepsABalance(t *testing.T) {
	u := newUnit(t)
	u.ok(u.SetLocation(ctx, u.by("stock"), inventory.Location{ID: "north", Name: "Unit North", Type: inventory.OtherUnit}))
	u.receive("DLZ", "D1", "2027-06-30", 20, "room")
	st := func(n int64) inventory.Stock { return inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: n} }
	lent := event[*inventory.Departed](u, u.ok(u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: st(5), From: "room", How: inventory.HowLent, Other: "unit north"})))
	if lent.To != "north" || lent.Other != "Unit North" {
		t.Errorf("lent to %q, %q", lent.To, lent.Other)
	}
	u.ok(u.Borrow(ctx, u.by("stock"), inventory.Borrowed{Stock: st(2), To: "room", Other: "north"}))
	away := u.ok(u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: st(1), From: "room", How: inventory.HowLent, Other: "a unit without a place"}))
	u.ok(u.Correct(ctx, u.by("stock"), away.Entries[0].Seq, "did not happen"))
	a, _ := u.exposures(gtinDialyzer, "D1")
	want := inventory.MassBalance{Received: 20, TransferredIn: 2, TransferredOut: 5, OnHand: 17}
	if a.Mass != want || a.Mass.In() != a.Mass.Out() {
		t.Errorf("mass %+v, want %+v", a.Mass, want)
	}
	if len(a.Lent) != 1 || a.Lent[0].Location != "north" || a.Lent[0].Quantity != 3 {
		t.Errorf("lent %+v", a.Lent)
	}
	if _, err := u.Move(ctx, u.by("stock"), inventory.Moved{Stock: st(1), From: "room", To: "north"}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("a move to another unit: %v", err)
	}
	if _, err := u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: st(1), From: "room", How: inventory.HowDestroyed, Other: "Stock"}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("destroyed before its author: %v", err)
	}
}
