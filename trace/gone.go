package trace

import (
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// An absence is a place whose complete counts after the last trace of a lot
// found none of it.
type absence struct {
	loc inventory.LocationID
	// seen: the lot was there at some time.
	seen bool
	// counts are the first two of them.
	counts []*inventory.Count
}

// gone returns the time from which counts show that nothing of the lot was left,
// rowcode.MaxTime if they don't. It rests on two assumptions about each piece
// after the last trace of its lot, and on nothing else:
//
//   - no two complete counts in a row overlook it where it lies, or take it for
//     another lot; and
//   - it is carried from one place to another without a word at most once.
//
// So a piece may lie at a place p until it has been overlooked there n times, be
// carried to a place q, and be overlooked there as well, as long as that is one
// count in all. It can't be left once, for each p and q, the counts of p before
// any moment and those of q after it are two or more: when each place has had
// two counts, and when each q has had two from the first count of each other
// place on where the lot was, and one from its second count on.
//
// A place that was never counted shows nothing. A place that was added only
// when the lot was gone from all others does not count.
func (p *presence) gone(r inventory.Reader) (time.Time, error) {
	locs, err := inventory.Locations(r)
	if err != nil {
		return time.Time{}, err
	}
	slices.SortStableFunc(locs, func(a, b inventory.Location) int { return a.Since.Compare(b.Since) })
	var list []absence
	missing := false
	for _, l := range locs {
		if l.Type.Away() {
			continue
		}
		a := absence{loc: l.ID, seen: len(p.sights[l.ID]) > 0}
		if !a.seen && l.Since.After(p.lastSight.at) && len(list) > 0 && !missing {
			gone, _, err := settled(r, list)
			if err != nil {
				return time.Time{}, err
			}
			if l.Since.After(gone) {
				continue
			}
		}
		if a.counts, err = completeCounts(r, l.ID, p.lastSight.at.Add(1), 2); err != nil {
			return time.Time{}, err
		}
		if len(a.counts) == 2 {
			list = append(list, a)
			continue
		}
		counted, err := everCounted(r, l.ID)
		if err != nil {
			return time.Time{}, err
		}
		if !counted && !a.seen && l.Type == inventory.Quarantine {
			continue // nobody takes from there without carrying it once more
		}
		if missing = true; !counted {
			p.uncounted = append(p.uncounted, l.Name)
		}
	}
	if missing || len(list) == 0 {
		return rowcode.MaxTime, nil
	}
	gone, counts, err := settled(r, list)
	p.counts = counts
	return gone, err
}

// settled returns the time of the count after which a piece can't have been
// overlooked only once at the places, carried at most once between them, and
// the entries of the counts that show it.
func settled(r inventory.Reader, list []absence) (gone time.Time, entries []uint64, err error) {
	take := func(counts ...*inventory.Count) {
		for _, c := range counts {
			if c.At.After(gone) {
				gone = c.At
			}
			if !slices.Contains(entries, c.Entry) {
				entries = append(entries, c.Entry)
			}
		}
	}
	for _, q := range list {
		take(q.counts...)
		var first, second time.Time
		for _, p := range list {
			if p.seen && p.loc != q.loc {
				first, second = later(first, p.counts[0].At), later(second, p.counts[1].At)
			}
		}
		if first.IsZero() {
			continue
		}
		twice, err := completeCounts(r, q.loc, first, 2)
		if err != nil {
			return gone, nil, err
		}
		once, err := completeCounts(r, q.loc, second, 1)
		if err != nil {
			return gone, nil, err
		}
		if len(twice) < 2 || len(once) < 1 {
			return rowcode.MaxTime, nil, nil
		}
		take(twice...)
		take(once...)
	}
	return gone, entries, nil
}

// completeCounts returns the first n complete counts of a place at an instant or
// later.
func completeCounts(r inventory.Reader, loc inventory.LocationID, from time.Time, n int) (list []*inventory.Count, err error) {
	if !from.Before(rowcode.MaxTime) {
		return nil, nil
	}
	err = inventory.ScanCounts(r, loc, from, func(c *inventory.Count) error {
		if c.Complete {
			list = append(list, c)
		}
		if len(list) == n {
			return inventory.ErrStop
		}
		return nil
	})
	return list, err
}

// everCounted reports whether a place was ever counted completely.
func everCounted(r inventory.Reader, loc inventory.LocationID) (bool, error) {
	found := false
	err := inventory.ScanCountsBack(r, loc, rowcode.MaxTime, func(c *inventory.Count) error {
		if found = c.Complete; found {
			return inventory.ErrStop
		}
		return nil
	})
	return found, err
}
