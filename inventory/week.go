package inventory

import (
	"bytes"
	"cmp"
	"maps"
	"slices"
	"time"

	"lotbook/inventory/rowcode"
)

// What lay at a place at some time in the past is found from the last row of
// ixWeek before it: what the book had of a product there when that week began.
// A week has a row if anything moved in it, so that looking back costs what
// moved in a week, whether or not anybody ever counted.

// ixWeek: location product week -> what was there of each lot when the week
// began.
const ixWeek Index = "week"

// weekLong is how far apart the rows are. Weeks are counted from 1970-01-01 UTC:
// they have nothing to do with the unit's own weeks.
const weekLong = 7 * 24 * time.Hour

func weekOf(t time.Time) time.Time { return t.UTC().Truncate(weekLong) }

// standing is the pieces of each lot of a product that a place has, those of
// which there are none left out.
type standing map[string]int64

// take takes in a movement: a count says what is there, others change it.
func (s standing) take(m *PlaceMovement) {
	n := s[m.Lot.Number]
	switch {
	case m.Struck != 0:
		return
	case m.Class == ClassCounted:
		n = m.Counted
	default:
		n += m.Delta
	}
	if n == 0 {
		delete(s, m.Lot.Number)
	} else {
		s[m.Lot.Number] = n
	}
}

func weekKey(loc LocationID, p ProductID, week time.Time) []byte {
	return rowcode.AppendTime(rowcode.AppendText(nil, string(loc), string(p)), week)
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

func readWeek(key, row []byte) (week time.Time, s standing, err error) {
	k := rowcode.ReadKey(key)
	k.Text()
	k.Text()
	week = k.Time()
	if err := k.Err(); err != nil {
		return week, nil, err
	}
	d := rowcode.NewDec(1, row)
	s = standing{}
	for range d.Count() {
		lot := d.Text()
		s[lot] = d.Int()
	}
	return week, s, d.Err()
}

// lastWeek returns the last row of a product at a place of a week that began no
// later than an instant; without one, nothing had moved there, and the zero
// time and nothing are returned.
func lastWeek(r Reader, loc LocationID, p ProductID, at time.Time) (week time.Time, s standing, err error) {
	s = standing{}
	prefix := rowcode.AppendText(nil, string(loc), string(p))
	from := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], at)
	err = r.ScanBack(ixWeek, prefix, from, func(key, row []byte) error {
		if week, s, err = readWeek(key, row); err != nil {
			return err
		}
		return ErrStop
	})
	return week, s, err
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

// carry writes the row of a movement's week, if it is the first one there, and
// takes a movement that came late, or was struck out, into the rows of the
// weeks after it.
func carry(w Writer, loc LocationID, m *Movement) error {
	week := weekOf(m.Happened)
	key := weekKey(loc, m.Lot.Product, week)
	row, err := w.Get(ixWeek, key)
	if err != nil {
		return err
	}
	if row == nil {
		last, s, err := lastWeek(w, loc, m.Lot.Product, week)
		if err != nil {
			return err
		}
		if !last.IsZero() {
			err = ScanPlace(w, loc, m.Lot.Product, last, week, func(p *PlaceMovement) error { s.take(p); return nil })
			if err != nil {
				return err
			}
		}
		row = s.row()
		if err := w.Put(ixWeek, key, row); err != nil {
			return err
		}
	}
	_, s, err := readWeek(key, row)
	if err != nil {
		return err
	}
	return carryOn(w, loc, m.Lot, week, s[m.Lot.Number])
}

// carryOn goes through the weeks after one that began with n pieces of a lot,
// until one begins with what its row says already.
func carryOn(w Writer, loc LocationID, l Lot, week time.Time, n int64) error {
	type begun struct {
		week time.Time
		lots standing
	}
	var later []begun
	prefix := rowcode.AppendText(nil, string(loc), string(l.Product))
	from := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], week.Add(weekLong))
	err := w.Scan(ixWeek, prefix, from, func(key, row []byte) error {
		at, s, err := readWeek(key, row)
		later = append(later, begun{at, s})
		return err
	})
	if err != nil {
		return err
	}
	s := standing{}
	if n != 0 {
		s[l.Number] = n
	}
	for _, b := range later {
		err := ScanPlace(w, loc, l.Product, week, b.week, func(p *PlaceMovement) error {
			if p.Lot == l {
				s.take(p)
			}
			return nil
		})
		if err != nil {
			return err
		}
		if b.lots[l.Number] == s[l.Number] {
			return nil
		}
		if b.lots[l.Number] = s[l.Number]; s[l.Number] == 0 {
			delete(b.lots, l.Number)
		}
		if err := w.Put(ixWeek, weekKey(loc, l.Product, b.week), b.lots.row()); err != nil {
			return err
		}
		week = b.week
	}
	return nil
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
