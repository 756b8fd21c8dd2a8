package inventory

import (
	"context"
	"slices"
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

// ChangeOrder records what an order is from a time on. A change of before it was
// cancelled is taken as what it is: it stays cancelled. One of after that places
// it again, which confirm must say (AskCancelled).
func (b *Book) ChangeOrder(ctx context.Context, call Call, o Order, reason string, confirm ...string) (Receipt, error) {
	type change struct {
		Order   Order
		Reason  string
		Confirm []string
	}
	return b.Record(ctx, call, change{o, reason, confirm}, func(r Reader) ([]Event, error) {
		old, err := b.changeable(r, o.ID, reason)
		if err != nil {
			return nil, err
		}
		ev := &OrderSet{Order: o, Reason: reason}
		at := call.Happened
		if at.IsZero() {
			at = b.now()
		}
		if old.Status == OrderWithdrawn && !at.Before(old.Cancelled) {
			if !slices.Contains(confirm, AskCancelled) {
				return nil, Conflict(AskCancelled, "If it is wanted all the same, confirm "+AskCancelled+": it is then placed again. If it was cancelled by mistake, correct that entry.", "order %s was cancelled: %s", o.ID, old.Reason)
			}
			ev.Confirmed = []string{AskCancelled}
		}
		return []Event{ev}, b.resolveOrder(r, &ev.Order)
	})
}

// CancelOrder records that nothing more is to come of an order.
func (b *Book) CancelOrder(ctx context.Context, call Call, id OrderID, reason string) (Receipt, error) {
	v := OrderCancelled{id, reason}
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		o, err := b.changeable(r, id, reason)
		if err == nil && o.Status == OrderWithdrawn {
			err = Conflict(AskCancelled, "There is nothing left to do; if it was cancelled by mistake, correct that entry.", "order %s was cancelled: %s", id, o.Reason)
		}
		return []Event{&v}, err
	})
}

func (b *Book) changeable(r Reader, id OrderID, reason string) (*OrderState, error) {
	o, err := OrderByID(r, id)
	switch {
	case err != nil:
		return nil, err
	case o == nil:
		return nil, NotFound("order", string(id), "Place it first, or compare its number.")
	case reason == "":
		return nil, Invalid("reason", "Say why: the supplier can't deliver, ordered twice, …", "there is no reason")
	}
	return o, nil
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
