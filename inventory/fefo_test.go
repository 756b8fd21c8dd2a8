package inventory_test

import (
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
)

// No published example of first expired, first out was found. This one is
// constructed, and every figure can be followed by hand.
//
// From 1 March a bay uses 4 a day on its cart, another 2 a day. Cart A has 10
// that expire on the 2nd and 20 on the 30th; cart B has 6 that expire on the
// 31st; the room has 5 that expire on the 6th, 40 without a date.
//
//	day   cart A takes                        cart B takes
//	1st   4 of A2 (6 left)                    2 of B31 (4 left)
//	2nd   4 of A2 (2 left, expired then)      2 of B31 (2 left)
//	3rd   4 of A30 (16 left)                  2 of B31 (0 left, out)
//	4th   4 of A30 (12)                       2 of R6 (3 left)
//	5th   4 of A30 (8)                        2 of R6 (1 left)
//	6th   4 of A30 (4)                        1 of R6 (out), 1 without a date (39)
//	7th   4 of A30 (out)                      2 (37)
//	8th   4 (33) and then                     2 (31): 6 a day
//	13th  31 less 5 days of 6: 1 is left
//	14th  1, the last, and 3 are lacking
func TestUseUp(t *testing.T) {
	lot := func(place inventory.LocationID, number string, expires inventory.Date, n int64) inventory.LaidLot {
		return inventory.LaidLot{Location: place, ShelfLot: inventory.ShelfLot{
			Lot: inventory.Lot{Product: "SAL", Number: number}, Expires: expires, Quantity: n, Standing: inventory.StandsToTake,
		}}
	}
	held := lot("cart-b", "HELD", "2026-03-01", 100)
	held.Standing = inventory.StandsHeld
	lots := []inventory.LaidLot{
		lot("room", "NONE", "", 40), lot("cart-a", "A30", "2026-03-30", 20), held, lot("room", "R6", "2026-03-06", 5),
		lot("cart-b", "B31", "2026-03-31", 6), lot("cart-a", "A2", "2026-03-02", 10),
	}
	pace := inventory.Pace{From: "2026-03-01", Places: []inventory.LocationID{"cart-a", "cart-b"}, Use: func(place inventory.LocationID, _ int) int64 {
		if place == "cart-a" {
			return 4
		}
		return 2
	}}
	short := pace.UseUp(lots)
	for i, want := range []struct {
		first, out inventory.Date
		left       int64
	}{
		{"2026-03-06", "2026-03-14", 0}, {"2026-03-03", "2026-03-07", 0}, {"", "", 0}, {"2026-03-04", "2026-03-06", 0}, {"2026-03-01", "2026-03-03", 0}, {"2026-03-01", "", 2},
	} {
		if l := lots[i]; l.First != want.first || l.Out != want.out || l.Left != want.left {
			t.Errorf("%s: first %s, out %s, left %d; want %+v", l.Lot.Number, l.First, l.Out, l.Left, want)
		}
	}
	if short != "2026-03-14" {
		t.Errorf("short on %s, want 2026-03-14", short)
	}
	// Cart B takes 4 of a later lot by the 2nd, and 2 are left over.
	if got := lots[5].Elsewhere; len(got) != 1 || got[0] != (inventory.CouldUse{Location: "cart-b", Pieces: 2}) {
		t.Errorf("elsewhere: %v", got)
	}
}

// Without any use nothing runs out and all that has a date is left over; it ends.
func TestUseUpWithoutUse(t *testing.T) {
	lots := []inventory.LaidLot{
		{Location: "room", ShelfLot: inventory.ShelfLot{Lot: inventory.Lot{Product: "SAL", Number: "1"}, Expires: "2026-04-30", Quantity: 7, Standing: inventory.StandsToTake}},
		{Location: "room", ShelfLot: inventory.ShelfLot{Lot: inventory.Lot{Product: "SAL", Number: "2"}, Quantity: 7, Standing: inventory.StandsToTake}},
	}
	pace := inventory.Pace{From: "2026-03-01"}
	if short := pace.UseUp(lots); short != "" || lots[0].Left != 7 || lots[0].First != "" || lots[1].Left != 0 || lots[1].Out != "" {
		t.Errorf("short %q, %+v", short, lots)
	}
}

// The lots of a place in the order in which they are to be taken; constructed,
// as no published example was found.
func TestShelf(t *testing.T) {
	b := emptyBook(t)
	by := inventory.Call{Actor: "stock"}
	ok := func(_ inventory.Receipt, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	cart := inventory.Location{ID: "cart", Name: "Cart", Type: inventory.Cart}
	aside := inventory.Location{ID: "aside", Name: "Quarantine", Type: inventory.Quarantine}
	ok(b.SetLocation(t.Context(), by, cart))
	ok(b.SetLocation(t.Context(), by, aside))
	ok(b.SetProducts(t.Context(), by, inventory.Product{ID: "SAL", Name: "Saline", Category: inventory.Saline}))
	receive := func(at time.Time, lot string, expires inventory.Date, to inventory.LocationID) {
		t.Helper()
		ok(b.Receive(t.Context(), inventory.Call{Actor: "stock", Happened: at}, inventory.Received{Stock: inventory.Stock{Product: "SAL", Lot: lot, Expires: expires, Quantity: 6}, To: to}))
	}
	monday := time.Date(2026, 2, 23, 9, 0, 0, 0, time.UTC)
	receive(monday.AddDate(0, 0, 3), "UNDATED-LATER", "", "cart")
	receive(monday, "UNDATED-FIRST", "", "cart")
	receive(monday, "Z", "2026-05-31", "cart")
	receive(monday, "B", "2026-06-30", "cart")
	receive(monday, "A", "2026-06-30", "cart")
	receive(monday, "LAST-DAY", "2026-03-02", "cart")
	receive(monday, "PAST", "2026-03-01", "cart")
	receive(monday, "HELD", "2026-04-30", "cart")
	receive(monday, "ASIDE", "2026-04-30", "aside")
	receive(monday, "GONE", "2026-04-30", "cart")
	ok(b.Hold(t.Context(), by, inventory.Held{Product: "SAL", Lots: []string{"HELD"}, Reason: "a notice"}))
	waste := func(lot string, n int64) {
		t.Helper()
		ok(b.Waste(t.Context(), by, inventory.Wasted{Stock: inventory.Stock{Product: "SAL", Lot: lot, Quantity: n}, From: "cart", Cause: "dropped"}))
	}
	waste("GONE", 6)
	waste("NEVER-BROUGHT", 1)

	read := func(loc inventory.Location) (names []string) {
		err := b.View(t.Context(), func(r inventory.Reader) error {
			lots, err := inventory.Shelf(r, loc, "SAL", "2026-03-02")
			for _, l := range lots {
				names = append(names, l.Lot.Number+" "+string(l.Standing))
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return names
	}
	want := []string{
		"LAST-DAY take", "Z take", "A take", "B take", "UNDATED-FIRST take", "UNDATED-LATER take",
		"PAST expired", "HELD held", "NEVER-BROUGHT below_zero",
	}
	if got := read(cart); !slices.Equal(got, want) {
		t.Errorf("the cart: %q, want %q", got, want)
	}
	if got := read(aside); !slices.Equal(got, []string{"ASIDE held"}) {
		t.Errorf("the quarantine shelf: %q", got)
	}
	err := b.View(t.Context(), func(r inventory.Reader) error {
		gone, err := inventory.RecentlyGone(r, cart, "SAL", monday, "2026-03-02")
		if len(gone) != 1 || gone[0].Lot.Number != "GONE" || gone[0].Standing != inventory.StandsNone {
			t.Errorf("gone: %+v", gone)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
