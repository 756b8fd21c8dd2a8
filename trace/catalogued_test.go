package trace_test

import (
	"errors"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// What was received, counted and used under a number that was in no catalogue is
// the product's once it has that number: in balances, lots, what to take next,
// the lot's answer, the shift's reconciliation, the order. Given to another
// product it goes with the number, and taken away it is kept under it again.
func TestCataloguedLater(t *testing.T) {
	u := newUnit(t)
	unknown := inventory.ProvisionalID(gtinUncatalogd)
	piece := func(n int64) inventory.Stock {
		return inventory.Stock{GTIN: gtinUncatalogd, Lot: "U1", Expires: "2027-01-31", Quantity: n}
	}
	u.ok(u.PlaceOrder(ctx, u.by("stock"), inventory.Order{ID: "PO-1", Supplier: "Invented Supplies", Lines: []inventory.OrderLine{{Product: "DLZ", Quantity: 30}}}))
	came := u.ok(u.Receive(ctx, u.by("stock"), inventory.Received{Stock: piece(30), To: "room", Order: "PO-1"}))
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: piece(12), From: "room", To: "cart-a"}))
	u.receive("DLZ", "U1", "", 3, "cart-a") // typed by its name, the same lot
	morning := inventory.Shift{Date: "2026-03-02", Number: 1}
	count := func(s *inventory.Shift, known, number int64) {
		u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-a", Complete: true, Shift: s, Lines: []inventory.CountLine{
			{Product: "DLZ", Lot: "U1", Counted: known}, {Product: unknown, Lot: "U1", Counted: number},
		}}))
	}
	count(&inventory.Shift{Date: "2026-03-01", Number: 3}, 3, 12)
	u.clock.pass(10 * time.Minute)
	a := u.open("P1", "S1")
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: a, Category: inventory.Dialyzer, Reason: "agreed", Stock: piece(1)}))
	u.clock.pass(4 * time.Hour)
	u.close(a)
	count(&morning, 3, 10) // 2 are gone: 1 used, 1 without a trace

	set := func(id inventory.ProductID, packs ...inventory.Pack) {
		u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: id, Name: "Dialyzer 1.8", Category: inventory.Dialyzer, Packs: packs}))
	}
	each, further := inventory.Pack{Level: inventory.LevelEach, GTIN: gtinDialyzer, Holds: 1}, inventory.Pack{Level: inventory.LevelEach, GTIN: gtinUncatalogd, Holds: 1}
	balances := func(want map[inventory.ProductID]map[inventory.LocationID]int64) {
		t.Helper()
		err := u.View(ctx, func(r inventory.Reader) error {
			for id, at := range want {
				for loc, n := range at {
					b, err := inventory.BalanceAt(r, loc, inventory.Lot{Product: id, Number: "U1"})
					if err != nil || b.Quantity != n {
						t.Errorf("%s has %d of %s (%v), want %d", loc, b.Quantity, id, err, n)
					}
				}
				lots, err := inventory.LotsOf(r, id)
				if some := at["room"] != 0 || at["cart-a"] != 0; err != nil || (len(lots) == 1) != some {
					t.Errorf("lots of %s: %v (%v)", id, lots, err)
				} else if some && id != "DLZ" && lots[0].Expires != "2027-01-31" {
					t.Errorf("lot %+v", lots[0])
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	type all = map[inventory.ProductID]map[inventory.LocationID]int64
	type at = map[inventory.LocationID]int64
	balances(all{unknown: at{"room": 18, "cart-a": 10}, "DLZ": at{"room": 0, "cart-a": 3}})

	set("DLZ", each, further)
	balances(all{unknown: at{"room": 0, "cart-a": 0}, "DLZ": at{"room": 18, "cart-a": 13}})
	ans, xs := u.exposures("DLZ", "U1")
	if want := (inventory.MassBalance{Received: 33, Used: 1, OnHand: 31, Unaccounted: 1}); ans.Mass != want || len(xs) != 1 {
		t.Errorf("mass balance %+v with %d exposures, want %+v", ans.Mass, len(xs), want)
	}
	rec, err := u.Reconcile(ctx, morning)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, l := range rec.Lines {
		if l.Product == unknown {
			t.Errorf("a line of its own: %+v", l)
		}
		if l.Product == "DLZ" && l.Location == "cart-a" {
			found = true
			if l.Opening != 15 || l.Counted == nil || *l.Counted != 2 || l.Recorded != 1 || l.Expected != 1 || *l.OpenCountedLessRecorded != 1 || l.OpenRecordedLessExpected != 0 {
				t.Errorf("the shift's line %+v", l)
			}
		}
	}
	if !found {
		t.Error("the shift has no line of it")
	}
	next, err := u.Next(ctx, trace.NextQuestion{Product: unknown, Location: "room"})
	if err != nil || len(next.Shelves) != 1 || next.Shelves[0].Product != "DLZ" {
		t.Errorf("what to take next: %+v (%v)", next, err)
	}
	err = u.View(ctx, func(r inventory.Reader) error {
		o, err := inventory.OrderByID(r, "PO-1")
		if err == nil && (o.Status != inventory.OrderComplete || len(o.Other) != 0) {
			t.Errorf("the order is %s, with %+v beside it", o.Status, o.Other)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	// A pallet that came before the catalogue knew it is known again.
	pallet := inventory.Received{Stock: piece(30), To: "room", Papers: inventory.Papers{Unit: "095060000000000015"}}
	set("DLZ", each)
	onPallet := u.ok(u.Receive(ctx, u.by("stock"), pallet))
	set("DLZ", each, further)
	if _, err := u.Receive(ctx, u.by("stock"), pallet); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("the same pallet was taken in twice: %v", err)
	}
	balances(all{unknown: at{"room": 0}, "DLZ": at{"room": 48, "cart-a": 13}})
	u.ok(u.Correct(ctx, u.by("stock"), onPallet.Entries[0].Seq, "another unit's"))
	// What still comes under the number is the product's at once.
	u.ok(u.Waste(ctx, u.by("stock"), inventory.Wasted{Stock: inventory.Stock{Product: unknown, Lot: "U1", Quantity: 2}, From: "room", Cause: "torn"}))
	balances(all{unknown: at{"room": 0}, "DLZ": at{"room": 16, "cart-a": 13}})

	// It was another product: what was recorded while the first had the number
	// stays with it, since it was told so then.
	set("DLZ", each)
	set("DLY", further)
	balances(all{unknown: at{"room": 0, "cart-a": 0}, "DLY": at{"room": 18, "cart-a": 10}, "DLZ": at{"room": -2, "cart-a": 3}})
	u.ok(u.Correct(ctx, u.by("stock"), came.Entries[0].Seq, "another unit's"))
	balances(all{"DLY": at{"room": -12, "cart-a": 10}, "DLZ": at{"room": -2, "cart-a": 3}})
	set("DLY")
	balances(all{unknown: at{"room": -12, "cart-a": 10}, "DLY": at{"room": 0, "cart-a": 0}, "DLZ": at{"room": -2, "cart-a": 3}})
	if ans, _ := u.exposures(gtinUncatalogd, "U1"); ans.Mass.In() != ans.Mass.Out() || ans.Mass.Used != 1 {
		t.Errorf("mass balance %+v", ans.Mass)
	}
}
