package trace_test

import (
	"errors"
	"fmt"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/trace"
)

// mixedOperations are those about batches, tanks, kits, opened containers, homes
// and other units.
func mixedOperations() []operation {
	batch := func(h *happening) trace.BatchID { return trace.BatchID(fmt.Sprint("B-", h.n)) }
	return []operation{
		{
			name: "put into a batch", weight: 2, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				m := trace.Mixing{BatchMade: trace.BatchMade{Batch: batch(h), Product: "MIX", Tank: "T1", MixedBy: "Ada"}, Inputs: []trace.MixInput{{Stock: h.stock, From: h.from}}}
				if h.n%2 == 0 {
					m.Poured = trace.IntoEmpty
				}
				return b.Mix(ctx, call, m)
			},
			effect: func(m *pieces, h *happening) { m.leave(h.from, h.lot(), h.stock.Quantity, used) },
		},
		{
			name: "put more into a batch", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.AddInput(ctx, call, "B-first", trace.MixInput{Stock: h.stock, From: h.from})
			},
			effect: func(m *pieces, h *happening) { m.leave(h.from, h.lot(), h.stock.Quantity, used) },
		},
		{
			name: "feed", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, _ *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Feed(ctx, call, trace.TankFed{Tank: "T1", Stations: []trace.StationID{"S1"}})
			},
		},
		{
			name: "empty a tank", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, _ *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.EmptyTank(ctx, call, trace.TankEmptied{Tank: "T1"})
			},
		},
		{
			name: "open for several", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				s := h.stock
				s.Quantity = 1
				return b.OpenContainer(ctx, call, trace.ContainerOpened{Container: trace.ContainerID(fmt.Sprint("C-", h.n)), Stock: s, From: h.from})
			},
			effect: func(m *pieces, h *happening) { m.leave(h.from, h.lot(), 1, used) },
		},
		{
			name: "carry an opened container", weight: 1, correctable: true,
			draw: func(_ *rapid.T, hs []happening, h *happening) bool {
				for i := len(hs) - 1; i >= 0; i-- {
					if hs[i].op.name == "open for several" {
						h.before = i
						return h.to != hs[i].from
					}
				}
				return false
			},
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				rec, err := b.MoveContainer(ctx, call, trace.ContainerMoved{Container: trace.ContainerID(fmt.Sprint("C-", h.before)), Place: h.to})
				if errors.Is(err, inventory.ErrConflict) || errors.Is(err, inventory.ErrInvalid) {
					// It was struck out by then, or stands there: what else is
					// said of it is of no account to pieces.
					return b.EmptyTank(ctx, call, trace.TankEmptied{Tank: "T1"})
				}
				return rec, err
			},
		},
		{
			name: "say what a kit holds", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.SetKitContents(ctx, call, inventory.Stock{Product: "KIT", Lot: "K1"}, inventory.Stock{Product: "NDL", Lot: h.stock.Lot})
			},
		},
		{
			name: "lend to a unit with a place", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Depart(ctx, call, inventory.Departed{Stock: h.stock, From: h.from, How: inventory.HowLent, Other: "Unit North"})
			},
			effect: func(m *pieces, h *happening) {
				m.leave(h.from, h.lot(), h.stock.Quantity, func(b *inventory.MassBalance) *int64 { return &b.TransferredOut })
			},
		},
		{
			name: "borrow from a unit with a place", weight: 1, correctable: true,
			record: func(b *smallBook, call inventory.Call, h *happening, _ map[int]uint64) (inventory.Receipt, error) {
				return b.Borrow(ctx, call, inventory.Borrowed{Stock: h.stock, To: h.to, Other: "north"})
			},
			effect: func(m *pieces, h *happening) {
				m.come(h.to, h.lot(), h.stock.Quantity, func(b *inventory.MassBalance) *int64 { return &b.TransferredIn })
			},
		},
	}
}
