package inventory

import (
	"encoding/json"
	"errors"
	"slices"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// recatalogue carries what was recorded under a provisional id from the product
// that it was kept with to another; either may be the provisional id itself. It
// costs what there is on record of these lots.
func recatalogue(w Writer, as, from, to ProductID) error {
	lots, err := lotsRecordedAs(w, as, from)
	if err != nil {
		return err
	}
	for _, number := range lots {
		c := carrying{w: w, as: as, from: Lot{from, number}, to: Lot{to, number}}
		if err := c.lot(); err != nil {
			return err
		}
	}
	if from == as {
		if err := dropWeeks(w, as); err != nil {
			return err
		}
	}
	return errors.Join(carryArrivals(w, as, from, to), relistOrders(w, as))
}

// lotsRecordedAs returns the numbers of the lots recorded under a provisional id
// that are kept with a product.
func lotsRecordedAs(r Reader, as, with ProductID) (numbers []string, err error) {
	ix := ixLotAs
	if with == as {
		ix = ixLot
	}
	err = r.Scan(ix, rowcode.AppendText(nil, string(as)), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		numbers = append(numbers, lotFromKey(k).Number)
		return k.Err()
	})
	return numbers, err
}

// carrying is the carrying of one lot's movements to another.
type carrying struct {
	w        Writer
	as       ProductID
	from, to Lot
}

func (c *carrying) lot() error {
	// What complete counts said of these lots without naming them is said anew
	// once all movements are where they belong.
	for _, l := range []Lot{c.from, c.to} {
		if err := unsettle(c.w, l); err != nil {
			return err
		}
	}
	if err := c.facts(); err != nil {
		return err
	}
	ms, err := ledgerOf(c.w, c.from)
	if err != nil {
		return err
	}
	touched := map[LocationID]bool{}
	for i := range ms {
		m := &ms[i]
		err := eachSide(m, func(loc LocationID, _ int64) error { touched[loc] = true; return nil })
		switch {
		case err != nil:
		case m.Class == ClassCounted:
			err = c.count(m)
		case c.from.Product == c.as || m.As == c.as:
			err = c.movement(m)
		}
		if err != nil {
			return err
		}
	}
	if c.from.Product == c.as {
		for loc := range touched {
			key := balanceKey(loc, c.from)
			if err := errors.Join(c.w.Delete(ixBalance, key), c.w.Delete(ixOnHand, key)); err != nil {
				return err
			}
		}
	}
	for _, l := range []Lot{c.from, c.to} {
		ms, err := ledgerOf(c.w, l)
		if err != nil {
			return err
		}
		for i := range ms {
			if err := settleSides(c.w, &ms[i]); err != nil {
				return err
			}
		}
		if len(ms) == 0 && l == c.from && l.Product != c.as {
			if err := dropLot(c.w, l); err != nil {
				return err
			}
		}
	}
	return nil
}

func ledgerOf(r Reader, l Lot) (ms []Movement, err error) {
	err = ScanLedger(r, l, func(m *Movement) error {
		m.Cover = slices.Clone(m.Cover)
		ms = append(ms, *m)
		return nil
	})
	return ms, err
}

func (c *carrying) movement(m *Movement) error {
	struck := m.Struck
	if err := withdraw(c.w, m, 0); err != nil {
		return err
	}
	m.Struck, m.Lot, m.As = struck, c.to, c.as
	if c.to.Product == c.as {
		m.As = ""
	}
	return enter(c.w, m)
}

// count makes a count's lines of both lots anew from what it says.
func (c *carrying) count(m *Movement) error {
	e, ev, err := countedAt(c.w, m.Entry)
	if err != nil {
		return err
	}
	for _, l := range []Lot{c.from, c.to} {
		row, err := c.w.Get(ixLedger, (&Movement{Lot: l, Happened: m.Happened, Entry: m.Entry}).ledgerKey())
		if err != nil {
			return err
		}
		if row != nil {
			line, err := decodeLedger((&Movement{Lot: l, Happened: m.Happened, Entry: m.Entry}).ledgerKey(), row)
			if err != nil {
				return err
			}
			if err := withdraw(c.w, &line, 0); err != nil {
				return err
			}
		}
		if err := c.w.Delete(ixCounted, countedKey(e, ev.Location, l.Product)); err != nil {
			return err
		}
	}
	lines, err := ev.PerLot(c.w)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if lot := (Lot{l.Product, l.Lot}); lot == c.from || lot == c.to {
			line := ev.movement(l)
			line.Entry, line.Happened, line.Actor, line.Struck = m.Entry, m.Happened, m.Actor, m.Struck
			if err := enter(c.w, &line); err != nil {
				return err
			}
		}
	}
	if m.Struck != 0 {
		return nil
	}
	return noteCounted(c.w, e, ev)
}

func countedAt(r Reader, seq uint64) (e journal.Entry, ev *Counted, err error) {
	if e, err = r.Entry(seq); err != nil {
		return e, nil, err
	}
	ev = new(Counted)
	return e, ev, json.Unmarshal(e.Body, ev)
}

// unsettle takes back the lines that settle gave to complete counts.
func unsettle(w Writer, l Lot) error {
	ms, err := ledgerOf(w, l)
	if err != nil {
		return err
	}
	for i := range ms {
		m := &ms[i]
		key := unnamedKey(m.Entry, l)
		row, err := w.Get(ixUnnamed, key)
		if err != nil {
			return err
		}
		if m.Class == ClassCounted && row != nil {
			if err := errors.Join(withdraw(w, m, 0), w.Delete(ixUnnamed, key)); err != nil {
				return err
			}
		}
	}
	return nil
}

// facts carries over what is known of the lot: what is known of it under the
// provisional id is kept aside.
func (c *carrying) facts() error {
	f, ok, err := LotFactsOf(c.w, c.from)
	if err != nil {
		return err
	}
	aside := Lot{c.as, c.from.Number}
	if c.from.Product != c.as {
		row, err := c.w.Get(ixLotAs, aside.key())
		if err != nil {
			return err
		}
		if f, err = decodeLotFacts(aside, row); err != nil {
			return err
		}
		ok = f.First != 0
	} else if err := dropLot(c.w, c.from); err != nil {
		return err
	}
	if c.to.Product == c.as {
		err = c.w.Delete(ixLotAs, aside.key())
	} else {
		err = c.w.Put(ixLotAs, aside.key(), f.row())
	}
	if err != nil || (!ok && c.to.Product != c.as) {
		return err
	}
	if !ok { // all of it was recorded while the product had the number
		f.Lot.Product = c.from.Product
		if f, _, err = LotFactsOf(c.w, f.Lot); err != nil {
			return err
		}
	}
	have, known, err := LotFactsOf(c.w, c.to)
	if err != nil {
		return err
	}
	if known {
		have.merge(&f)
	} else {
		have = f
	}
	have.Lot = c.to
	return have.save(c.w)
}

// merge adds what is known of the same lot under another id.
func (f *LotFacts) merge(o *LotFacts) {
	if o.First != 0 && (f.First == 0 || o.First < f.First) {
		f.First = o.First
	}
	if o.Expires != "" && (f.Expires == "" || (o.Stands && !f.Stands)) {
		f.Expires, f.Stands = o.Expires, o.Stands
	}
	if f.Made == "" {
		f.Made = o.Made
	}
}

// dropWeeks removes the rows of weeks of a provisional id of which no movement
// is left.
func dropWeeks(w Writer, as ProductID) error {
	locs, err := Locations(w)
	if err != nil {
		return err
	}
	for _, loc := range locs {
		if err := dropRows(w, ixWeek, rowcode.AppendText(nil, string(loc.ID), string(as))); err != nil {
			return err
		}
	}
	return nil
}

func dropRows(w Writer, ix Index, prefix []byte) error {
	keys, err := keysOf(w, ix, prefix)
	for _, k := range keys {
		err = errors.Join(err, w.Delete(ix, k))
	}
	return err
}

func keysOf(r Reader, ix Index, prefix []byte) (keys [][]byte, err error) {
	err = r.Scan(ix, prefix, nil, func(key, _ []byte) error {
		keys = append(keys, slices.Clone(key))
		return nil
	})
	return keys, err
}

// carryArrivals carries over what the plausibility of later deliveries is judged
// by.
func carryArrivals(w Writer, as, from, to ProductID) error {
	keys, err := keysOf(w, ixArrival, rowcode.AppendText(nil, string(from)))
	if err != nil {
		return err
	}
	for _, key := range keys {
		k := rowcode.ReadKey(key)
		k.Text()
		k.Time()
		seq := k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		e, err := w.Entry(seq)
		if err != nil {
			return err
		}
		var body struct{ Product ProductID }
		if err := json.Unmarshal(e.Body, &body); err != nil {
			return err
		}
		if body.Product != as {
			continue
		}
		row, err := w.Get(ixArrival, key)
		if err := errors.Join(err, w.Put(ixArrival, arrivalKey(to, e), slices.Clone(row)), w.Delete(ixArrival, key)); err != nil {
			return err
		}
	}
	return nil
}

// relistOrders makes the lines of orders about a provisional id anew.
func relistOrders(w Writer, as ProductID) error {
	keys, err := keysOf(w, ixOrderAs, rowcode.AppendText(nil, string(as)))
	if err != nil {
		return err
	}
	for _, key := range keys {
		k := rowcode.ReadKey(key)
		k.Text()
		id := OrderID(k.Text())
		if err := errors.Join(k.Err(), listOrder(w, id)); err != nil {
			return err
		}
	}
	return nil
}
