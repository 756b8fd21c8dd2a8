package inventory

import (
	"bytes"
	"time"

	"lotbook/inventory/rowcode"
)

// A ReceiptLine is a delivery's line that stands: taken in, or refused.
type ReceiptLine struct {
	Entry    uint64
	At       time.Time
	Received *Received // nil if it was refused
	Refused  *Refused
}

// ReceiptPage calls fn for at most limit lines of deliveries in the order in
// which they came, from a place on, nil for the start, and returns the place
// where to go on, nil at the end.
func (b *Book) ReceiptPage(r Reader, from []byte, limit int, fn func(*ReceiptLine) error) (next []byte, err error) {
	n := 0
	err = r.Scan(ixReceipt, nil, from, func(key, _ []byte) error {
		if n == limit {
			next = bytes.Clone(key)
			return ErrStop
		}
		n++
		k := rowcode.ReadKey(key)
		l := ReceiptLine{At: k.Time(), Entry: k.Number()}
		if err := k.Err(); err != nil {
			return err
		}
		e, err := r.Entry(l.Entry)
		if err != nil {
			return err
		}
		ev, err := b.reg.Decode(e)
		if err != nil {
			return err
		}
		switch v := ev.(type) {
		case *Received:
			l.Received = v
		case *Refused:
			l.Refused = v
		}
		return fn(&l)
	})
	return next, err
}

// CountPage calls fn for at most limit counts of a location that stand, in the
// order in which they happened, from a place on, nil for the start, and returns
// the place where to go on, nil at the end. Lines are under the ids that their
// products have in the catalogue by now.
func (b *Book) CountPage(r Reader, loc LocationID, from []byte, limit int, fn func(*Count, *Counted) error) (next []byte, err error) {
	n := 0
	err = r.Scan(ixCount, rowcode.AppendText(nil, string(loc)), from, func(key, row []byte) error {
		if n == limit {
			next = bytes.Clone(key)
			return ErrStop
		}
		n++
		return countRow(func(c *Count) error {
			e, err := r.Entry(c.Entry)
			if err != nil {
				return err
			}
			ev, err := b.reg.Decode(e)
			if err != nil {
				return err
			}
			v, ok := ev.(*Counted)
			if !ok {
				return nil
			}
			if v.Lines, err = v.PerLot(r); err != nil {
				return err
			}
			return fn(c, v)
		})(key, row)
	})
	return next, err
}
