package trace_test

import (
	"fmt"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
)

// The small world of the properties: three places, a home patient's store, and
// lots of two products, one of them a lot that nobody knows the number of, and
// of a number that is in no catalogue at first. A treatment is open at the cart.
// A case of dialyzers holds four.
var (
	smallPlaces = []inventory.LocationID{"room", "cart", "quarantine", "home"}
	smallLots   = []inventory.Lot{{Product: "DLZ", Number: "D1"}, {Product: "DLZ", Number: "D2"}, {Product: "DLZ", Number: ""}, {Product: "NDL", Number: "N1"}, {Product: "NDL", Number: "D1"}, {Product: "NDL", Number: ""}, {Product: smallUnknown, Number: "D1"}, {Product: smallUnknown, Number: ""}}
)

const (
	smallNumber    = "09506000100067"
	smallUnknown   = inventory.ProductID("gtin:" + smallNumber)
	smallCase      = "29506000100016"
	smallCaseHolds = 4
)

// A happening is one thing that happened, at its own minute.
type happening struct {
	op       *operation
	n        int // its place among those that happened
	at       time.Time
	stock    inventory.Stock
	from, to inventory.LocationID
	lines    []inventory.CountLine
	complete bool
	answer   string              // of a delivery
	order    inventory.OrderID   // that it is about
	owner    inventory.ProductID // that has the number from now on, empty for none
	before   int                 // which other happening it is about and must be recorded after; -1 for none
}

func (h *happening) lot() inventory.Lot {
	return inventory.Lot{Product: h.stock.Product, Number: h.stock.Lot}
}

// An operation is a kind of thing that can happen. What a package records joins
// the properties by a line in the table of operations:
//
//   - draw fills in what it needs beyond stock, from and to; false if it can't
//     be now;
//   - record writes it into a book; seqs has the first entry of each happening
//     that is written already;
//   - effect says once more, for a model that knows nothing of the book, what it
//     does to pieces; nil if it does nothing to them;
//   - correctable is set where a correction strikes it out with no more to say.
type operation struct {
	name        string
	weight      int
	draw        func(t *rapid.T, hs []happening, h *happening) bool
	record      func(b *smallBook, call inventory.Call, h *happening, seqs map[int]uint64) (inventory.Receipt, error)
	effect      func(m *pieces, h *happening)
	correctable bool
}

func operations() []operation {
	depart := func(how string, tally func(*inventory.MassBalance) *int64) operation {
		return operation{
			name: how, weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Depart(ctx, call, inventory.Departed{Stock: h.stock, From: h.from, How: how, Other: "somebody"})
			},
			effect: func(m *pieces, h *happening) { m.leave(h.from, h.lot(), h.stock.Quantity, tally) },
		}
	}
	return []operation{
		{
			name: "receive", weight: 2, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Receive(ctx, call, inventory.Received{Stock: h.stock, To: h.to})
			},
			effect: func(m *pieces, h *happening) { m.come(h.to, h.lot(), h.stock.Quantity, received) },
		},
		{
			name: "receive from a list", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				call.Happened = time.Time{}
				return b.ReceiveList(ctx, call, inventory.ArrivalRules{Again: true}, inventory.ArrivalRow{Received: inventory.Received{Stock: h.stock, To: h.to}, At: h.at})
			},
			effect: func(m *pieces, h *happening) { m.come(h.to, h.lot(), h.stock.Quantity, received) },
		},
		{
			name: "deliver", weight: 2, correctable: true,
			draw: func(t *rapid.T, _ []happening, h *happening) bool {
				h.answer = rapid.SampledFrom([]string{inventory.Accept, inventory.IntoHold, inventory.Refuse}).Draw(t, "answer")
				h.order = rapid.SampledFrom([]inventory.OrderID{"", "PO-0", "PO-1"}).Draw(t, "order")
				if h.stock.Product == "DLZ" && rapid.Bool().Draw(t, "in packs") {
					h.stock.GTIN, h.stock.Packs = smallCase, h.stock.Quantity
					h.stock.Quantity *= smallCaseHolds
				}
				return true
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				s := h.stock
				if s.Packs > 0 {
					s.Quantity = 0 // the catalogue says what a case holds
				}
				all := []string{
					inventory.AskDamaged, inventory.AskWrongProduct, inventory.AskOver, inventory.AskLineAgain, inventory.AskContained,
					inventory.AskImplausible, inventory.AskPartOfPack, inventory.AskHeld, inventory.AskOrder, inventory.AskCancelled, inventory.AskUnknown,
				}
				return b.Deliver(ctx, call, inventory.Delivery{Order: h.order, Confirm: all, Lines: []inventory.DeliveryLine{{
					Stock: s, To: h.to, Answer: h.answer, Why: "because", Damaged: "a corner", Confirm: all, Noted: h.stock.Quantity + 1, Rest: inventory.AwaitRest,
				}}})
			},
			effect: func(m *pieces, h *happening) {
				switch h.answer {
				case inventory.Accept:
					m.come(h.to, h.lot(), h.stock.Quantity, received)
				case inventory.IntoHold:
					m.come("quarantine", h.lot(), h.stock.Quantity, received)
				}
			},
		},
		{
			name: "order", weight: 1,
			draw: func(_ *rapid.T, hs []happening, h *happening) bool {
				n := 0
				for i := range hs {
					if hs[i].op.name == "order" {
						n++
					}
				}
				h.order = inventory.OrderID(fmt.Sprint("PO-", n))
				return n < 2
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.PlaceOrder(ctx, call, inventory.Order{ID: h.order, Supplier: "somebody", Lines: []inventory.OrderLine{{Product: h.stock.Product, Quantity: 3 * h.stock.Quantity}}})
			},
		},
		{
			name: "change an order", weight: 1,
			draw: func(_ *rapid.T, hs []happening, h *happening) bool {
				return about(hs, h, "order", "change an order", "cancel an order")
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.ChangeOrder(ctx, call, inventory.Order{ID: h.order, Supplier: "somebody else", Lines: []inventory.OrderLine{{Product: h.stock.Product, Quantity: h.stock.Quantity}}}, "changed", inventory.AskCancelled)
			},
		},
		{
			name: "cancel an order", weight: 1,
			draw: func(_ *rapid.T, hs []happening, h *happening) bool {
				return about(hs, h, "order", "change an order", "cancel an order") && hs[h.before].op.name != "cancel an order"
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.CancelOrder(ctx, call, h.order, "not needed")
			},
		},
		{
			name: "borrow", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Borrow(ctx, call, inventory.Borrowed{Stock: h.stock, To: h.to, Other: "another unit"})
			},
			effect: func(m *pieces, h *happening) {
				m.come(h.to, h.lot(), h.stock.Quantity, func(b *inventory.MassBalance) *int64 { return &b.TransferredIn })
			},
		},
		{
			name: "move", weight: 3, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Move(ctx, call, inventory.Moved{Stock: h.stock, From: h.from, To: h.to})
			},
			effect: func(m *pieces, h *happening) {
				m.leave(h.from, h.lot(), h.stock.Quantity, nil)
				m.come(h.to, h.lot(), h.stock.Quantity, nil)
			},
		},
		{
			name: "use outside a treatment", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Consume(ctx, call, inventory.Consumed{Stock: h.stock, From: h.from})
			},
			effect: func(m *pieces, h *happening) { m.leave(h.from, h.lot(), h.stock.Quantity, used) },
		},
		{
			name: "use in a treatment", weight: 2, correctable: true,
			draw: func(_ *rapid.T, _ []happening, h *happening) bool { h.from = "cart"; return true },
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Scan(ctx, call, trace.Scan{Treatment: b.treatment, Stock: h.stock, How: trace.Typed, Reason: "said so"})
			},
			effect: func(m *pieces, h *happening) { m.leave(h.from, h.lot(), h.stock.Quantity, used) },
		},
		{
			name: "waste", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Waste(ctx, call, inventory.Wasted{Stock: h.stock, From: h.from, Cause: "dropped"})
			},
			effect: func(m *pieces, h *happening) {
				m.leave(h.from, h.lot(), h.stock.Quantity, func(b *inventory.MassBalance) *int64 { return &b.Wasted })
			},
		},
		depart(inventory.HowReturned, func(b *inventory.MassBalance) *int64 { return &b.Returned }),
		depart(inventory.HowDestroyed, func(b *inventory.MassBalance) *int64 { return &b.Destroyed }),
		depart(inventory.HowLent, func(b *inventory.MassBalance) *int64 { return &b.TransferredOut }),
		{
			name: "count", weight: 3, correctable: true,
			draw: func(t *rapid.T, _ []happening, h *happening) bool {
				h.complete = rapid.Bool().Draw(t, "complete")
				for _, l := range smallLots {
					if rapid.IntRange(0, 2).Draw(t, "named") == 0 {
						h.lines = append(h.lines, inventory.CountLine{Product: l.Product, Lot: l.Number, Counted: rapid.Int64Range(0, 9).Draw(t, "counted")})
					}
				}
				h.complete = h.complete || len(h.lines) == 0
				return true
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Count(ctx, call, inventory.Counted{Location: h.from, Lines: h.lines, Complete: h.complete})
			},
			effect: func(m *pieces, h *happening) { m.count(h.from, h.lines, h.complete) },
		},
		{
			name: "catalogue", weight: 1,
			draw: func(t *rapid.T, hs []happening, h *happening) bool {
				h.owner = rapid.SampledFrom([]inventory.ProductID{"DLZ", "DLZ", "NDL", ""}).Draw(t, "owner")
				for i := range hs {
					if hs[i].op.name == "catalogue" {
						h.before = i // products have no history: the last one recorded stands
					}
				}
				return true
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.SetProducts(ctx, call, smallProducts(h.owner)...)
			},
		},
		{
			name: "hold", weight: 1,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Hold(ctx, call, inventory.Held{Product: h.stock.Product, AllLots: true, Reason: "a notice"})
			},
		},
		{
			name: "correct", weight: 2,
			draw: func(t *rapid.T, hs []happening, h *happening) bool {
				if len(hs) == 0 {
					return false
				}
				h.before = rapid.IntRange(0, len(hs)-1).Draw(t, "corrects")
				for i := range hs {
					if hs[i].op.name == "correct" && hs[i].before == h.before {
						return false
					}
				}
				return hs[h.before].op.correctable
			},
			record: func(b *smallBook, call inventory.Call, h *happening, seqs map[int]uint64) (inventory.Receipt, error) {
				return b.Correct(ctx, call, seqs[h.before], "it was wrong")
			},
		},
	}
}

// smallProducts are the dialyzer and the needle, one of which has the number.
func smallProducts(owner inventory.ProductID) []inventory.Product {
	ps := []inventory.Product{
		{ID: "NDL", Name: "Needle", Category: inventory.FistulaNeedle},
		{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: "case", GTIN: smallCase, Holds: smallCaseHolds}}},
	}
	for i := range ps {
		if ps[i].ID == owner {
			ps[i].Packs = append(ps[i].Packs, inventory.Pack{Level: "each", GTIN: smallNumber, Holds: 1})
		}
	}
	return ps
}

func received(b *inventory.MassBalance) *int64 { return &b.Received }
func used(b *inventory.MassBalance) *int64     { return &b.Used }

// about makes a happening one about the last that is of one of the names and
// about an order.
func about(hs []happening, h *happening, names ...string) bool {
	for i := len(hs) - 1; i >= 0; i-- {
		for _, name := range names {
			if hs[i].op.name == name {
				h.before, h.order = i, hs[i].order
				// It comes after the last that is about the same order.
				for k := i + 1; k < len(hs); k++ {
					if hs[k].before == i {
						h.before = k
					}
				}
				return true
			}
		}
	}
	return false
}

// happenings draws what happens in a unit, in the order in which it happens.
// Nothing keeps it sensible: more may be taken than there is.
func happenings(most int) func(t *rapid.T) []happening {
	table := append(operations(), mixedOperations()...)
	var weighted []int
	for i := range table {
		for range table[i].weight {
			weighted = append(weighted, i)
		}
	}
	return func(t *rapid.T) []happening {
		var hs []happening
		for i := range rapid.IntRange(1, most).Draw(t, "n") {
			l := rapid.SampledFrom(smallLots).Draw(t, "lot")
			from := rapid.IntRange(0, len(smallPlaces)-1).Draw(t, "from")
			h := happening{
				op: &table[rapid.SampledFrom(weighted).Draw(t, "what")], n: len(hs), at: inventorytest.Start().Add(time.Duration(i) * time.Minute), before: -1,
				stock: inventory.Stock{Product: l.Product, Lot: l.Number, Quantity: rapid.Int64Range(1, 9).Draw(t, "quantity")},
				from:  smallPlaces[from], to: smallPlaces[(from+rapid.IntRange(1, len(smallPlaces)-1).Draw(t, "to"))%len(smallPlaces)],
			}
			if h.op.draw == nil || h.op.draw(t, hs, &h) {
				hs = append(hs, h)
			}
		}
		return hs
	}
}
