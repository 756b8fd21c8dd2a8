package inventory

import "lotbook/inventory/journal"

// Post writes a movement into the ledger and moves the balances. It is for the
// Project methods of events; the lot should have been noted with NoteLot.
// What is recorded under a number that a product of the catalogue has goes to
// that product's lot.
func Post(w Writer, e journal.Entry, m Movement) error {
	m.Entry, m.Happened, m.Actor = e.Seq, e.Happened, e.Actor
	if err := m.catalogue(w); err != nil {
		return err
	}
	if err := enter(w, &m); err != nil {
		return err
	}
	return settleSides(w, &m)
}

// Strike marks the movement that an entry posted as struck out by a correction
// and takes it out of the balances.
func Strike(w Writer, e, c journal.Entry, m Movement) error {
	m.Entry, m.Happened, m.Actor = e.Seq, e.Happened, e.Actor
	if err := m.catalogue(w); err != nil {
		return err
	}
	if err := withdraw(w, &m, c.Seq); err != nil {
		return err
	}
	return settleSides(w, &m)
}

// Rewrite replaces a movement's line in the ledger, say with another Cover.
// It doesn't touch balances, so quantity and places must be what they were.
func Rewrite(w Writer, m Movement) error {
	if err := m.catalogue(w); err != nil {
		return err
	}
	return w.Put(ixLedger, m.ledgerKey(), m.ledgerRow())
}

// enter writes a movement's rows, and moves the balances if it stands.
func enter(w Writer, m *Movement) error {
	if err := w.Put(ixLedger, m.ledgerKey(), m.ledgerRow()); err != nil {
		return err
	}
	return eachSide(m, func(loc LocationID, delta int64) error {
		by, err := m.effect(w, loc, delta)
		if err != nil {
			return err
		}
		if m.Struck != 0 {
			by = 0
		} else if m.Class == ClassCounted {
			if err := w.Put(ixCountLine, countLineKey(loc, m.Lot, m.moment()), nil); err != nil {
				return err
			}
		}
		if err := putPlace(w, loc, m, delta); err != nil {
			return err
		}
		if err := carry(w, loc, m.Lot, m.moment(), by); err != nil || m.Struck != 0 {
			return err
		}
		if m.Class == ClassCounted {
			return anchorBalance(w, loc, m)
		}
		return moveBalance(w, loc, m, delta)
	})
}

// withdraw takes a movement out of the balances: struck out by an entry, or
// without leaving a row if struck is 0.
func withdraw(w Writer, m *Movement, struck uint64) error {
	stood := m.Struck == 0
	if m.Struck = struck; struck == 0 {
		if err := w.Delete(ixLedger, m.ledgerKey()); err != nil {
			return err
		}
	} else if err := w.Put(ixLedger, m.ledgerKey(), m.ledgerRow()); err != nil {
		return err
	}
	return eachSide(m, func(loc LocationID, delta int64) error {
		by, err := m.effect(w, loc, delta)
		if err != nil {
			return err
		}
		if struck == 0 {
			err = w.Delete(ixPlace, placeKey(loc, m))
		} else {
			err = putPlace(w, loc, m, delta)
		}
		if err != nil || !stood {
			return err
		}
		if m.Class != ClassCounted {
			if err := carry(w, loc, m.Lot, m.moment(), -by); err != nil {
				return err
			}
			return moveBalance(w, loc, m, -delta)
		}
		if err := w.Delete(ixCountLine, countLineKey(loc, m.Lot, m.moment())); err != nil {
			return err
		}
		if err := carry(w, loc, m.Lot, m.moment(), -by); err != nil {
			return err
		}
		return recomputeBalance(w, loc, m.Lot)
	})
}

// effect is how many more pieces a place has after a movement than before:
// delta, but of a count what it found beyond the book.
func (m *Movement) effect(r Reader, loc LocationID, delta int64) (int64, error) {
	if m.Class != ClassCounted {
		return delta, nil
	}
	before, err := balanceBefore(r, loc, m.Lot, m.moment())
	return delta - before, err
}

func settleSides(w Writer, m *Movement) error {
	return eachSide(m, func(loc LocationID, _ int64) error { return settle(w, loc, m.Lot, m.moment()) })
}

// eachSide calls fn for the places of a movement, with what it added there; of a
// count with what it found.
func eachSide(m *Movement, fn func(LocationID, int64) error) error {
	if m.From != "" {
		if err := fn(m.From, -m.Quantity); err != nil {
			return err
		}
	}
	if m.To != "" {
		return fn(m.To, m.Quantity)
	}
	return nil
}
