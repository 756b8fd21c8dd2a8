package trace

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"lotbook/inventory"
)

// A Watching asks for a Watch.
type Watching struct {
	// From and To are the first and the last day.
	From, To inventory.Date
	// Product and Location leave out all others; empty for all.
	Product  inventory.ProductID
	Location inventory.LocationID
	// Alpha is how often, in all that is looked at together, an alarm may
	// be false; 0 for 0.05.
	Alpha float64
}

// mostDays is how many days can be watched at a time: five years.
const mostDays = 1830

// Watch looks at the shifts of a time together. Each shift and each week is read
// in a snapshot of its own, so that none is held for long.
func (b *Book) Watch(ctx context.Context, q Watching) (*Watch, error) {
	h, err := b.History(ctx, q)
	if err != nil {
		return nil, err
	}
	return h.Watch(q.To), nil
}

// A History is what the shifts of a time say, read once, of which Watch can be
// asked as it was on each of its days.
type History struct {
	q      Watching
	last   *Reconciliation
	shifts []shiftFigures
	rows   map[seriesKey][]figures
	names  map[inventory.ProductID]string
	// treated are the places with treatments.
	treated map[inventory.LocationID]bool
}

type seriesKey struct {
	product  inventory.ProductID
	location inventory.LocationID
	week     bool
}

// figures are one product at one place between two counts.
type figures struct {
	Point
	counted bool
	treated int64 // treatments of any kind at the place
}

// shiftFigures are a shift's own.
type shiftFigures struct {
	shift      inventory.Shift
	treatments int
	places     map[inventory.LocationID]*placeFigures
}

type placeFigures struct{ treatments, required, missing, wasted int64 }

// History reads what Watch works from.
func (b *Book) History(ctx context.Context, q Watching) (*History, error) {
	from, err := time.Parse(time.DateOnly, string(q.From))
	if err != nil {
		return nil, inventory.Invalid("from", "Give the date as 2027-03-31.", "%q is not a date", q.From)
	}
	to, err := time.Parse(time.DateOnly, string(q.To))
	if err != nil {
		return nil, inventory.Invalid("to", "Give the date as 2027-03-31.", "%q is not a date", q.To)
	}
	days := int(to.Sub(from)/(24*time.Hour)) + 1
	if days < 1 || days > mostDays {
		return nil, inventory.Invalid("to", "Give the first day first, at most five years.", "from %s to %s", q.From, q.To)
	}
	if q.Alpha < 0 || q.Alpha >= 1 {
		return nil, inventory.Invalid("alpha", "Give a share such as 0.05.", "%v of alarms can't be false", q.Alpha)
	}
	h := &History{q: q, rows: map[seriesKey][]figures{}, names: map[inventory.ProductID]string{}, treated: map[inventory.LocationID]bool{}}
	numbers, err := b.shiftNumbers(ctx)
	if err != nil {
		return nil, err
	}
	only := Span{Product: q.Product, Location: q.Location}
	for i := range days {
		for _, n := range numbers {
			s := only
			s.From = inventory.Shift{Date: q.From.AddDays(i), Number: n}
			s.To = s.From
			if err := b.read(ctx, h, s, false); err != nil {
				return nil, err
			}
		}
	}
	first, end := numbers[0], numbers[len(numbers)-1]
	monday := q.From.AddDays((8 - int(from.Weekday())) % 7)
	for ; monday.AddDays(6) <= q.To; monday = monday.AddDays(7) {
		s := only
		s.From, s.To = inventory.Shift{Date: monday, Number: first}, inventory.Shift{Date: monday.AddDays(6), Number: end}
		if err := b.read(ctx, h, s, true); err != nil {
			return nil, err
		}
	}
	return h, nil
}

func (b *Book) shiftNumbers(ctx context.Context) (ns []int, err error) {
	err = b.View(ctx, func(r inventory.Reader) error {
		u, err := b.Unit(r)
		if err != nil {
			return err
		}
		for _, s := range u.Shifts {
			ns = append(ns, s.Number)
		}
		return nil
	})
	return ns, err
}

// read reads a shift or a week.
func (b *Book) read(ctx context.Context, h *History, s Span, week bool) error {
	var rec *Reconciliation
	var places map[inventory.LocationID]*placeFigures
	err := b.View(ctx, func(r inventory.Reader) error {
		x, err := b.compare(r, s)
		if err != nil {
			return err
		}
		rec, places = x.rec, x.figures()
		return nil
	})
	if err != nil {
		return err
	}
	if h.last = rec; rec.Treatments == 0 && !week {
		return nil
	}
	if !week {
		h.shifts = append(h.shifts, shiftFigures{s.From, rec.Treatments, places})
		for loc, p := range places {
			if p.treatments > 0 {
				h.treated[loc] = true
			}
		}
	}
	h.take(rec, s, places, week)
	return nil
}

// take takes in the lines of a shift or a week.
func (h *History) take(rec *Reconciliation, s Span, places map[inventory.LocationID]*placeFigures, week bool) {
	all := map[inventory.ProductID]*figures{}
	for i := range rec.Lines {
		l := &rec.Lines[i]
		if l.Name != "" {
			h.names[l.Product] = l.Name
		}
		f := figures{Point: Point{From: s.From, To: s.To, Treatments: l.Treatments}, counted: l.Counted != nil}
		if p := places[l.Location]; p != nil {
			f.treated = p.treatments
		}
		if f.counted {
			f.CountedLessRecorded, f.Open = *l.CountedLessRecorded, *l.OpenCountedLessRecorded
			f.CountedLessExpected = *l.Counted - l.Expected
		}
		h.rows[seriesKey{l.Product, l.Location, week}] = append(h.rows[seriesKey{l.Product, l.Location, week}], f)
		t := all[l.Product]
		if t == nil {
			t = &figures{Point: Point{From: s.From, To: s.To}, counted: true, treated: int64(rec.Treatments)}
			all[l.Product] = t
		}
		// Of a shift, the places that treat are asked about; of a week, all.
		if !week && l.Treatments == 0 && l.Recorded == 0 && !f.counted {
			continue
		}
		t.counted = t.counted && f.counted
		t.Treatments += f.Treatments
		t.CountedLessRecorded += f.CountedLessRecorded
		t.CountedLessExpected += f.CountedLessExpected
		t.Open += f.Open
	}
	if h.q.Location != "" {
		return // all places were not asked for
	}
	for _, id := range slices.SortedFunc(maps.Keys(all), cmp.Compare[inventory.ProductID]) {
		k := seriesKey{id, "", week}
		h.rows[k] = append(h.rows[k], *all[id])
	}
}

// figures adds up what each place's treatments had to have recorded, and what of
// it is not.
func (x *comparison) figures() map[inventory.LocationID]*placeFigures {
	m := map[inventory.LocationID]*placeFigures{}
	for _, p := range x.places {
		if x.span.Location != "" && p.loc != x.span.Location {
			continue
		}
		f := &placeFigures{treatments: int64(p.treatments)}
		for _, t := range p.theirs {
			missing := map[inventory.Category]int64{}
			for _, m := range t.Missing() {
				missing[m.Category] = m.Pieces
			}
			for _, q := range t.Required {
				need := max(1, q.Pieces)
				f.required += need
				f.missing += min(need, missing[q.Category])
			}
		}
		for _, l := range p.lines {
			f.wasted += l.Wasted
		}
		m[p.loc] = f
	}
	return m
}
