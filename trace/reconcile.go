package trace

import (
	"context"
	"time"

	"lotbook/inventory"
)

// A Span asks for a reconciliation: of one shift, or of all shifts from one to
// another.
type Span struct {
	From inventory.Shift
	// To is the last shift, the zero Shift for From alone.
	To inventory.Shift
	// Product and Location leave out all others; empty for all.
	Product  inventory.ProductID
	Location inventory.LocationID
}

// longestSpan is how many days a Span may have: what is longer is asked for in
// parts, as [Book.EachShift] does.
const longestSpan = 100

// holds reports whether a shift lies in the span.
func (s *Span) holds(x inventory.Shift) bool { return !earlier(x, s.From) && !earlier(s.To, x) }

func earlier(a, b inventory.Shift) bool {
	return a.Date < b.Date || (a.Date == b.Date && a.Number < b.Number)
}

// Reconcile compares a shift's counts, records and rules.
func (b *Book) Reconcile(ctx context.Context, s inventory.Shift) (*Reconciliation, error) {
	return b.ReconcileSpan(ctx, Span{From: s})
}

// ReconcileSpan compares the counts, records and rules of one shift or several.
// It costs what happened in the span and in the week before it, not what the
// journal holds.
func (b *Book) ReconcileSpan(ctx context.Context, s Span) (*Reconciliation, error) {
	if s.To == (inventory.Shift{}) {
		s.To = s.From
	}
	var rec *Reconciliation
	err := b.View(ctx, func(r inventory.Reader) error {
		x, err := b.compare(r, s)
		if err == nil {
			rec = x.rec
		}
		return err
	})
	return rec, err
}

func (b *Book) compare(r inventory.Reader, s Span) (*comparison, error) {
	rec := &Reconciliation{Shift: s.From, Until: s.To, AsOf: r.Head(), At: b.Now(), Lines: []Line{}}
	u, err := b.Unit(r)
	if err != nil {
		return nil, err
	}
	if rec.From, _, err = u.Window(s.From); err != nil {
		return nil, err
	}
	if _, rec.To, err = u.Window(s.To); err != nil {
		return nil, err
	}
	if err := b.checkSpan(r, &s, rec); err != nil {
		return nil, err
	}
	x := &comparison{span: s, rec: rec, uses: map[uint64]*placeSpan{}, treatments: map[TreatmentID]*placeSpan{}}
	if err := b.places(r, x); err != nil {
		return nil, err
	}
	if err := b.expectations(r, x); err != nil {
		return nil, err
	}
	for _, p := range x.places {
		if err := b.movements(r, p); err != nil {
			return nil, err
		}
		rec.Treatments += p.treatments
	}
	for _, p := range x.places {
		for _, l := range p.lines {
			l.finish()
		}
	}
	for _, p := range x.places {
		p.miscounts()
		p.unrecordedShared()
		p.unrecordedOther()
	}
	x.carriedOver()
	for _, p := range x.places {
		rec.Lines = append(rec.Lines, p.result()...)
	}
	rec.Products = totals(rec.Lines)
	return x, nil
}

// checkSpan says whether a span can be asked for, in a Refusal if not.
func (b *Book) checkSpan(r inventory.Reader, s *Span, rec *Reconciliation) error {
	if earlier(s.To, s.From) {
		return inventory.Invalid("to", "Give the first shift first.", "%s is before %s", s.To, s.From)
	}
	if rec.To.Sub(rec.From) > (longestSpan+1)*24*time.Hour {
		return inventory.Invalid("to", "Ask for at most 100 days at a time.", "from %s to %s is too long", s.From, s.To)
	}
	if s.Location != "" {
		if _, err := inventory.LocationByID(r, s.Location); err != nil {
			return err
		}
	}
	var err error
	if s.Product, err = inventory.Catalogued(r, s.Product); err != nil {
		return err
	}
	if s.Product != "" && !s.Product.Provisional() {
		p, err := b.Product(r, s.Product)
		if err != nil {
			return err
		}
		if p == nil {
			return inventory.NotFound("product", string(s.Product), "Choose a product of the catalogue.")
		}
	}
	return nil
}

// A comparison is a reconciliation while it is being worked out.
type comparison struct {
	span   Span
	rec    *Reconciliation
	places []*placeSpan
	// uses are the entries of uses in the treatments compared, and
	// treatments those treatments, each with the place that it belongs to.
	uses       map[uint64]*placeSpan
	treatments map[TreatmentID]*placeSpan
}

// catalogue puts a treatment's uses under the ids that their products have in the
// catalogue by now. The treatment is a copy to read from: it is not saved.
func (b *Book) catalogue(r inventory.Reader, t *Treatment) error {
	for i := range t.Uses {
		u := &t.Uses[i]
		id, err := inventory.Catalogued(r, u.Product)
		if err != nil || id == u.Product {
			if err != nil {
				return err
			}
			continue
		}
		p, err := b.Product(r, id)
		if err != nil {
			return err
		}
		if u.Product = id; p != nil && u.Category == "" {
			u.Category = p.Category
		}
	}
	return nil
}

// places finds the places and the counts that open and close the span there.
func (b *Book) places(r inventory.Reader, x *comparison) error {
	locs, err := inventory.Locations(r)
	if err != nil {
		return err
	}
	for _, loc := range locs {
		p := &placeSpan{
			of: x, loc: loc.ID, from: x.rec.From, to: x.rec.To,
			lines: map[inventory.ProductID]*Line{}, shared: map[inventory.ProductID]sharedVolume{}, inside: map[uint64]*inventory.Counted{},
		}
		if err := b.counts(r, p); err != nil {
			return err
		}
		if p.ids, err = inventory.ProductsAt(r, p.loc); err != nil {
			return err
		}
		x.places = append(x.places, p)
	}
	return nil
}

// expectations adds what the treatments should have used and what their records
// say about the difference.
func (b *Book) expectations(r inventory.Reader, x *comparison) error {
	at := map[inventory.LocationID]*placeSpan{}
	from, to := x.rec.From, x.rec.To
	for _, p := range x.places {
		at[p.loc] = p
		if p.from.Before(from) {
			from = p.from
		}
		if p.to.After(to) {
			to = p.to
		}
	}
	var theirs []*Treatment
	err := ScanStarts(r, from, to, func(t *Treatment) error {
		p := at[t.Location]
		if p == nil || t.Struck != 0 || t.NotDone || t.Start.Before(p.from) || !t.Start.Before(p.to) {
			return nil
		}
		p.treatments++
		p.theirs = append(p.theirs, t)
		x.treatments[t.ID] = p
		for i := range t.Uses {
			x.uses[t.Uses[i].Entry] = p
		}
		theirs = append(theirs, t)
		return nil
	})
	if err != nil {
		return err
	}
	for _, t := range theirs {
		if err := b.catalogue(r, t); err != nil {
			return err
		}
		e, err := b.expectedOf(r, t)
		if err != nil {
			return err
		}
		at[t.Location].treatment(e)
	}
	return nil
}
