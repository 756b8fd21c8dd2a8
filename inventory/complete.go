package inventory

import (
	"errors"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A complete count says of every lot that it doesn't name that there was none.
// The count's entry lists those that the book had there when it was recorded.
// What is written down or struck out later can show that another lot should
// have been there at that time: it then gets the line that the count would
// have had, with 0, so that the book says the same in whatever order it came
// to know.

// settle has the first complete count of a location after a moment, at which a
// lot's pieces there have just changed, say that there was none of it, if the
// count has no line for it and the book would have had some.
func settle(w Writer, loc LocationID, l Lot, after moment) error {
	var c *Count
	err := ScanCounts(w, loc, after.at, func(x *Count) error {
		if x.Complete && after.before(moment{x.At, x.Entry}) {
			c = x
			return ErrStop
		}
		return nil
	})
	if err != nil || c == nil {
		return err
	}
	m := c.unnamed(l)
	row, err := w.Get(ixPlace, placeKey(loc, &m))
	if err != nil || row != nil {
		return err
	}
	n, err := balanceBefore(w, loc, l, m.moment())
	if err != nil || n == 0 {
		return err
	}
	return errors.Join(w.Put(ixUnnamed, unnamedKey(c.Entry, l), nil), enter(w, &m))
}

func unnamedKey(count uint64, l Lot) []byte {
	return append(rowcode.AppendNumber(nil, count), l.key()...)
}

// unnamed is the line of a lot that a complete count did not name.
func (c *Count) unnamed(l Lot) Movement {
	return Movement{
		Class: ClassCounted, Lot: l, To: c.Location, Cause: c.Cause,
		Entry: c.Entry, Happened: c.At, Actor: c.By,
	}
}

// strikeUnnamed strikes out the lines that settle gave a count.
func strikeUnnamed(w Writer, e, by journal.Entry, c *Counted) error {
	prefix := rowcode.AppendNumber(nil, e.Seq)
	var lots []Lot
	err := w.Scan(ixUnnamed, prefix, nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Number()
		lots = append(lots, lotFromKey(k))
		return k.Err()
	})
	if err != nil {
		return err
	}
	for _, l := range lots {
		if err := Strike(w, e, by, c.movement(CountLine{Product: l.Product, Lot: l.Number})); err != nil {
			return err
		}
		if err := w.Delete(ixUnnamed, unnamedKey(e.Seq, l)); err != nil {
			return err
		}
	}
	return nil
}

// thereBefore returns the lots of which the book has pieces at a location
// before a moment, by product and lot.
func thereBefore(r Reader, loc LocationID, before moment) (bs []Balance, err error) {
	err = r.Scan(ixBalance, rowcode.AppendText(nil, string(loc)), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		l := lotFromKey(k)
		if err := k.Err(); err != nil {
			return err
		}
		n, err := balanceBefore(r, loc, l, before)
		if n != 0 {
			bs = append(bs, Balance{Location: loc, Lot: l, Quantity: n})
		}
		return err
	})
	return bs, err
}
