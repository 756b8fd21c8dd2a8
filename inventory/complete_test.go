package inventory_test

import (
	"context"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
)

// A shelf is a cart and a room with a book that is verified when the test ends.
type shelf struct {
	*inventory.Book
	t *testing.T
}

func newShelf(t *testing.T) *shelf {
	t.Helper()
	now := func() time.Time { return inventorytest.Start().Add(24 * time.Hour) }
	reg := inventory.NewRegistry(inventory.Events())
	b := &shelf{inventory.NewBook(inventorytest.OpenBolt(t, now, reg.Project), reg, now), t}
	b.ok(b.SetProducts(t.Context(), b.at(0), inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer}))
	for _, l := range []inventory.LocationID{"room", "cart"} {
		b.ok(b.SetLocation(t.Context(), b.at(0), inventory.Location{ID: l, Name: string(l), Type: inventory.SupplyRoom}))
	}
	return b
}

// at is a Call for something that happened so many minutes after the start.
func (b *shelf) at(minute int) inventory.Call {
	return inventory.Call{Actor: "user-1", Happened: inventorytest.Start().Add(time.Duration(minute) * time.Minute)}
}

func (b *shelf) ok(r inventory.Receipt, err error) uint64 {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
	return r.Entries[0].Seq
}

func (b *shelf) stock(n int64) inventory.Stock {
	return inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: n}
}

// use, bring and found record a use from the cart, a delivery to it, and a
// complete count that found nothing but what it names.
func (b *shelf) use(minute int, n int64) uint64 {
	b.t.Helper()
	return b.ok(b.Consume(context.Background(), b.at(minute), inventory.Consumed{Stock: b.stock(n), From: "cart"}))
}

func (b *shelf) bring(minute int, n int64) uint64 {
	b.t.Helper()
	return b.ok(b.Receive(context.Background(), b.at(minute), inventory.Received{Stock: b.stock(n), To: "cart"}))
}

func (b *shelf) found(minute int, lines ...inventory.CountLine) uint64 {
	b.t.Helper()
	return b.ok(b.Count(context.Background(), b.at(minute), inventory.Counted{Location: "cart", Complete: true, Lines: lines}))
}

func (b *shelf) correct(seq uint64) {
	b.t.Helper()
	b.ok(b.Correct(context.Background(), b.at(60), seq, "it was wrong"))
}

// want says what there must be of the lot on the cart, and how many pieces of
// it counts have found missing.
func (b *shelf) want(what string, quantity, missing int64) {
	b.t.Helper()
	if err := b.View(context.Background(), func(r inventory.Reader) error {
		l := inventory.Lot{Product: "DLZ", Number: "D1"}
		bal, err := inventory.BalanceAt(r, "cart", l)
		if err != nil {
			return err
		}
		var tally inventory.Tally
		err = inventory.ScanLedger(r, l, func(m *inventory.Movement) error { tally.Add(m); return nil })
		if bal.Quantity != quantity || tally.Mass.Unaccounted != missing {
			b.t.Errorf("%s: %d on the cart and %d missing, want %d and %d", what, bal.Quantity, tally.Mass.Unaccounted, quantity, missing)
		}
		return err
	}); err != nil {
		b.t.Error(err)
	}
}

// TestCompleteCount: a complete count says that there was none of what it does
// not name, also of a lot that the book did not have there when it was recorded.
func TestCompleteCount(t *testing.T) {
	t.Run("a use recorded after it", func(t *testing.T) {
		b := newShelf(t)
		count := b.found(20)
		b.use(10, 1)
		b.want("used before the count", 0, -1)
		b.use(30, 1)
		b.want("used after it too", -1, -1)
		b.correct(count)
		b.want("the count struck out", -2, 0)
	})
	t.Run("a delivery recorded after it", func(t *testing.T) {
		b := newShelf(t)
		b.found(20)
		b.bring(10, 5)
		b.want("brought before the count", 0, 5)
		b.use(15, 5)
		b.want("and used before it", 0, 0)
	})
	t.Run("recorded late itself", func(t *testing.T) {
		b := newShelf(t)
		b.bring(10, 5)
		b.use(30, 5)
		b.want("before the count was recorded", 0, 0)
		b.found(20)
		b.want("the count of before the use", -5, 5)
	})
	t.Run("a lot that came later", func(t *testing.T) {
		b := newShelf(t)
		b.bring(30, 5)
		b.found(20)
		b.want("the count of before it came", 5, 0)
	})
	t.Run("a waste struck out after it", func(t *testing.T) {
		b := newShelf(t)
		b.bring(5, 4)
		slip := b.use(10, 4)
		b.found(20)
		b.correct(slip)
		b.want("the use before the count struck out", 0, 4)
	})
	t.Run("one count struck out, the next stands", func(t *testing.T) {
		b := newShelf(t)
		b.bring(5, 4)
		first := b.found(10)
		b.found(20)
		b.correct(first)
		b.want("the first count struck out", 0, 4)
	})
	t.Run("a named lot keeps its line", func(t *testing.T) {
		b := newShelf(t)
		b.found(20, inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: 3})
		b.bring(10, 5)
		b.want("brought before the count", 3, 2)
	})
}
