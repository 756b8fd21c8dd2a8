package trace

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// gradeGaps grades the treatments of which nothing of the lot's kind is
// recorded by lot. It errs toward listing: a treatment is left out only
//
//   - because it lies outside the time when the lot may have been in the unit
//     (see presence), or
//   - because its record names another product, only without a lot.
//
// The places where packs lie are not walls: whoever runs out takes from the
// next cart and may not write it down. Where the lot may have been somewhere
// in the unit, but not at the treatment's own place, it can't be excluded.
func (b *Book) gradeGaps(r inventory.Reader, a *LotAnswer, c *carrier, u *inventory.Unit, s *supplies) error {
	if len(c.pres.spans) == 0 {
		return nil
	}
	from, to := c.pres.window()
	a.within(from, to)
	for _, kind := range c.kinds {
		take := func(g *Gap) error {
			x, code, err := b.grade(r, c, g, s, nil)
			if err != nil {
				return err
			}
			if code != "" {
				a.leaveOut(g, code)
				return nil
			}
			a.leaveIn(g)
			pat, err := PatientByID(r, g.Patient)
			if err != nil {
				return err
			}
			x.Name = pat.Name
			a.unrecorded(c.exposure(a, x))
			return nil
		}
		if err := b.scanCandidates(r, a, kind, u, from, to, take); err != nil {
			return err
		}
	}
	if names := c.pres.uncounted; len(names) > 0 && to.Equal(rowcode.MaxTime) && c.pres.left() <= 0 {
		a.limit(fmt.Sprintf("No count can show that it was gone, since these places were never counted completely: %s. Count them twice, and ask again.", strings.Join(names, ", ")))
	}
	if len(c.kinds) == 0 && c.holder == nil {
		a.limit("The product is not in the catalogue, so it is not known what it is for: treatments without a record can't be graded. Add it to the catalogue and ask again.")
	}
	return nil
}

// within widens the time when the lot may have been in the unit.
func (a *LotAnswer) within(from, to time.Time) {
	if to.Equal(rowcode.MaxTime) {
		to = time.Time{}
	}
	if a.First.IsZero() {
		a.First, a.Last = from, to
		return
	}
	if from.Before(a.First) {
		a.First = from
	}
	if to.IsZero() || (!a.Last.IsZero() && to.After(a.Last)) {
		a.Last = to
	}
}

// limit adds a sentence on what the answer can't tell.
func (a *LotAnswer) limit(s string) {
	if !slices.Contains(a.Limits, s) {
		a.Limits = append(a.Limits, s)
	}
}

// scanCandidates calls take for the treatments that may have used something of
// the lot's kind without a record of it. Of a kind that the unit does not keep
// by lot these are all that use it by the unit's rules.
func (b *Book) scanCandidates(r inventory.Reader, a *LotAnswer, c inventory.Category, u *inventory.Unit, from, to time.Time, take func(*Gap) error) error {
	need, ok := u.Rules.Need(c)
	if !ok {
		a.limit("By the unit's rules no treatment uses this kind of product, so only uses on record are listed.")
		return nil
	}
	if err := ScanGaps(r, c, from, to, take); err != nil {
		return err
	}
	if need.Scan {
		// Before the unit asked for a record nobody was told that one lacked.
		since, err := inventory.KeptSince(r, c)
		if err != nil || !from.Before(since) {
			return err
		}
		if since.Before(to) {
			to = since
		}
	} else {
		a.limit(fmt.Sprintf("The unit does not keep %s by lot: every treatment that uses it and has none on record is listed.", c.Title()))
	}
	return ScanStarts(r, from.Add(-longest), to, func(t *Treatment) error {
		if t.Struck != 0 || t.NotDone || t.recorded(c) > 0 || (!t.End.IsZero() && t.End.Before(from)) {
			return nil
		}
		g, err := b.unkept(r, u, t, c)
		if err != nil || g == nil {
			return err
		}
		return take(g)
	})
}

// unkept returns what a treatment uses of a category by the unit's rules though
// nobody asked for a record of it, nil if it uses none or was asked.
func (b *Book) unkept(r inventory.Reader, u *inventory.Unit, t *Treatment, c inventory.Category) (*Gap, error) {
	need, ok := u.Rules.Need(c)
	if _, required := t.required(c); required || !ok {
		return nil, nil
	}
	rx, err := b.PrescriptionOf(r, t)
	if err != nil {
		return nil, err
	}
	n := need.Pieces(rx)
	if n == 0 {
		return nil, nil
	}
	id, _ := u.ProductFor(rx, c)
	g := t.gap(Missing{Category: c, Product: id, Pieces: n, Cause: "not kept by lot"})
	return &g, nil
}

// sortUnrecorded puts the surest first, then by start.
func (a *LotAnswer) sortUnrecorded() {
	slices.SortStableFunc(a.Unrecorded, func(x, y Exposure) int {
		if x.Grade != y.Grade {
			if surer(x.Grade, y.Grade) {
				return -1
			}
			return 1
		}
		return cmp.Or(x.Start.Compare(y.Start), cmp.Compare(x.Treatment, y.Treatment))
	})
}

// grade grades one treatment without a record, or says why it is left out. What
// it finds that on it adds to gr, unless that is nil.
func (b *Book) grade(r inventory.Reader, c *carrier, g *Gap, s *supplies, gr *grounds) (x Exposure, excluded LeftOutCode, err error) {
	end := g.end()
	if g.Known != "" && !c.takes(g.Known) {
		return x, LeftOutOtherProduct, gr.lacking(r, g)
	}
	if code := c.pres.absent(g.Start, end); code != "" {
		return x, code, nil
	}
	if fed, err := s.only(g, gr); fed || err != nil {
		return x, LeftOutFed, err
	}
	x = Exposure{
		Grade: NotExcluded, Patient: g.Patient, Treatment: g.Treatment, Start: g.Start, Machine: g.Machine, Station: g.Station,
		Product: c.id, Lot: c.lots[0].Number, Quantity: g.Pieces,
	}
	kind := g.Category.Title()
	said := ""
	if g.Cause != "" {
		said = fmt.Sprintf(" (%s)", g.Cause)
	}
	none := fmt.Sprintf("no lot of %s recorded%s", kind, said)
	here := c.pres.at(g.Location, g.Start, end)
	asPrescribed := g.Known != "" || g.Product == "" || c.takes(g.Product)
	if !asPrescribed {
		x.Why = none + "; another product was prescribed, but this lot may have been in the unit"
		return x, "", nil
	}
	if !here {
		x.Why = fmt.Sprintf("%s; the lot may have been in the unit, though not on record at %s", none, g.Location)
		return x, "", nil
	}
	open, err := openLots(r, c.id, g)
	if err != nil {
		return x, "", err
	}
	if i := slices.IndexFunc(open, func(o openLot) bool { return o.number == c.lots[0].Number }); i >= 0 {
		gr.add(open[i].how, open[i].entry)
		x.Grade = Probable
		x.Why = fmt.Sprintf("%s; this lot was the open one at %s", none, g.Location)
		return x, "", nil
	}
	x.Why = fmt.Sprintf("%s; this lot may have been at %s", none, g.Location)
	return x, "", nil
}

// gradeStopped adds the treatments with a scan of the lot that met a stop and
// that nobody said anything about since: whatever else is recorded, the lot
// was in somebody's hand there.
func (b *Book) gradeStopped(r inventory.Reader, a *LotAnswer, c *carrier) error {
	for _, l := range c.lots {
		err := r.Scan(ixStopped, rowcode.AppendText(nil, string(l.Product), l.Number), nil, func(key, _ []byte) error {
			k := rowcode.ReadKey(key)
			k.Text()
			k.Text()
			k.Time()
			entry, id := k.Number(), TreatmentID(k.Text())
			if err := k.Err(); err != nil || entry > a.AsOf.Seq {
				return err
			}
			t, err := TreatmentByID(r, id)
			if err != nil || t.Struck != 0 || t.NotDone {
				return err
			}
			pat, err := PatientByID(r, t.Patient)
			if err != nil {
				return err
			}
			a.unrecorded(c.exposure(a, Exposure{
				Grade: Probable, Patient: t.Patient, Name: pat.Name, Treatment: id, Start: t.Start, Machine: t.Machine, Station: t.Station,
				Product: c.id, Lot: c.lots[0].Number, Entry: entry,
				Why: whyStopped,
			}))
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

const whyStopped = "this lot was scanned, met a stop, and nobody said what became of it"

// openLots returns the lots that were the open ones of a product at a
// treatment's place: the one used there last before it started, the one used
// there next, and those of which a container stood open there.
func openLots(r inventory.Reader, p inventory.ProductID, g *Gap) ([]openLot, error) {
	var lots []openLot
	take := func(how shown) func(m *inventory.PlaceMovement) error {
		return func(m *inventory.PlaceMovement) error {
			if m.Class != inventory.ClassUsed || m.Struck != 0 || m.Lot.Number == "" {
				return nil
			}
			lots = append(lots, openLot{m.Lot.Number, m.Entry, how})
			return inventory.ErrStop
		}
	}
	if err := inventory.ScanPlaceBack(r, g.Location, p, g.Start, take(showsUsedBefore)); err != nil {
		return nil, err
	}
	if err := inventory.ScanPlace(r, g.Location, p, g.Start, rowcode.MaxTime, take(showsUsedNext)); err != nil {
		return nil, err
	}
	open, err := openContainers(r, g.Location, g.Start, g.end())
	for _, c := range open {
		if c.Product == p && c.Lot != "" {
			lots = append(lots, openLot{c.Lot, c.Entry, showsStoodOpen})
		}
	}
	return lots, err
}

// An openLot is a lot that was the open one at a place, by an entry.
type openLot struct {
	number string
	entry  uint64
	how    shown
}
