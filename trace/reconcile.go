package trace

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"lotbook/inventory"
)

// Reconcile compares a shift's counts, records and rules.
func (b *Book) Reconcile(ctx context.Context, s inventory.Shift) (*Reconciliation, error) {
	rec := &Reconciliation{Shift: s, At: b.Now(), Lines: []Line{}}
	err := b.View(ctx, func(r inventory.Reader) error {
		rec.AsOf = r.Head()
		u, err := b.Unit(r)
		if err != nil {
			return err
		}
		if rec.From, rec.To, err = u.Window(s); err != nil {
			return err
		}
		locs, err := inventory.Locations(r)
		if err != nil {
			return err
		}
		for _, loc := range locs {
			p, err := b.placeShift(r, u, loc.ID, rec)
			if err != nil {
				return err
			}
			rec.Treatments += p.treatments
			rec.Lines = append(rec.Lines, p.result()...)
		}
		return nil
	})
	return rec, err
}

// A placeShift is one location during one shift.
type placeShift struct {
	loc              inventory.LocationID
	opening, closing *inventory.Count // the last ones
	// tagged are the shift's own counts, decoded; complete tells that one of
	// them covered the whole place.
	tagged     map[uint64]*inventory.Counted
	complete   bool
	base       *inventory.Count // the last complete count at or before the start
	from, to   time.Time
	lines      map[inventory.ProductID]*Line
	shared     map[inventory.ProductID]int64 // volumes, µL
	treatments int
	seen       map[uint64]bool // entries of uses in those treatments
}

func (b *Book) placeShift(r inventory.Reader, u *inventory.Unit, loc inventory.LocationID, rec *Reconciliation) (*placeShift, error) {
	p := &placeShift{
		loc: loc, from: rec.From, to: rec.To,
		lines: map[inventory.ProductID]*Line{}, shared: map[inventory.ProductID]int64{}, seen: map[uint64]bool{}, tagged: map[uint64]*inventory.Counted{},
	}
	if err := b.counts(r, p, rec); err != nil {
		return nil, err
	}
	if err := b.expectations(r, p); err != nil {
		return nil, err
	}
	if err := b.movements(r, u, p); err != nil {
		return nil, err
	}
	return p, nil
}

// near is how far from a shift's start a count may lie and still be its
// opening count.
const near = 3 * time.Hour

// counts finds the counts that open and close the shift at the place. Several
// counts may close it together: a recount, or each half of a cart.
func (b *Book) counts(r inventory.Reader, p *placeShift, rec *Reconciliation) error {
	err := inventory.ScanCountsBack(r, p.loc, rec.To.Add(near), func(c *inventory.Count) error {
		if c.At.Before(rec.From.Add(-near)) {
			return inventory.ErrStop
		}
		if c.Shift == nil || *c.Shift != rec.Shift {
			return nil
		}
		if p.closing == nil {
			p.closing, p.to = c, c.At
		}
		p.complete = p.complete || c.Complete
		ev, err := b.event(r, c.Entry)
		if err != nil {
			return err
		}
		p.tagged[c.Entry] = ev.(*inventory.Counted)
		return nil
	})
	if err != nil {
		return err
	}
	before := rec.From.Add(near)
	if p.closing != nil && p.closing.At.Before(before) {
		before = p.closing.At
	}
	return inventory.ScanCountsBack(r, p.loc, before, func(c *inventory.Count) error {
		if p.opening == nil && c.At.After(rec.From.Add(-near)) && (c.Shift == nil || *c.Shift != rec.Shift) && c.Complete {
			p.opening, p.from = c, c.At
		}
		if c.Complete && !c.At.After(p.from) {
			p.base = c
			return inventory.ErrStop
		}
		return nil
	})
}

func (p *placeShift) line(id inventory.ProductID) *Line {
	l := p.lines[id]
	if l == nil {
		l = &Line{Product: id, Location: p.loc, From: p.from, To: p.to, OpeningCounted: p.opening != nil}
		p.lines[id] = l
	}
	return l
}

// expectations adds what the place's treatments should have used and what
// their records say about the difference.
func (b *Book) expectations(r inventory.Reader, p *placeShift) error {
	return ScanStarts(r, p.from, p.to, func(t *Treatment) error {
		if t.Location != p.loc || t.Struck != 0 || t.NotDone {
			return nil
		}
		p.treatments++
		for i := range t.Uses {
			p.seen[t.Uses[i].Entry] = true
		}
		xs, err := b.Expected(r, t)
		if err != nil {
			return err
		}
		for i := range xs {
			p.expect(&xs[i], t)
		}
		return nil
	})
}

func (p *placeShift) expect(x *inventory.Expectation, t *Treatment) {
	if x.Product == "" {
		return
	}
	l := p.line(x.Product)
	if x.Shared {
		p.shared[x.Product] += x.Volume
	}
	l.Expected += x.Pieces
	if !x.Scan {
		l.cause(CauseNoRecordRule, x.Pieces, -x.Pieces, t.ID, 0, "the unit does not keep this by lot")
		return
	}
	p.explain(l, x, t)
}

// movements adds what the place's book and counts say.
func (b *Book) movements(r inventory.Reader, u *inventory.Unit, p *placeShift) error {
	products, err := b.Products(r)
	if err != nil {
		return err
	}
	ids := map[inventory.ProductID]bool{}
	for _, q := range products {
		ids[q.ID] = true
	}
	there, err := inventory.OnHand(r, p.loc, "")
	if err != nil {
		return err
	}
	for _, bal := range there {
		ids[bal.Lot.Product] = true
	}
	for id := range ids {
		if err := b.walk(r, p, id); err != nil {
			return err
		}
	}
	for id, l := range p.lines {
		q, err := b.Product(r, id)
		if err != nil {
			return err
		}
		if q == nil {
			continue
		}
		l.Name, l.Category = q.Name, q.Category
		if v := p.shared[id]; v > 0 {
			l.Expected += inventory.SharedPieces(v, q.Facts.FillVolume)
		}
	}
	return nil
}

// walk goes through a product's movements at the place from the last complete
// count at or before the start to the end.
func (b *Book) walk(r inventory.Reader, p *placeShift, id inventory.ProductID) error {
	var since time.Time
	if p.base != nil {
		since = p.base.At
	} else {
		since = time.Unix(0, 0)
	}
	book := map[inventory.Lot]int64{}
	var opening int64
	named := map[inventory.Lot]bool{} // by a count of the shift
	opened := false
	var l *Line
	open := func() {
		opened = true
		for _, n := range book {
			opening += n
		}
	}
	err := inventory.ScanPlace(r, p.loc, id, since, p.to.Add(time.Nanosecond), func(m *inventory.PlaceMovement) error {
		if m.Struck != 0 {
			return nil
		}
		if p.inOpening(m) {
			if m.Class == inventory.ClassCounted {
				book[m.Lot] = m.Counted
			} else {
				book[m.Lot] += m.Delta
			}
			return nil
		}
		if !opened {
			open()
		}
		l = p.line(id)
		book[m.Lot] += m.Delta
		switch m.Class {
		case inventory.ClassCounted:
			if c := p.tagged[m.Entry]; c != nil {
				named[m.Lot] = true
				l.saidAtCount(c, m, book[m.Lot])
			}
			book[m.Lot] = m.Counted
			return nil
		case inventory.ClassUsed:
			l.Used -= m.Delta
			if !p.seen[m.Entry] {
				return b.foreignUse(r, l, m)
			}
		case inventory.ClassWasted:
			l.Wasted -= m.Delta
			return b.wasteCause(r, l, m)
		default:
			if m.Delta > 0 {
				l.In += m.Delta
			} else {
				l.Out -= m.Delta
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if !opened {
		open()
	}
	if l = p.lines[id]; l == nil {
		if opening == 0 {
			return nil
		}
		l = p.line(id)
	}
	l.Opening = opening
	if p.closing != nil && (p.complete || namesAll(named, book)) {
		// What the counts found, and what moved between them and the last.
		var closing int64
		for _, n := range book {
			closing += n
		}
		l.Closing = &closing
	}
	return nil
}

// namesAll reports whether counts that were not complete named a product's lots
// all the same: every one that the book has there.
func namesAll(named map[inventory.Lot]bool, book map[inventory.Lot]int64) bool {
	for l, n := range book {
		if n != 0 && !named[l] {
			return false
		}
	}
	return len(named) > 0
}

// inOpening reports whether a movement is part of what was there at the start.
func (p *placeShift) inOpening(m *inventory.PlaceMovement) bool {
	if p.opening != nil && m.Happened.Equal(p.opening.At) {
		return m.Entry <= p.opening.Entry
	}
	return m.Happened.Before(p.from)
}

func (p *placeShift) result() []Line {
	var lines []Line
	for _, id := range slices.SortedFunc(maps.Keys(p.lines), cmp.Compare[inventory.ProductID]) {
		l := p.lines[id]
		l.finish()
		if l.Expected == 0 && l.Recorded == 0 && l.In == 0 && l.Out == 0 && (l.Counted == nil || *l.Counted == 0) {
			continue
		}
		lines = append(lines, *l)
	}
	return lines
}
