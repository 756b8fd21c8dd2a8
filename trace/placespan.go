package trace

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"lotbook/inventory"
)

// A placeSpan is one location during the span that is compared.
type placeSpan struct {
	of               *comparison
	loc              inventory.LocationID
	opening, closing *inventory.Count // the last ones
	// before is the complete count that the opening rests on, if it is not
	// long past; after the first complete one behind the closing.
	before, after *inventory.Counted
	beforeCount   *inventory.Count
	// inside are the counts of the span, decoded; complete tells that one
	// of them covered the whole place.
	inside   map[uint64]*inventory.Counted
	complete bool
	from, to time.Time
	// ids are the products of which anything ever moved here.
	ids        []inventory.ProductID
	lines      map[inventory.ProductID]*Line
	shared     map[inventory.ProductID]sharedVolume
	treatments int
	theirs     []*Treatment
}

// near is how far from a shift's start a count may lie and still be its
// opening count.
const near = 3 * time.Hour

// longAgo is how far back a complete count is looked for that the opening can
// be added up from; without one the book of the week is taken, which says the
// same.
const longAgo = 7 * 24 * time.Hour

// counts finds the counts that open and close the span at the place. Several
// counts may close a shift together: a recount, or each half of a cart. A span
// of many shifts is closed by the last complete count in it, and by what was
// counted after that.
func (b *Book) counts(r inventory.Reader, p *placeSpan) error {
	span, rec := &p.of.span, p.of.rec
	many := span.From != span.To
	err := inventory.ScanCountsBack(r, p.loc, rec.To.Add(near), func(c *inventory.Count) error {
		if c.At.Before(rec.From.Add(-near)) {
			return inventory.ErrStop
		}
		if c.Shift != nil && !span.holds(*c.Shift) {
			return nil
		}
		if c.Shift == nil && (!many || !c.At.After(rec.From.Add(near)) || !c.At.Before(rec.To)) {
			return nil
		}
		if p.closing == nil {
			p.closing, p.to = c, c.At
		}
		p.complete = p.complete || c.Complete
		ev, err := b.counted(r, c.Entry)
		p.inside[c.Entry] = ev
		return err
	})
	if err != nil {
		return err
	}
	before := rec.From.Add(near)
	if p.closing != nil && p.closing.At.Before(before) {
		before = p.closing.At
	}
	err = inventory.ScanCountsBack(r, p.loc, before, func(c *inventory.Count) error {
		if c.At.Before(rec.From.Add(-longAgo)) {
			return inventory.ErrStop
		}
		if p.opening == nil && c.At.After(rec.From.Add(-near)) && (c.Shift == nil || !span.holds(*c.Shift)) && c.Complete {
			p.opening, p.from = c, c.At
		}
		if c.Complete && !c.At.After(p.from) {
			p.beforeCount = c
			return inventory.ErrStop
		}
		return nil
	})
	if err != nil {
		return err
	}
	return b.countsBeside(r, p)
}

// countsBeside decodes the complete counts before and after the span.
func (b *Book) countsBeside(r inventory.Reader, p *placeSpan) error {
	if p.closing == nil {
		return nil
	}
	var err error
	if p.beforeCount != nil {
		if p.before, err = b.counted(r, p.beforeCount.Entry); err != nil {
			return err
		}
	}
	return inventory.ScanCounts(r, p.loc, p.to.Add(time.Nanosecond), func(c *inventory.Count) error {
		switch {
		case c.At.After(p.to.Add(longAgo)):
			return inventory.ErrStop
		case !c.Complete || p.inside[c.Entry] != nil:
			return nil
		}
		if p.after, err = b.counted(r, c.Entry); err != nil {
			return err
		}
		return inventory.ErrStop
	})
}

func (b *Book) counted(r inventory.Reader, seq uint64) (*inventory.Counted, error) {
	ev, err := b.event(r, seq)
	if err != nil {
		return nil, err
	}
	c := ev.(*inventory.Counted)
	c.Lines, err = c.PerLot(r)
	return c, err
}

// line returns the line of a product.
func (p *placeSpan) line(id inventory.ProductID) *Line {
	l := p.lines[id]
	if l == nil {
		l = &Line{Product: id, Location: p.loc, From: p.from, To: p.to, OpeningCounted: p.opening != nil, lots: map[string]int64{}}
		p.lines[id] = l
	}
	return l
}

// movements adds what the place's book and counts say.
func (b *Book) movements(r inventory.Reader, p *placeSpan) error {
	for _, id := range p.ids {
		if only := p.of.span.Product; only != "" && only != id {
			continue
		}
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
		if v, ok := p.shared[id]; ok {
			l.Expected += inventory.SharedPieces(v.real, q.Facts.FillVolume)
			l.Planned += inventory.SharedPieces(v.planned, q.Facts.FillVolume)
		}
	}
	return nil
}

// walk goes through a product's movements at the place from the last complete
// count at or before the start, or else from the week's balance, to the end.
func (b *Book) walk(r inventory.Reader, p *placeSpan, id inventory.ProductID) error {
	w := &placeWalk{p: p, id: id, book: map[inventory.Lot]int64{}, named: map[inventory.Lot]bool{}}
	since := p.from
	if p.beforeCount != nil {
		since = p.beforeCount.At
	} else {
		var err error
		if w.book, err = inventory.StoodAt(r, p.loc, id, since); err != nil {
			return err
		}
	}
	err := inventory.ScanPlace(r, p.loc, id, since, p.to.Add(time.Nanosecond), func(m *inventory.PlaceMovement) error {
		return w.take(b, r, m)
	})
	if err != nil {
		return err
	}
	w.open()
	if p.lines[id] == nil && w.opening == 0 {
		return nil
	}
	l := p.line(id)
	l.Opening = w.opening
	var closing int64
	all := true
	for l, n := range w.book {
		closing += n
		all = all && (n == 0 || w.named[l])
	}
	// Counts that were not complete say something of the product all the
	// same if they named every lot that the book has there.
	if p.closing != nil && (p.complete || (len(w.named) > 0 && all)) {
		l.Closing = &closing // what they found, and what moved between them and the last
	}
	return nil
}

// A placeWalk is a walk through the movements of a product at a place.
type placeWalk struct {
	p       *placeSpan
	id      inventory.ProductID
	book    map[inventory.Lot]int64
	named   map[inventory.Lot]bool // by a count of the span
	opening int64
	opened  bool
}

func (w *placeWalk) open() {
	if w.opened {
		return
	}
	w.opened = true
	for _, n := range w.book {
		w.opening += n
	}
}

func (w *placeWalk) take(b *Book, r inventory.Reader, m *inventory.PlaceMovement) error {
	if m.Struck != 0 {
		return nil
	}
	if w.p.inOpening(m.Happened, m.Entry) {
		if m.Class == inventory.ClassCounted {
			w.book[m.Lot] = m.Counted
		} else {
			w.book[m.Lot] += m.Delta
		}
		return nil
	}
	w.open()
	l := w.p.line(w.id)
	w.book[m.Lot] += m.Delta
	switch m.Class {
	case inventory.ClassCounted:
		l.lots[m.Lot.Number] += w.book[m.Lot] - m.Counted
		if c := w.p.inside[m.Entry]; c != nil {
			w.named[m.Lot] = true
			l.saidAtCount(c, m, w.book[m.Lot])
		}
		w.book[m.Lot] = m.Counted
		return nil
	case inventory.ClassUsed:
		l.Used -= m.Delta
		if w.p.of.uses[m.Entry] != w.p {
			return b.foreignUse(r, w.p, l, m)
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
}

// inOpening reports whether an entry is part of what was there at the start.
func (p *placeSpan) inOpening(at time.Time, entry uint64) bool {
	if p.opening != nil && at.Equal(p.opening.At) {
		return entry <= p.opening.Entry
	}
	return at.Before(p.from)
}

// left reports whether a product is left out here by what was asked for.
func (p *placeSpan) left(id inventory.ProductID) bool {
	s := &p.of.span
	return (s.Location != "" && p.loc != s.Location) || (s.Product != "" && id != s.Product)
}

func (p *placeSpan) result() []Line {
	var lines []Line
	for _, id := range slices.SortedFunc(maps.Keys(p.lines), cmp.Compare[inventory.ProductID]) {
		l := p.lines[id]
		if p.left(id) || l.Expected == 0 && l.Recorded == 0 && l.In == 0 && l.Out == 0 && (l.Counted == nil || *l.Counted == 0) {
			continue
		}
		lines = append(lines, *l)
	}
	return lines
}
