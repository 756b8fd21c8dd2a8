package inventory

import (
	"bytes"
	"cmp"
	"maps"
	"slices"
	"time"

	"lotbook/inventory/rowcode"
)

// What lay at a place at some time in the past is added up from ixWeek: by how
// much the book of each lot changed from week to week. A week has a row if
// anything moved in it, and rows are summed up over blocks of weeks, so that
// looking back costs some tens of rows and what moved in a week, whether or not
// anybody ever counted, and what comes late changes a handful of rows, however
// many weeks lie after it.

// ixWeek: location product level begin -> of each lot, by how much what was
// there when the week began differs from what was there when the week of the
// row before began. Levels above 0 are the sums of the rows of a block of weeks.
const ixWeek Index = "week"

// weekLong is how far apart the rows are. Weeks begin on Mondays, UTC: they have
// nothing to do with the unit's own weeks.
const weekLong = 7 * 24 * time.Hour

// blocks are how long the blocks of each level are. A longer one is a multiple
// of a shorter one, and both are counted from the same time.
var blocks = [...]time.Duration{weekLong, 16 * weekLong, 256 * weekLong}

func weekOf(t time.Time) time.Time { return t.UTC().Truncate(weekLong) }

// standing is the pieces of each lot of a product that a place has, those of
// which there are none left out; or by how much they changed.
type standing map[string]int64

// take takes in a movement: a count says what is there, others change it.
func (s standing) take(m *PlaceMovement) {
	switch {
	case m.Struck != 0:
	case m.Class == ClassCounted:
		s.set(m.Lot.Number, m.Counted)
	default:
		s.set(m.Lot.Number, s[m.Lot.Number]+m.Delta)
	}
}

func (s standing) set(lot string, n int64) {
	if n == 0 {
		delete(s, lot)
	} else {
		s[lot] = n
	}
}

// add adds another's pieces, times a factor.
func (s standing) add(o standing, times int64) {
	for lot, n := range o {
		s.set(lot, s[lot]+times*n)
	}
}

func weekPrefix(loc LocationID, p ProductID, level int) []byte {
	return rowcode.AppendNumber(rowcode.AppendText(nil, string(loc), string(p)), uint64(level))
}

func weekKey(loc LocationID, p ProductID, level int, begin time.Time) []byte {
	return rowcode.AppendTime(weekPrefix(loc, p, level), begin)
}

func (s standing) row() []byte {
	v := rowcode.NewEnc(1, 16+16*len(s))
	v.Uint(uint64(len(s)))
	for _, lot := range slices.SortedFunc(maps.Keys(s), cmp.Compare[string]) {
		v.Text(lot)
		v.Int(s[lot])
	}
	return v.Bytes()
}

func readStanding(row []byte) (standing, error) {
	s := standing{}
	if row == nil {
		return s, nil
	}
	d := rowcode.NewDec(1, row)
	for range d.Count() {
		lot := d.Text()
		s[lot] = d.Int()
	}
	return s, d.Err()
}

func weekBegin(key []byte) (time.Time, error) {
	k := rowcode.ReadKey(key)
	k.Text()
	k.Text()
	k.Number()
	t := k.Time()
	return t, k.Err()
}

// lastWeek returns the last week with a row, of a product at a place, that began
// no later than an instant, and what was there when it began; without one,
// nothing had moved there, and the zero time and nothing are returned.
func lastWeek(r Reader, loc LocationID, p ProductID, at time.Time) (week time.Time, s standing, err error) {
	err = r.ScanBack(ixWeek, weekPrefix(loc, p, 0), weekKey(loc, p, 0, at), func(key, _ []byte) error {
		if week, err = weekBegin(key); err != nil {
			return err
		}
		return ErrStop
	})
	if err != nil || week.IsZero() {
		return week, standing{}, err
	}
	s, err = began(r, loc, p, week)
	return week, s, err
}

// nextWeek returns the first week with a row after one, the zero time if there
// is none.
func nextWeek(r Reader, loc LocationID, p ProductID, week time.Time) (next time.Time, err error) {
	err = r.Scan(ixWeek, weekPrefix(loc, p, 0), weekKey(loc, p, 0, week.Add(weekLong)), func(key, _ []byte) error {
		if next, err = weekBegin(key); err != nil {
			return err
		}
		return ErrStop
	})
	return next, err
}

// began adds up what was there when a week with a row began: the long blocks
// before the one that it lies in, then the shorter ones, then the weeks.
func began(r Reader, loc LocationID, p ProductID, week time.Time) (standing, error) {
	s := standing{}
	var from []byte
	for level := len(blocks) - 1; level >= 0; level-- {
		end := week.Truncate(blocks[level])
		err := r.Scan(ixWeek, weekPrefix(loc, p, level), from, func(key, row []byte) error {
			begin, err := weekBegin(key)
			if err != nil {
				return err
			}
			if begin.After(week) || (level > 0 && !begin.Before(end)) {
				return ErrStop
			}
			d, err := readStanding(row)
			s.add(d, 1)
			return err
		})
		if err != nil {
			return nil, err
		}
		if level > 0 {
			from = weekKey(loc, p, level-1, end)
		}
	}
	return s, nil
}

// StoodAt returns what the book had of a product's lots at a place before an
// instant, by all that is known now; lots of which there was nothing are left
// out. It costs what moved there in the week before, not what the journal
// holds.
func StoodAt(r Reader, loc LocationID, p ProductID, before time.Time) (map[Lot]int64, error) {
	week, s, err := lastWeek(r, loc, p, before)
	if err != nil || week.IsZero() {
		return map[Lot]int64{}, err
	}
	err = ScanPlace(r, loc, p, week, before, func(m *PlaceMovement) error {
		s.take(m)
		return nil
	})
	lots := make(map[Lot]int64, len(s))
	for number, n := range s {
		lots[Lot{p, number}] = n
	}
	return lots, err
}

// quantityBefore returns what a place held of a lot before a moment.
func quantityBefore(r Reader, loc LocationID, l Lot, before moment) (int64, error) {
	week, s, err := lastWeek(r, loc, l.Product, before.at)
	if err != nil || week.IsZero() {
		return 0, err
	}
	end := before.at
	if end.Before(rowcode.MaxTime) {
		end = end.Add(1) // so that what happened at the same time is seen
	}
	err = ScanPlace(r, loc, l.Product, week, end, func(m *PlaceMovement) error {
		if m.Lot == l && (moment{m.Happened, m.Entry}).before(before) {
			s.take(m)
		}
		return nil
	})
	return s[l.Number], err
}

// ProductsAt returns the products of which anything ever moved at a place, by
// id. It costs what it lists.
func ProductsAt(r Reader, loc LocationID) (ids []ProductID, err error) {
	prefix := rowcode.AppendText(nil, string(loc))
	from := prefix
	for from != nil {
		start := from
		from = nil
		err := r.Scan(ixWeek, prefix, start, func(key, _ []byte) error {
			k := rowcode.ReadKey(key)
			k.Text()
			id := k.Text()
			k.Number()
			k.Time()
			if err := k.Err(); err != nil {
				return err
			}
			ids = append(ids, ProductID(id))
			// The next product's keys begin after all that continue this one's.
			from = append(append(bytes.Clone(prefix), id...), 1)
			return ErrStop
		})
		if err != nil {
			return nil, err
		}
	}
	return ids, nil
}
