package trace_test

import (
	"errors"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// No published example of first expired, first out was found; this one is
// constructed. Each cart uses one dialyzer a day but for Sundays, from Monday 2
// March on. Cart A has 5 that expire on Wednesday the 4th: 3 are used by then, 2
// are left over, and cart B uses 3 of later lots until then.
func TestNextLots(t *testing.T) {
	u := newUnit(t)
	u.weekly("2026-03-02", 13)
	u.receive("DLZ", "LATE", "2026-06-30", 4, "cart-a")
	u.receive("DLZ", "SOON", "2026-03-04", 5, "cart-a")
	u.receive("DLZ", "B1", "2026-05-31", 4, "cart-b")
	u.receive("DLZ", "ROOM", "2027-01-31", 40, "room")
	u.receive("DLZ", "ASIDE", "2027-01-31", 6, "quarantine")
	u.receive("STR", "T1", "2027-01-31", 100, "cart-a")
	u.receive("SAL", "GONE", "2027-01-31", 1, "cart-a")
	u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: inventory.Stock{Product: "SAL", Lot: "GONE", Quantity: 1}, From: "cart-a", Cause: "dropped"}))
	u.receive("SAL", "THERE", "2027-01-31", 5, "cart-a")
	u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: inventory.Stock{Product: "SAL", Lot: "MORE", Quantity: 1}, From: "cart-a", Cause: "dropped"}))
	next := func(q trace.NextQuestion) *trace.NextLots {
		t.Helper()
		n, err := u.Next(ctx, q)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	shelf := func(n *trace.NextLots, place inventory.LocationID, p inventory.ProductID) *trace.NextShelf {
		t.Helper()
		for i := range n.Shelves {
			if s := &n.Shelves[i]; s.Location == place && s.Product == p {
				return s
			}
		}
		t.Fatalf("no shelf of %s at %s", p, place)
		return nil
	}
	n := next(trace.NextQuestion{})
	a := shelf(n, "cart-a", "DLZ")
	if a.NotKnown != "" || len(a.Lots) != 2 || a.Lots[0].Lot.Number != "SOON" || a.Lots[1].Lot.Number != "LATE" {
		t.Fatalf("cart A: %+v", a)
	}
	if l := a.Lots[0]; *l.Left != 2 || l.FirstUsed != "2026-03-02" || l.LastUsed != "" || len(l.Elsewhere) != 1 || l.Elsewhere[0] != (inventory.CouldUse{Location: "cart-b", Pieces: 2}) {
		t.Errorf("the first lot: %+v, left %d", l, *l.Left)
	}
	// Thursday to Saturday, and Monday the 9th.
	if l := a.Lots[1]; *l.Left != 0 || l.FirstUsed != "2026-03-05" || l.LastUsed != "2026-03-09" {
		t.Errorf("the second lot: %+v", l)
	}
	if l := shelf(n, "quarantine", "DLZ").Lots[0]; l.Standing != inventory.StandsHeld || l.Left != nil {
		t.Errorf("quarantine: %+v", l)
	}
	// The room serves both from Friday the 6th (cart B) and the 10th (cart A) on:
	// 2 to Monday the 9th, then 2 a day.
	if l := shelf(n, "room", "DLZ").Lots[0]; l.FirstUsed != "2026-03-06" || l.LastUsed == "" || *l.Left != 0 {
		t.Errorf("the room: %+v", l)
	}
	if s := shelf(n, "cart-a", "STR"); s.NotKnown == "" || s.Lots[0].Left != nil {
		t.Errorf("without a plan: %+v", s)
	}
	var standings []inventory.Standing
	for _, l := range shelf(n, "cart-a", "SAL").Lots {
		standings = append(standings, l.Standing)
	}
	if len(standings) != 3 || standings[0] != inventory.StandsToTake || standings[1] != inventory.StandsBelowZero || standings[2] != inventory.StandsNone {
		t.Errorf("saline: %v", standings)
	}
	for _, s := range next(trace.NextQuestion{Location: "cart-b", Product: "DLZ"}).Shelves {
		if s.Location != "cart-b" || s.Product != "DLZ" {
			t.Errorf("not asked for: %+v", s)
		}
	}
	if _, err := u.Next(ctx, trace.NextQuestion{Location: "cellar"}); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("an unknown place: %v", err)
	}
	if _, err := u.Next(ctx, trace.NextQuestion{Product: "NONE"}); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("an unknown product: %v", err)
	}
	u.clock.pass(60 * 24 * time.Hour) // the schedule is long over
	if s := shelf(next(trace.NextQuestion{}), "room", "DLZ"); s.NotKnown == "" || s.Lots[0].Left != nil || s.Lots[0].FirstUsed != "" {
		t.Errorf("nothing planned: %+v", s)
	}
}
