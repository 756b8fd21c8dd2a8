package inventory_test

import (
	"context"
	"maps"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
)

// pastWeeks are the weeks in which something happens: beside each other, and
// around where the blocks of 16 and of 256 weeks begin.
var pastWeeks = []int{0, 1, 2, 3, 9, 10, 15, 16, 17, 40, 100, 255, 256, 257, 300}

// Whatever is recorded, in whatever order, over weeks and years, and struck out
// again: what a place had at any time is what a walk over all that happened
// there before leaves.
func TestPastBalances(t *testing.T) {
	ctx := context.Background()
	const number = "09506000100067"
	unknown := inventory.ProvisionalID(number)
	lots := []inventory.Lot{{Product: "DLZ", Number: "D1"}, {Product: "DLZ", Number: "D2"}, {Product: "DLZ"}, {Product: unknown, Number: "D1"}}
	rapid.Check(t, func(t *rapid.T) {
		now := inventorytest.Start().AddDate(0, 0, 7*310)
		clock := func() time.Time { return now }
		mem := inventorytest.NewMemory(clock)
		b := inventory.NewBook(mem, inventory.NewRegistry(inventory.Events()), clock)
		must := func(r inventory.Receipt, err error) uint64 {
			if err != nil {
				t.Fatal(err)
			}
			return r.Entries[0].Seq
		}
		by := inventory.Call{Actor: "user-1"}
		must(b.SetProducts(ctx, by, inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer}))
		must(b.SetLocation(ctx, by, inventory.Location{ID: "cart", Name: "Cart", Type: inventory.Cart}))
		var stand []uint64
		for range rapid.IntRange(1, 30).Draw(t, "n") {
			call := inventory.Call{Actor: "user-1", Happened: inventorytest.Start().Add(time.Duration(168*rapid.SampledFrom(pastWeeks).Draw(t, "week")+rapid.IntRange(0, 167).Draw(t, "hour")) * time.Hour)}
			l := rapid.SampledFrom(lots).Draw(t, "lot")
			st := inventory.Stock{Product: l.Product, Lot: l.Number, Quantity: rapid.Int64Range(1, 9).Draw(t, "quantity")}
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0, 1:
				stand = append(stand, must(b.Receive(ctx, call, inventory.Received{Stock: st, To: "cart"})))
			case 2:
				stand = append(stand, must(b.Waste(ctx, call, inventory.Wasted{Stock: st, From: "cart", Cause: "dropped"})))
			case 3:
				c := inventory.Counted{Location: "cart", Complete: rapid.Bool().Draw(t, "complete")}
				c.Lines = []inventory.CountLine{{Product: l.Product, Lot: l.Number, Counted: st.Quantity}}
				stand = append(stand, must(b.Count(ctx, call, c)))
			case 4:
				if len(stand) > 0 {
					i := rapid.IntRange(0, len(stand)-1).Draw(t, "which")
					must(b.Correct(ctx, by, stand[i], "it was wrong"))
					stand = slices.Delete(stand, i, i+1)
				}
			case 5:
				p := inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer}
				if rapid.Bool().Draw(t, "has the number") {
					p.Packs = []inventory.Pack{{Level: inventory.LevelEach, GTIN: number, Holds: 1}}
				}
				must(b.SetProducts(ctx, by, p))
			}
		}
		err := b.View(ctx, func(r inventory.Reader) error {
			for at := inventorytest.Start(); at.Before(now); at = at.Add(71 * time.Hour) {
				id := []inventory.ProductID{"DLZ", unknown}[at.Unix()/3600%2]
				want := map[inventory.Lot]int64{}
				err := inventory.ScanPlace(r, "cart", id, inventorytest.Start().Add(-time.Hour), at, func(m *inventory.PlaceMovement) error {
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
				got, err := inventory.StoodAt(r, "cart", id, at)
				if err != nil {
					return err
				}
				if !maps.Equal(got, want) {
					t.Errorf("before %s there were %v, and the book says %v", at, want, got)
				}
			}
			ids, err := inventory.ProductsAt(r, "cart")
			for _, id := range ids {
				if id != "DLZ" && id != unknown {
					t.Errorf("products %v", ids)
				}
			}
			if len(stand) > 0 && len(ids) == 0 {
				t.Error("no products")
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	})
}
