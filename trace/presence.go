package trace

import (
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A presence says when a lot may have been in the unit, and where. It takes
// only what shows that a lot was gone as a reason to say so:
//
//   - before anything on record names it, counted from the start of that day
//     (deliveries are put away before they are booked: common practice, no
//     source), it was not in the unit;
//   - after the last trace of it anywhere, once every place that is counted,
//     and every place where it was ever seen, has had two complete counts that
//     found none of it, it was not in the unit; one count alone may have
//     overlooked a box;
//   - after as many pieces as came in are recorded as used from the pack,
//     wasted or gone, with no trace of it later, it was not in the unit. A piece
//     that was opened for several treatments is there until it was closed; of a
//     product whose pieces are shared, one that nobody recorded as opened may
//     stand open, so this does not hold.
//
// A balance of zero is no reason: uses that nobody recorded and counts with
// errors both make balances wrong. What remains assumed, and is said in the
// README: nobody overlooks the same lot in two complete counts, one after the
// other, while carrying it about unrecorded between them.
//
// Where in the unit it may have been decides only how probable an exposure is:
// a place is left out after two complete counts of that place without it.
type presence struct {
	// first is when the lot came, last when nothing of it was left.
	first, last time.Time
	spans       map[inventory.LocationID][]span
	sights      map[inventory.LocationID][]sight
	in, out     int64
	outAt       time.Time
	lastSight   time.Time
	// away are the places out of the house: other units, home patients. What
	// goes there has left, and no trace of the lot there says that it was
	// here.
	away map[inventory.LocationID]bool
	// opened are the containers of the lot that were opened for several
	// treatments; shared is set for a product of which one piece serves
	// several although nobody records that it was opened.
	opened []ContainerID
	alone  int64 // pieces opened as containers
	shared bool
}

type span struct{ from, to time.Time }

// A sight is a trace of the lot at a place: brought there, or taken or found
// there.
type sight struct {
	at      time.Time
	brought bool
}

// add takes a movement that stands, in the order in which they happened.
func (p *presence) add(m *inventory.Movement, how How) {
	if p.sights == nil {
		p.sights = map[inventory.LocationID][]sight{}
	}
	from, to := m.From != "" && !p.away[m.From], m.To != "" && !p.away[m.To]
	if m.Class == inventory.ClassCounted {
		if to && m.Quantity > 0 {
			p.see(m.To, m.Happened, false)
		}
		return
	}
	if from {
		p.see(m.From, m.Happened, false)
	}
	if to {
		p.see(m.To, m.Happened, true)
	}
	switch {
	case to && !from:
		p.in += m.Quantity
	case from && !to && how != Assumed:
		p.out += m.Quantity
		if m.Happened.After(p.outAt) {
			p.outAt = m.Happened
		}
	}
}

func (p *presence) see(loc inventory.LocationID, at time.Time, brought bool) {
	p.sights[loc] = append(p.sights[loc], sight{at, brought})
	if p.first.IsZero() || at.Before(p.first) {
		p.first = at
	}
	if at.After(p.lastSight) {
		p.lastSight = at
	}
}

// finish works out the spans. Movements of several ledgers may have been added
// one ledger after the other.
func (p *presence) finish(r inventory.Reader, zone *time.Location) error {
	p.last = rowcode.MaxTime
	if len(p.sights) == 0 {
		return nil
	}
	p.first = startOfDay(p.first, zone)
	if err := p.keepOpen(r); err != nil {
		return err
	}
	if p.in > 0 && (!p.shared || p.alone == p.out) && p.in == p.out && !p.lastSight.After(p.outAt) {
		p.last = p.outAt
	}
	p.spans = map[inventory.LocationID][]span{}
	for loc, list := range p.sights {
		slices.SortStableFunc(list, func(a, b sight) int { return a.at.Compare(b.at) })
		spans, err := spansAt(r, loc, list, p.first, zone)
		if err != nil {
			return err
		}
		p.spans[loc] = spans
	}
	gone, err := p.gone(r)
	if err != nil {
		return err
	}
	if gone.Before(p.last) {
		p.last = gone
	}
	return nil
}

// keepOpen has the lot stay where its containers stand open until they were
// closed, and to the end if that is not on record.
func (p *presence) keepOpen(r inventory.Reader) error {
	for _, id := range p.opened {
		c, err := ContainerByID(r, id)
		if err != nil {
			return err
		}
		until := c.Closed
		if until.IsZero() {
			until = rowcode.MaxTime
		}
		p.see(c.Place, c.Opened, true)
		p.see(c.Place, until, false)
		if until.After(p.outAt) {
			p.outAt = until
		}
	}
	return nil
}

// gone returns when the last place had had two complete counts after the last
// trace of the lot, rowcode.MaxTime if one has not. A place that was added only
// after all older ones had had theirs does not count: the lot was gone by then.
func (p *presence) gone(r inventory.Reader) (time.Time, error) {
	locs, err := inventory.Locations(r)
	if err != nil {
		return time.Time{}, err
	}
	slices.SortStableFunc(locs, func(a, b inventory.Location) int { return a.Since.Compare(b.Since) })
	var gone time.Time
	for _, l := range locs {
		if l.Type.Away() {
			continue
		}
		seen := len(p.sights[l.ID]) > 0
		if !seen && !gone.IsZero() && l.Since.After(p.lastSight) && l.Since.After(gone) {
			continue
		}
		at, err := secondAbsence(r, l.ID, p.lastSight, rowcode.MaxTime)
		if err != nil {
			return time.Time{}, err
		}
		if at.IsZero() {
			counted, err := everCounted(r, l.ID)
			if err != nil {
				return time.Time{}, err
			}
			if counted || seen {
				return rowcode.MaxTime, nil
			}
		}
		if at.After(gone) {
			gone = at
		}
	}
	if gone.IsZero() {
		return rowcode.MaxTime, nil
	}
	return gone, nil
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

// spansAt works out when the lot may have been at one place.
func spansAt(r inventory.Reader, loc inventory.LocationID, list []sight, first time.Time, zone *time.Location) ([]span, error) {
	var spans []span
	for i := 0; i < len(list); {
		from := startOfDay(list[i].at, zone)
		if !list[i].brought {
			// Seen there, and nobody recorded how it came.
			from = first
			if n := len(spans); n > 0 {
				from = spans[n-1].from
				spans = spans[:n-1]
			}
		}
		// It was there without a break up to the last sight before one
		// that brought it anew after two counts without it.
		to := rowcode.MaxTime
		j := i
		for ; j < len(list); j++ {
			next := rowcode.MaxTime
			if j+1 < len(list) {
				if !list[j+1].brought {
					continue
				}
				next = list[j+1].at
			}
			gone, err := secondAbsence(r, loc, list[j].at, next)
			if err != nil {
				return nil, err
			}
			if !gone.IsZero() {
				to = gone
				break
			}
		}
		spans = append(spans, span{from, to})
		i = j + 1
	}
	return spans, nil
}

// secondAbsence returns the time of the second complete count of a place in
// (after, before), zero if there were not two.
func secondAbsence(r inventory.Reader, loc inventory.LocationID, after, before time.Time) (time.Time, error) {
	var n int
	var at time.Time
	err := inventory.ScanCounts(r, loc, after, func(c *inventory.Count) error {
		switch {
		case !c.At.Before(before):
			return inventory.ErrStop
		case !c.Complete || !c.At.After(after):
			return nil
		}
		if n++; n == 2 {
			at = c.At
			return inventory.ErrStop
		}
		return nil
	})
	return at, err
}

func startOfDay(t time.Time, zone *time.Location) time.Time {
	y, m, d := t.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, zone).UTC()
}

// window returns the time outside of which the lot was not in the unit.
func (p *presence) window() (from, to time.Time) { return p.first, p.last }

// anywhere reports whether the lot may have been in the unit at any time in
// [from, to].
func (p *presence) anywhere(from, to time.Time) bool {
	return !from.After(p.last) && !to.Before(p.first)
}

// at reports whether the lot may have been at a place at any time in [from, to].
func (p *presence) at(loc inventory.LocationID, from, to time.Time) bool {
	if from.After(p.last) {
		return false
	}
	for _, s := range p.spans[loc] {
		if !s.from.After(to) && !s.to.Before(from) {
			return true
		}
	}
	return false
}
