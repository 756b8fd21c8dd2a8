package notice

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A gathering puts the answers about single lots together.
type gathering struct {
	a       *Answer
	at      map[trace.TreatmentID]int // in a.Treatments
	homes   map[inventory.LocationID]int
	said    map[string]bool
	counter *trace.GradeCounter
}

func newGathering(a *Answer) *gathering {
	return &gathering{a, map[trace.TreatmentID]int{}, map[inventory.LocationID]int{}, map[string]bool{}, trace.NewGradeCounter()}
}

// narrow grades an exposure to a lot as one to the notice. Where only some
// serial numbers of the lot are meant it judges the piece, and says false if it
// is another one; a use whose serial number nobody recorded can't be excluded.
func (g *gathering) narrow(x *trace.Exposure, l *LotLine, on *inventory.ScopedOn) (*trace.Exposure, bool) {
	y := *x
	if !l.Part {
		y.Grade, y.Why = l.sure(x.Grade, x.Why)
		return &y, true
	}
	if x.Via != nil {
		return x, true
	}
	m := on.Match(&inventory.Pieces{Lot: l.Lot, Serial: x.Serial, Made: l.Made, Expires: l.Expires})
	switch {
	case m.Verdict == inventory.NotMeant:
		return nil, false
	case m.Verdict == inventory.Doubtful && x.Grade.Surer(trace.NotExcluded):
		y.Grade, y.Why = trace.NotExcluded, x.Why+"; "+m.Why
	}
	return &y, true
}

// sure lowers a grade where it is in doubt whether the notice means the lot: who
// met that lot is known, whether it is the lot that matters is not.
func (l *LotLine) sure(g trace.Grade, why string) (trace.Grade, string) {
	if l.Verdict != inventory.Doubtful || l.Part {
		return g, why
	}
	if g.Surer(trace.NotExcluded) {
		g = trace.NotExcluded
	}
	return g, fmt.Sprintf("%s; in doubt whether the notice means it: %s", why, l.Match.Why)
}

func (g *gathering) add(x *trace.Exposure, l *LotLine) {
	i, ok := g.at[x.Treatment]
	if !ok {
		i = len(g.a.Treatments)
		g.at[x.Treatment] = i
		g.a.Treatments = append(g.a.Treatments, Exposed{
			Grade: x.Grade, Patient: x.Patient, Name: x.Name, Treatment: x.Treatment, Start: x.Start, Machine: x.Machine, Station: x.Station,
		})
	}
	t := &g.a.Treatments[i]
	if x.Grade.Surer(t.Grade) {
		t.Grade = x.Grade
	}
	if t.Name == "" {
		t.Name = x.Name
	}
	t.Lots = append(t.Lots, LotGrade{
		Product: l.Product, Lot: l.Lot, Grade: x.Grade, Quantity: x.Quantity, Serial: x.Serial, How: x.How, By: x.By, Entry: x.Entry,
		Why: x.Why, Via: x.Via,
	})
}

// home adds what a home patient's store has of one lot to what it has of
// others.
func (g *gathering) home(h trace.HomeExposure) {
	i, ok := g.homes[h.Location]
	if !ok {
		g.homes[h.Location] = len(g.a.Homes)
		g.a.Homes = append(g.a.Homes, h)
		return
	}
	o := &g.a.Homes[i]
	o.Supplied, o.Returned, o.Used = o.Supplied+h.Supplied, o.Returned+h.Returned, o.Used+h.Used
	if h.First.Before(o.First) {
		o.First = h.First
	}
	if h.Last.After(o.Last) {
		o.Last = h.Last
	}
	if h.Grade.Surer(o.Grade) {
		o.Grade, o.Why, o.Via = h.Grade, h.Why, h.Via
	}
}

func (g *gathering) limit(s string) {
	if !g.said[s] {
		g.said[s] = true
		g.a.Limits = append(g.a.Limits, s)
	}
}

// conclude sorts, counts and sums up.
func (g *gathering) conclude(ctx context.Context, b *Book) error {
	a := g.a
	for i := range a.Treatments {
		t := &a.Treatments[i]
		slices.SortStableFunc(t.Lots, func(x, y LotGrade) int { return bySurest(x.Grade, y.Grade) })
		g.counter.Add(&trace.Exposure{Grade: t.Grade, Treatment: t.Treatment, Patient: t.Patient, Machine: t.Machine, Start: t.Start})
	}
	for _, h := range a.Homes {
		g.counter.AddPatient(h.Patient, h.Grade)
	}
	slices.SortStableFunc(a.Treatments, func(x, y Exposed) int {
		return cmp.Or(bySurest(x.Grade, y.Grade), x.Start.Compare(y.Start), cmp.Compare(x.Treatment, y.Treatment))
	})
	a.Counts, _ = g.counter.Result()
	a.Machines = places(a.Treatments, func(t *Exposed) string { return string(t.Machine) })
	a.Stations = places(a.Treatments, func(t *Exposed) string { return string(t.Station) })
	a.Patients = patients(a)
	a.Left, a.Lent = summed(a.Left), summed(a.Lent)
	return b.View(ctx, func(r inventory.Reader) error {
		for i := range a.Patients {
			if p := &a.Patients[i]; p.Name == "" {
				pat, err := trace.PatientByID(r, p.Patient)
				if err != nil {
					return err
				}
				p.Name = pat.Name
			}
		}
		return nil
	})
}

func bySurest(x, y trace.Grade) int {
	switch {
	case x == y:
		return 0
	case x.Surer(y):
		return -1
	}
	return 1
}

// a span widens to hold instants.
type span struct{ first, last time.Time }

func (s *span) take(first, last time.Time) {
	if s.first.IsZero() || first.Before(s.first) {
		s.first = first
	}
	if last.After(s.last) {
		s.last = last
	}
}

// places sums treatments up by machine or station, by id.
func places(list []Exposed, id func(*Exposed) string) []PlaceLine {
	lines := map[string]*PlaceLine{}
	for i := range list {
		t := &list[i]
		p := lines[id(t)]
		if p == nil {
			p = &PlaceLine{ID: id(t), Grade: t.Grade}
			lines[p.ID] = p
		}
		p.Treatments++
		s := span{p.First, p.Last}
		s.take(t.Start, t.Start)
		p.First, p.Last = s.first, s.last
		if t.Grade.Surer(p.Grade) {
			p.Grade = t.Grade
		}
	}
	return sorted(lines, func(x, y *PlaceLine) int { return cmp.Compare(x.ID, y.ID) })
}

// patients sums treatments and home stores up by patient, surest first.
func patients(a *Answer) []PatientLine {
	lines := map[trace.PatientID]*PatientLine{}
	take := func(id trace.PatientID, name string, g trace.Grade, first, last time.Time) *PatientLine {
		p := lines[id]
		if p == nil {
			p = &PatientLine{Patient: id, Grade: g}
			lines[id] = p
		}
		p.Name = cmp.Or(p.Name, name)
		if g.Surer(p.Grade) {
			p.Grade = g
		}
		s := span{p.First, p.Last}
		s.take(first, last)
		p.First, p.Last = s.first, s.last
		return p
	}
	for i := range a.Treatments {
		t := &a.Treatments[i]
		take(t.Patient, t.Name, t.Grade, t.Start, t.Start).Treatments++
	}
	for _, h := range a.Homes {
		take(h.Patient, h.Name, h.Grade, h.First, h.Last).Home = true
	}
	return sorted(lines, func(x, y *PatientLine) int {
		return cmp.Or(bySurest(x.Grade, y.Grade), cmp.Compare(x.Patient, y.Patient))
	})
}

func sorted[K comparable, T any](lines map[K]*T, by func(x, y *T) int) []T {
	list := make([]T, 0, len(lines))
	for _, l := range lines {
		list = append(list, *l)
	}
	slices.SortFunc(list, func(x, y T) int { return by(&x, &y) })
	return list
}

// summed adds balances of one lot at one place up, and sorts them.
func summed(list []inventory.Balance) []inventory.Balance {
	type at struct {
		inventory.LocationID
		inventory.Lot
	}
	sums := map[at]*inventory.Balance{}
	for _, x := range list {
		k := at{x.Location, x.Lot}
		if o := sums[k]; o != nil {
			o.Quantity += x.Quantity
			continue
		}
		sums[k] = &x
	}
	return sorted(sums, func(x, y *inventory.Balance) int {
		return cmp.Or(cmp.Compare(x.Location, y.Location), cmp.Compare(x.Lot.Product, y.Lot.Product), cmp.Compare(x.Lot.Number, y.Lot.Number))
	})
}
