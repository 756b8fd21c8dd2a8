package inventory_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

// The small world of the property: three places, and five lots of two products,
// one of them a lot that nobody knows the number of.
var (
	places = []inventory.LocationID{"room", "cart", "quarantine"}
	lots   = []inventory.Lot{{"DLZ", "D1"}, {"DLZ", "D2"}, {"DLZ", ""}, {"NDL", "N1"}, {"NDL", "D1"}}
)

// A happening is one thing that happened, at its own time.
type happening struct {
	what     string
	at       time.Time
	stock    inventory.Stock
	from, to inventory.LocationID
	lines    []inventory.CountLine
	complete bool
	corrects int // which happening, if what is "correct"
}

// record writes a happening into a book; seqs has the entries of those that
// are written already.
func (h *happening) record(b *inventory.Book, seqs map[int]uint64) (inventory.Receipt, error) {
	ctx := context.Background()
	call := inventory.Call{Actor: "user-1", Happened: h.at}
	switch h.what {
	case "receive":
		return b.Receive(ctx, call, inventory.Received{Stock: h.stock, To: h.to})
	case "borrow":
		return b.Borrow(ctx, call, inventory.Borrowed{Stock: h.stock, To: h.to, Other: "another unit"})
	case "move":
		return b.Move(ctx, call, inventory.Moved{Stock: h.stock, From: h.from, To: h.to})
	case "consume":
		return b.Consume(ctx, call, inventory.Consumed{Stock: h.stock, From: h.from})
	case "waste":
		return b.Waste(ctx, call, inventory.Wasted{Stock: h.stock, From: h.from, Cause: "dropped"})
	case inventory.HowReturned, inventory.HowDestroyed, inventory.HowLent:
		return b.Depart(ctx, call, inventory.Departed{Stock: h.stock, From: h.from, How: h.what, Other: "somebody"})
	case "count":
		return b.Count(ctx, call, inventory.Counted{Location: h.from, Lines: h.lines, Complete: h.complete})
	case "correct":
		return b.Correct(ctx, call, seqs[h.corrects], "it was wrong")
	}
	return inventory.Receipt{}, errors.New("nothing is known of " + h.what)
}

// happenings draws what happens in a unit, in the order in which it happens.
// Nothing keeps it sensible: more may be taken than there is.
func happenings(t *rapid.T) []happening {
	whats := []string{
		"receive", "receive", "borrow", "move", "move", "consume", "waste",
		inventory.HowReturned, inventory.HowDestroyed, inventory.HowLent, "count", "count", "correct",
	}
	n := rapid.IntRange(1, 25).Draw(t, "n")
	apart := rapid.SampledFrom([]time.Duration{time.Minute, 50 * time.Hour}).Draw(t, "apart")
	hs := make([]happening, n)
	struck := map[int]bool{}
	for i := range hs {
		l := rapid.SampledFrom(lots).Draw(t, "lot")
		from := rapid.IntRange(0, len(places)-1).Draw(t, "from")
		h := happening{
			what: rapid.SampledFrom(whats).Draw(t, "what"), at: inventorytest.Start().Add(time.Duration(i) * apart),
			stock: inventory.Stock{Product: l.Product, Lot: l.Number, Quantity: rapid.Int64Range(1, 9).Draw(t, "quantity")},
			from:  places[from], to: places[(from+rapid.IntRange(1, len(places)-1).Draw(t, "to"))%len(places)],
		}
		switch h.what {
		case "count":
			h.complete = rapid.Bool().Draw(t, "complete")
			for _, l := range lots {
				if rapid.IntRange(0, 2).Draw(t, "named") == 0 {
					h.lines = append(h.lines, inventory.CountLine{Product: l.Product, Lot: l.Number, Counted: rapid.Int64Range(0, 9).Draw(t, "counted")})
				}
			}
			if len(h.lines) == 0 {
				h.complete = true
			}
		case "correct":
			h.corrects = rapid.IntRange(0, max(i-1, 0)).Draw(t, "corrects")
			if i == 0 || hs[h.corrects].what == "correct" || struck[h.corrects] {
				h.what = "waste"
			} else {
				struck[h.corrects] = true
			}
		}
		hs[i] = h
	}
	return hs
}

// newBook makes a book of the small world. Its clock stands after all that can
// happen.
func newBook(t *rapid.T, s inventory.Store) *inventory.Book {
	now := func() time.Time { return inventorytest.Start().Add(90 * 24 * time.Hour) }
	b := inventory.NewBook(s, inventory.NewRegistry(inventory.Events()), now)
	ctx, call := context.Background(), inventory.Call{Actor: "user-1"}
	_, err := b.SetProducts(ctx, call,
		inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer},
		inventory.Product{ID: "NDL", Name: "Needle", Category: inventory.FistulaNeedle})
	for _, p := range places {
		kind := inventory.SupplyRoom
		if p == "quarantine" {
			kind = inventory.Quarantine
		}
		_, lerr := b.SetLocation(ctx, call, inventory.Location{ID: p, Name: string(p), Type: kind})
		err = errors.Join(err, lerr)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// An outcome is what a book says in the end, without the numbers of entries.
type outcome struct {
	Balances map[inventory.LocationID]map[inventory.Lot]int64
	Mass     map[inventory.Lot]inventory.MassBalance
	Diffs    map[inventory.Lot][]inventory.Difference
}

// conclude reads a book's outcome and holds it to itself: each balance is what
// a walk over the lot's ledger leaves there, the mass balance closes, and what
// is on hand is what is not zero.
func conclude(t *rapid.T, b *inventory.Book) outcome {
	out := outcome{map[inventory.LocationID]map[inventory.Lot]int64{}, map[inventory.Lot]inventory.MassBalance{}, map[inventory.Lot][]inventory.Difference{}}
	for _, p := range places {
		out.Balances[p] = map[inventory.Lot]int64{}
	}
	err := b.View(context.Background(), func(r inventory.Reader) error {
		for _, l := range lots {
			var tally inventory.Tally
			if err := inventory.ScanLedger(r, l, func(m *inventory.Movement) error { tally.Add(m); return nil }); err != nil {
				return err
			}
			left := map[inventory.LocationID]int64{}
			for _, bal := range tally.Close(l, false, func(p inventory.LocationID) inventory.PlaceKind {
				if p == "quarantine" {
					return inventory.Quarantine
				}
				return inventory.SupplyRoom
			}) {
				left[bal.Location] = bal.Quantity
			}
			for _, p := range places {
				bal, err := inventory.BalanceAt(r, p, l)
				if err != nil {
					return err
				}
				if bal.Quantity != left[p] {
					t.Errorf("the balance of %v at %s is %d, and a walk over its ledger leaves %d", l, p, bal.Quantity, left[p])
				}
				if bal.Quantity != 0 {
					out.Balances[p][l] = bal.Quantity
				}
			}
			if in, out := tally.Mass.In(), tally.Mass.Out(); in != out {
				t.Errorf("the mass balance of %v does not close: %d in, %d out", l, in, out)
			}
			if held := left["quarantine"]; tally.Mass.Held != held {
				t.Errorf("%d of %v are held, and %d lie in quarantine", tally.Mass.Held, l, held)
			}
			for i := range tally.Diffs {
				tally.Diffs[i].Entry = 0
			}
			out.Mass[l], out.Diffs[l] = tally.Mass, tally.Diffs
		}
		if err := standings(t, r); err != nil {
			return err
		}
		for _, p := range places {
			there, err := inventory.OnHand(r, p, "")
			if err != nil {
				return err
			}
			onHand := map[inventory.Lot]int64{}
			for _, bal := range there {
				onHand[bal.Lot] = bal.Quantity
			}
			if !maps.Equal(onHand, out.Balances[p]) {
				t.Errorf("on hand at %s are %v, and not zero are %v", p, onHand, out.Balances[p])
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// standings holds what the book says of times past to a walk over all that
// happened before.
func standings(t *rapid.T, r inventory.Reader) error {
	for at := inventorytest.Start(); at.Before(inventorytest.Start().Add(60 * 24 * time.Hour)); at = at.Add(67 * time.Hour) {
		for _, p := range places {
			for _, id := range []inventory.ProductID{"DLZ", "NDL"} {
				want := map[inventory.Lot]int64{}
				err := inventory.ScanPlace(r, p, id, time.Time{}.AddDate(1900, 0, 0), at, func(m *inventory.PlaceMovement) error {
					switch {
					case m.Struck != 0:
					case m.Class == inventory.ClassCounted:
						want[m.Lot] = m.Counted
					default:
						want[m.Lot] += m.Delta
					}
					return nil
				})
				if err != nil {
					return err
				}
				maps.DeleteFunc(want, func(_ inventory.Lot, n int64) bool { return n == 0 })
				got, err := inventory.StoodAt(r, p, id, at)
				if err != nil {
					return err
				}
				if !maps.Equal(got, want) {
					t.Errorf("before %s %s had %v of %s, and the book says %v", at, p, want, id, got)
				}
			}
		}
	}
	return nil
}

// recordAll records happenings in an order.
func recordAll(t *rapid.T, b *inventory.Book, hs []happening, order []int) {
	seqs := map[int]uint64{}
	for _, i := range order {
		r, err := hs[i].record(b, seqs)
		if err != nil {
			t.Fatalf("%s: %v", hs[i].what, err)
		}
		seqs[i] = r.Entries[0].Seq
	}
}

// drawOrder draws an order of recording in which a correction comes after what
// it corrects.
func drawOrder(t *rapid.T, hs []happening) []int {
	order := make([]int, len(hs))
	for i := range order {
		order[i] = i
	}
	order = rapid.Permutation(order).Draw(t, "order")
	for changed := true; changed; {
		changed = false
		for at, i := range order {
			if hs[i].what != "correct" {
				continue
			}
			if of := slices.Index(order, hs[i].corrects); of > at {
				order[at], order[of] = order[of], order[at]
				changed = true
			}
		}
	}
	return order
}

// TestOrderOfRecording: whatever happens, and in whatever order it is written
// down, the book says the same in the end, and agrees with itself.
func TestOrderOfRecording(t *testing.T) {
	clock := func() time.Time { return inventorytest.Start().Add(90 * 24 * time.Hour) }
	rapid.Check(t, func(t *rapid.T) {
		hs := happenings(t)
		inOrder := make([]int, len(hs))
		for i := range inOrder {
			inOrder[i] = i
		}
		mem := inventorytest.NewMemory(clock)
		straight := newBook(t, mem)
		recordAll(t, straight, hs, inOrder)
		want := conclude(t, straight)

		dir, err := os.MkdirTemp("", "lotbook-property-")
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		s, err := boltstore.Open(dir, boltstore.Options{Clock: clock, NoSync: true})
		if err != nil {
			t.Fatal(err)
		}
		late := newBook(t, s)
		recordAll(t, late, hs, drawOrder(t, hs))
		got := conclude(t, late)
		if !reflect.DeepEqual(got, want) {
			t.Errorf("recorded late:\n%s\nin order:\n%s", print(got), print(want))
		}
		if err := errors.Join(s.Close(), inventorytest.CheckBolt(dir, late.Registry().Project)); err != nil {
			t.Error(err)
		}
	})
}

func print(o outcome) string {
	return fmt.Sprintf("balances %v\nmass %v\ndifferences %v", o.Balances, o.Mass, o.Diffs)
}
