package trace

import (
	"time"

	"lotbook/inventory"
)

// A Record is how the treatments of some past days differed from their plan:
// what the forecast of use rests on beyond the plan.
type Record struct {
	From inventory.Date `json:"from"`
	Days int            `json:"days"`
	// Planned is how many treatments were planned in these days; NotDone of
	// them did not take place, and Unplanned took place without a plan.
	Planned   int `json:"planned_treatments"`
	NotDone   int `json:"not_done"`
	Unplanned int `json:"unplanned"`

	products map[inventory.ProductID]*pastUse
	seen     map[uint64]bool // entries of uses in treatments
}

// pastUse is what the record says of one product's use.
type pastUse struct {
	further, wasted, outside events
	// used is what is recorded as used in treatments.
	used int64
	// found is what counts found beyond the book, below zero for less,
	// stretched to all the days; counted tells that counts span enough of
	// them at every place that had the product.
	found   float64
	counted bool
}

// events are uses that come one by one: their sum, and the sum of their squares.
type events struct {
	n            int
	sum, squares int64
}

func (e *events) add(n int64) {
	e.n++
	e.sum += n
	e.squares += n * n
}

func (rec *Record) of(id inventory.ProductID) *pastUse {
	p := rec.products[id]
	if p == nil {
		p = new(pastUse)
		rec.products[id] = p
	}
	return p
}

// attendance is a planned treatment, or one that took place.
type attendance struct {
	patient PatientID
	date    inventory.Date
}

// record reads what happened in so many days before a plan's day. What it costs
// grows with these days, not with the journal.
func (b *Book) record(r inventory.Reader, u *inventory.Unit, p *Plan, days int, products []inventory.ProductID) (*Record, error) {
	rec := &Record{From: p.Today.AddDays(-days), Days: days, products: map[inventory.ProductID]*pastUse{}, seen: map[uint64]bool{}}
	zone, err := u.Zone()
	if err != nil {
		return nil, err
	}
	from, err := rec.From.Time(zone)
	if err != nil {
		return nil, err
	}
	to, err := p.Today.Time(zone)
	if err != nil {
		return nil, err
	}
	planned := map[attendance]int{}
	err = scanSlots(r, rec.From, p.Today, func(s Slot) error {
		planned[attendance{s.Patient, s.Shift.Date}]++
		rec.Planned++
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = ScanStarts(r, from, to, func(t *Treatment) error {
		if t.Struck != 0 || t.NotDone {
			return nil
		}
		a := attendance{t.Patient, inventory.DateOf(t.Start, zone)}
		if planned[a] > 0 {
			planned[a]--
		} else {
			rec.Unplanned++
		}
		return b.further(r, u, rec, t)
	})
	if err != nil {
		return nil, err
	}
	for _, n := range planned {
		rec.NotDone += n
	}
	return rec, b.moved(r, rec, products, from, to)
}

// further adds what a treatment used, and of it what was beyond the plan:
// replacements, further pieces, another product than required. Pieces that a run
// longer than planned took are beyond the plan as well. What a shorter run
// leaves is thrown away, so it saves nothing.
func (b *Book) further(r inventory.Reader, u *inventory.Unit, rec *Record, t *Treatment) error {
	if err := b.catalogue(r, t); err != nil {
		return err
	}
	required := t.Required
	if t.Closed && t.Minutes > t.Planned {
		ev, err := b.event(r, t.Opened)
		if err != nil {
			return err
		}
		required = ev.(*Opened).Required
	}
	planned := func(c inventory.Category, id inventory.ProductID) (pieces int64, counts bool) {
		for _, q := range required {
			if q.Category == c {
				if q.Product != id {
					return 0, true
				}
				return q.Pieces, q.Pieces > 0 // 0: shared, so pieces are compared over all days
			}
		}
		n, listed := u.Rules.Need(c)
		return 0, !listed || n.Scan
	}
	type of struct {
		category inventory.Category
		product  inventory.ProductID
	}
	var seen []of
	used := map[of]int64{}
	for i := range t.Uses {
		x := &t.Uses[i]
		rec.seen[x.Entry] = true
		if x.Struck != 0 {
			continue
		}
		k := of{x.Category, x.Product}
		if _, ok := used[k]; !ok {
			seen = append(seen, k)
		}
		used[k] += x.Quantity
	}
	for _, k := range seen {
		p := rec.of(k.product)
		p.used += used[k]
		if n, counts := planned(k.category, k.product); counts && used[k] > n {
			p.further.add(used[k] - n)
		}
	}
	return nil
}

// moved adds what was thrown away, used outside treatments, or found or missed
// by counts.
func (b *Book) moved(r inventory.Reader, rec *Record, products []inventory.ProductID, from, to time.Time) error {
	locs, err := inventory.Locations(r)
	if err != nil {
		return err
	}
	for _, id := range products {
		p := rec.of(id)
		p.counted = true
		for _, loc := range locs {
			if loc.Type.Away() {
				if err := p.sent(r, loc.ID, id, from, to); err != nil {
					return err
				}
				continue
			}
			if err := p.at(r, rec.seen, loc.ID, id, from, to); err != nil {
				return err
			}
		}
	}
	return nil
}

// sent adds what was moved to a place out of the house, such as a home patient's:
// the unit's shelves lack it, whatever becomes of it there.
func (p *pastUse) sent(r inventory.Reader, loc inventory.LocationID, id inventory.ProductID, from, to time.Time) error {
	return inventory.ScanPlace(r, loc, id, from, to, func(m *inventory.PlaceMovement) error {
		if m.Struck == 0 && m.Class == inventory.ClassMoved && m.Delta > 0 {
			p.outside.add(m.Delta)
		}
		return nil
	})
}

// at adds what a place's movements say. The book is followed from the first
// count of each lot on, so that nothing before these days has to be read.
func (p *pastUse) at(r inventory.Reader, seen map[uint64]bool, loc inventory.LocationID, id inventory.ProductID, from, to time.Time) error {
	book := map[inventory.Lot]int64{}
	var first, last time.Time // counts
	var found int64
	any := false
	err := inventory.ScanPlace(r, loc, id, from, to, func(m *inventory.PlaceMovement) error {
		if m.Struck != 0 {
			return nil
		}
		any = true
		switch m.Class {
		case inventory.ClassCounted:
			if n, ok := book[m.Lot]; ok {
				found += m.Counted - n
			}
			book[m.Lot] = m.Counted
			if first.IsZero() {
				first = m.Happened
			}
			last = m.Happened
			return nil
		case inventory.ClassWasted:
			p.wasted.add(-m.Delta)
		case inventory.ClassUsed:
			if seen[m.Entry] {
				break
			}
			e, err := r.Entry(m.Entry)
			if err != nil {
				return err
			}
			if e.Kind != (*Used)(nil).Kind() { // not of a treatment begun before these days
				p.outside.add(-m.Delta)
			}
		}
		if n, ok := book[m.Lot]; ok {
			book[m.Lot] = n + m.Delta
		}
		return nil
	})
	if err != nil || !any {
		return err
	}
	span := last.Sub(first)
	if first.IsZero() || 2*span < to.Sub(from) {
		p.counted = false
		return nil
	}
	p.found += float64(found) * float64(to.Sub(from)) / float64(span)
	return nil
}
