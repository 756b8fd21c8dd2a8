package inventory

import (
	"context"
)

// PlaceOrder records an order. Without a number it gets one.
func (b *Book) PlaceOrder(ctx context.Context, call Call, o Order) (Receipt, error) {
	return b.Record(ctx, call, o, func(r Reader) ([]Event, error) {
		o := o
		if o.ID == "" {
			o.ID = OrderID("O" + itoa(r.Head().Seq+1))
		}
		old, err := OrderByID(r, o.ID)
		if err != nil {
			return nil, err
		}
		if old != nil {
			return nil, Conflict("order_exists", "Change that order, or give this one another number.", "order %s was placed on %s already, by entry %d", o.ID, old.Placed.Format("2006-01-02"), old.Entry)
		}
		ev := &OrderSet{Order: o}
		return []Event{ev}, b.resolveOrder(r, &ev.Order)
	})
}

// ChangeOrder records what an order is from now on.
func (b *Book) ChangeOrder(ctx context.Context, call Call, o Order, reason string) (Receipt, error) {
	type change struct {
		Order  Order
		Reason string
	}
	return b.Record(ctx, call, change{o, reason}, func(r Reader) ([]Event, error) {
		if err := b.changeable(r, o.ID, reason); err != nil {
			return nil, err
		}
		ev := &OrderSet{Order: o, Reason: reason}
		return []Event{ev}, b.resolveOrder(r, &ev.Order)
	})
}

// CancelOrder records that nothing more is to come of an order.
func (b *Book) CancelOrder(ctx context.Context, call Call, id OrderID, reason string) (Receipt, error) {
	v := OrderCancelled{id, reason}
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		return []Event{&v}, b.changeable(r, id, reason)
	})
}

func (b *Book) changeable(r Reader, id OrderID, reason string) error {
	o, err := OrderByID(r, id)
	switch {
	case err != nil:
		return err
	case o == nil:
		return NotFound("order", string(id), "Place it first, or compare its number.")
	case o.Status == OrderWithdrawn:
		return Conflict("order_cancelled", "Place a new order; or, if it was cancelled by mistake, correct that entry.", "order %s was cancelled: %s", id, o.Reason)
	case reason == "":
		return Invalid("reason", "Say why: the supplier can't deliver, ordered twice, …", "there is no reason")
	}
	return nil
}

// resolveOrder fills in products and pieces of an order's lines by their GTINs
// and packs.
func (b *Book) resolveOrder(r Reader, o *Order) error {
	lines := make([]OrderLine, len(o.Lines))
	err := EachLine(len(lines), func(i int) error {
		l := o.Lines[i]
		s := Stock{Product: l.Product, GTIN: l.GTIN, Packs: l.Packs, Quantity: l.Quantity}
		if err := b.resolve(r, &s); err != nil {
			return err
		}
		lines[i] = OrderLine{Product: s.Product, GTIN: s.GTIN, Packs: s.Packs, Quantity: s.Quantity}
		return nil
	})
	if err != nil {
		return err
	}
	o.Lines = lines
	return o.check()
}
