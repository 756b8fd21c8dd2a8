package v1

import (
	"time"

	"lotbook/inventory"
)

// orderLine is a product and how much of it is ordered, in packs of a GTIN or
// in pieces.
type orderLine struct {
	Product  string `json:"product"`
	GTIN     string `json:"gtin,omitempty"`
	Packs    int64  `json:"packs,omitempty"`
	Quantity int64  `json:"quantity"`
}

func orderLineOf(l inventory.OrderLine) orderLine {
	return orderLine{string(l.Product), l.GTIN, l.Packs, l.Quantity}
}

// orderRequest is an order, whole.
type orderRequest struct {
	happened
	Number   string      `json:"number"`
	Supplier string      `json:"supplier"`
	Expected string      `json:"expected"`
	Note     string      `json:"note"`
	Lines    []orderLine `json:"lines"`
	// Reason is why it is changed, Confirm the questions about that which a
	// person confirmed.
	Reason  string   `json:"reason"`
	Confirm []string `json:"confirm"`
}

func (o *orderRequest) domain() inventory.Order {
	out := inventory.Order{ID: inventory.OrderID(o.Number), Supplier: o.Supplier, Expected: inventory.Date(o.Expected), Note: o.Note}
	for _, l := range o.Lines {
		out.Lines = append(out.Lines, inventory.OrderLine{Product: inventory.ProductID(l.Product), GTIN: gtin14(l.GTIN), Packs: l.Packs, Quantity: l.Quantity})
	}
	return out
}

// orderWritten answers a write of an order.
type orderWritten struct {
	written
	Number   string      `json:"number"`
	Supplier string      `json:"supplier,omitempty"`
	Expected string      `json:"expected,omitempty"`
	Note     string      `json:"note,omitempty"`
	Lines    []orderLine `json:"lines,omitempty"`
	Reason   string      `json:"reason,omitempty"`
}

func orderAnswer(evs []inventory.Event, w written) (any, error) {
	switch v := evs[len(evs)-1].(type) {
	case *inventory.OrderSet:
		out := orderWritten{
			written: w, Number: string(v.ID), Supplier: v.Supplier, Expected: string(v.Expected), Note: v.Note, Reason: v.Reason,
			Lines: make([]orderLine, len(v.Lines)),
		}
		for i, l := range v.Lines {
			out.Lines[i] = orderLineOf(l)
		}
		return out, nil
	case *inventory.OrderCancelled:
		return orderWritten{written: w, Number: string(v.Order), Reason: v.Reason}, nil
	}
	return nil, errOtherEntry
}

// order is an order and what became of it.
type order struct {
	Number   string    `json:"number"`
	Supplier string    `json:"supplier"`
	Status   string    `json:"status"`
	Late     bool      `json:"late"`
	Placed   time.Time `json:"placed"`
	Changed  time.Time `json:"changed"`
	Expected string    `json:"expected,omitempty"`
	Note     string    `json:"note,omitempty"`
	Reason   string    `json:"reason,omitempty"`
	Entry    uint64    `json:"entry"`
	// FirstCame is when the first pieces came.
	FirstCame time.Time       `json:"first_came,omitzero"`
	Lines     []orderProgress `json:"lines"`
	// NotOrdered is what came with its number and is not on it.
	NotOrdered []orderLine `json:"not_ordered,omitempty"`
}

// orderProgress is what became of a line, in pieces.
type orderProgress struct {
	orderLine
	Came    int64 `json:"came"`
	Refused int64 `json:"refused"`
	Closed  int64 `json:"closed"`
	Open    int64 `json:"open"`
	Over    int64 `json:"over"`
}

func orderOf(s *inventory.OrderState, today inventory.Date) order {
	o := &s.Order
	out := order{
		Number: string(o.ID), Supplier: o.Supplier, Status: string(s.Status), Late: s.Late(today), Placed: s.Placed, Changed: s.Changed,
		Expected: string(o.Expected), Note: o.Note, Reason: s.Reason, Entry: s.Entry, FirstCame: s.FirstCame, Lines: make([]orderProgress, len(s.Progress)),
	}
	for i, p := range s.Progress {
		out.Lines[i] = orderProgress{orderLineOf(p.OrderLine), p.Came, p.Refused, p.Closed, p.Open, p.Over}
	}
	for _, l := range s.Other {
		out.NotOrdered = append(out.NotOrdered, orderLineOf(l))
	}
	return out
}
