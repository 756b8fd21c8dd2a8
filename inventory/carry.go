package inventory

import (
	"time"

	"lotbook/inventory/rowcode"
)

// ixCountLine: location product lot time seq -> nothing; the lines of counts
// that stand.
const ixCountLine Index = "countline"

func countLineKey(loc LocationID, l Lot, at moment) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(balanceKey(loc, l), at.at), at.entry)
}

func readCountLine(key []byte) (moment, error) {
	k := rowcode.ReadKey(key)
	k.Text()
	lotFromKey(k)
	at := moment{k.Time(), k.Number()}
	return at, k.Err()
}

// countBefore returns the last count of a lot at a place before a moment that
// stands; zero if there was none.
func countBefore(r Reader, loc LocationID, l Lot, before moment) (last moment, err error) {
	err = r.ScanBack(ixCountLine, balanceKey(loc, l), countLineKey(loc, l, before), func(key, _ []byte) error {
		at, err := readCountLine(key)
		if err != nil || !at.before(before) {
			return err
		}
		last = at
		return ErrStop
	})
	return last, err
}

// countAfter returns the first count of a lot at a place after a moment that
// stands; zero if there is none.
func countAfter(r Reader, loc LocationID, l Lot, after moment) (next moment, err error) {
	err = r.Scan(ixCountLine, balanceKey(loc, l), countLineKey(loc, l, after), func(key, _ []byte) error {
		at, err := readCountLine(key)
		if err != nil || !after.before(at) {
			return err
		}
		next = at
		return ErrStop
	})
	return next, err
}

// carry takes into the rows of weeks that a place has so many more pieces of a
// lot after a moment: up to the next count of the lot, which found what it
// found. It costs the same however many weeks lie after it.
func carry(w Writer, loc LocationID, l Lot, at moment, by int64) error {
	week := weekOf(at.at)
	if err := beginWeek(w, loc, l.Product, week); err != nil || by == 0 {
		return err
	}
	next, err := nextWeek(w, loc, l.Product, week)
	if err != nil || next.IsZero() {
		return err
	}
	counted, err := countAfter(w, loc, l, at)
	if err != nil {
		return err
	}
	if counted != (moment{}) {
		until, err := nextWeek(w, loc, l.Product, weekOf(counted.at))
		switch {
		case err != nil:
			return err
		case until.Equal(next):
			return nil
		case !until.IsZero():
			if err := addToWeek(w, loc, l.Product, until, standing{l.Number: -by}); err != nil {
				return err
			}
		}
	}
	return addToWeek(w, loc, l.Product, next, standing{l.Number: by})
}

// beginWeek writes the row of a week in which something moved, if it is not
// there.
func beginWeek(w Writer, loc LocationID, p ProductID, week time.Time) error {
	row, err := w.Get(ixWeek, weekKey(loc, p, 0, week))
	if err != nil || row != nil {
		return err
	}
	next, err := nextWeek(w, loc, p, week)
	if err != nil {
		return err
	}
	if !next.IsZero() {
		// Nothing moved from this week to the next one with a row: what
		// changed until that one began had changed when this one began.
		row, err := w.Get(ixWeek, weekKey(loc, p, 0, next))
		if err != nil {
			return err
		}
		changed, err := readStanding(row)
		if err != nil {
			return err
		}
		if err := addToWeek(w, loc, p, week, changed); err != nil {
			return err
		}
		back := standing{}
		back.add(changed, -1)
		return addToWeek(w, loc, p, next, back)
	}
	last, before, err := lastWeek(w, loc, p, week)
	if err != nil {
		return err
	}
	changed := standing{}
	if !last.IsZero() {
		changed.add(before, 1)
		err := ScanPlace(w, loc, p, last, week, func(m *PlaceMovement) error { changed.take(m); return nil })
		if err != nil {
			return err
		}
		changed.add(before, -1)
	}
	return addToWeek(w, loc, p, week, changed)
}

// addToWeek adds to a week's row and to those of the blocks that it lies in.
func addToWeek(w Writer, loc LocationID, p ProductID, week time.Time, by standing) error {
	for level, long := range blocks {
		key := weekKey(loc, p, level, week.Truncate(long))
		row, err := w.Get(ixWeek, key)
		if err != nil {
			return err
		}
		s, err := readStanding(row)
		if err != nil {
			return err
		}
		s.add(by, 1)
		if err := w.Put(ixWeek, key, s.row()); err != nil {
			return err
		}
	}
	return nil
}
