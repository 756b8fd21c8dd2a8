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
//   - after the last trace of it anywhere, once complete counts found none of it
//     so often that a piece must have been overlooked by two in a row, see
//     gone.go, it was not in the unit; one count alone may have overlooked a box,
//     or taken it for another lot;
//   - after as many pieces as came in are recorded as used from the pack,
//     wasted or gone, with no trace of it later and none left by the counts, it
//     was not in the unit. A piece that was opened for several treatments is
//     there until it was closed; of a product whose pieces are shared, one that
//     nobody recorded as opened may stand open, so this does not hold.
//
// A balance of zero is no reason: uses that nobody recorded and counts with
// errors both make balances wrong.
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
	// firstSight and lastSight are the first and the last trace of it.
	firstSight, lastSight sight
	// ended is why nothing of it was left after last; counts are the entries of
	// the counts that show it, and uncounted the places that were never counted,
	// so that none can.
	ended     LeftOutCode
	counts    []uint64
	uncounted []string
	// book is what each place has by the book and the counts.
	book map[placeOf]int64
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

// A placeOf is a place, for the pieces of a product's id.
type placeOf struct {
	loc     inventory.LocationID
	product inventory.ProductID
}

// A sight is a trace of the lot at a place: brought there, or taken or found
// there. Entry is the entry that says so, 0 if none does.
type sight struct {
	at      time.Time
	entry   uint64
	brought bool
}

// add takes a movement that stands, in the order in which they happened.
func (p *presence) add(m *inventory.Movement, how How) {
	if p.sights == nil {
		p.sights, p.book = map[inventory.LocationID][]sight{}, map[placeOf]int64{}
	}
	from, to := m.From != "" && !p.away[m.From], m.To != "" && !p.away[m.To]
	if m.Class == inventory.ClassCounted {
		if to {
			p.book[placeOf{m.To, m.Lot.Product}] = m.Quantity
		}
		if to && m.Quantity > 0 {
			p.see(m.To, sight{m.Happened, m.Entry, false})
		}
		return
	}
	if from {
		p.see(m.From, sight{m.Happened, m.Entry, false})
		p.book[placeOf{m.From, m.Lot.Product}] -= m.Quantity
	}
	if to {
		p.see(m.To, sight{m.Happened, m.Entry, true})
		p.book[placeOf{m.To, m.Lot.Product}] += m.Quantity
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

func (p *presence) see(loc inventory.LocationID, s sight) {
	p.sights[loc] = append(p.sights[loc], s)
	if p.firstSight.at.IsZero() || s.at.Before(p.firstSight.at) {
		p.firstSight = s
	}
	if s.at.After(p.lastSight.at) {
		p.lastSight = s
	}
}

// finish works out the spans. Movements of several ledgers may have been added
// one ledger after the other.
func (p *presence) finish(r inventory.Reader, zone *time.Location) error {
	p.last = rowcode.MaxTime
	if len(p.sights) == 0 {
		return nil
	}
	p.first = startOfDay(p.firstSight.at, zone)
	if err := p.keepOpen(r); err != nil {
		return err
	}
	if p.accountedFor() {
		p.last, p.ended = p.outAt, LeftOutAccounted
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
		p.last, p.ended = gone, LeftOutCounted
	}
	return nil
}

// accountedFor reports whether as many pieces as came in are recorded as used,
// wasted or gone, and neither a trace nor a count speaks against it.
func (p *presence) accountedFor() bool {
	return p.in > 0 && (!p.shared || p.alone == p.out) && p.in == p.out && p.left() <= 0 && !p.lastSight.at.After(p.outAt)
}

// left is how many pieces there are by the book and the counts.
func (p *presence) left() (left int64) {
	for _, n := range p.book {
		left += n
	}
	return left
}

// keepOpen has the lot stay where its containers stand open until they were
// closed, and to the end if that is not on record.
func (p *presence) keepOpen(r inventory.Reader) error {
	for _, id := range p.opened {
		c, err := ContainerByID(r, id)
		if err != nil {
			return err
		}
		for _, s := range c.stays() {
			p.see(s.place, sight{s.from, s.entry, true})
			p.see(s.place, sight{s.until, s.by, false})
			if s.until.After(p.outAt) {
				p.outAt = s.until
			}
		}
	}
	return nil
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
	if !after.Before(rowcode.MaxTime) {
		return time.Time{}, nil
	}
	list, err := completeCounts(r, loc, after.Add(1), 2)
	if err != nil || len(list) < 2 || !list[1].At.Before(before) {
		return time.Time{}, err
	}
	return list[1].At, nil
}

func startOfDay(t time.Time, zone *time.Location) time.Time {
	y, m, d := t.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, zone).UTC()
}

// window returns the time outside of which the lot was not in the unit.
func (p *presence) window() (from, to time.Time) { return p.first, p.last }

// absent says why the lot was not in the unit at any time in [from, to], empty if
// it may have been.
func (p *presence) absent(from, to time.Time) LeftOutCode {
	switch {
	case to.Before(p.first):
		return LeftOutNotYet
	case !from.After(p.last):
		return ""
	}
	return p.ended
}

// anywhere reports whether the lot may have been in the unit at any time in
// [from, to].
func (p *presence) anywhere(from, to time.Time) bool {
	return p.absent(from, to) == ""
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
