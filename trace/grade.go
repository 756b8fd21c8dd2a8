package trace

import (
	"cmp"
	"fmt"
	"slices"

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
func (b *Book) gradeGaps(r inventory.Reader, a *LotAnswer, p *presence) error {
	u, err := b.Unit(r)
	if err != nil {
		return err
	}
	zone, err := u.Zone()
	if err != nil {
		return err
	}
	if err := p.finish(r, zone); err != nil {
		return err
	}
	if len(p.spans) == 0 {
		return nil
	}
	from, to := p.window()
	a.First = from
	if to.Before(rowcode.MaxTime) {
		a.Last = to
	}
	if a.Category == "" {
		return nil
	}
	reasons := map[string]int{}
	err = ScanGaps(r, a.Category, from, to, func(g *Gap) error {
		a.Gaps++
		x, reason, err := b.grade(r, a, p, g)
		if err != nil {
			return err
		}
		if reason != "" {
			reasons[reason]++
			return nil
		}
		pat, err := PatientByID(r, g.Patient)
		if err != nil {
			return err
		}
		x.Name = pat.Name
		a.Unrecorded = append(a.Unrecorded, x)
		return nil
	})
	if err != nil {
		return err
	}
	for reason, n := range reasons {
		a.Excluded = append(a.Excluded, Exclusion{reason, n})
	}
	slices.SortFunc(a.Excluded, func(x, y Exclusion) int { return cmp.Compare(x.Reason, y.Reason) })
	slices.SortStableFunc(a.Unrecorded, func(x, y Exposure) int {
		if x.Grade != y.Grade {
			if surer(x.Grade, y.Grade) {
				return -1
			}
			return 1
		}
		return cmp.Or(x.Start.Compare(y.Start), cmp.Compare(x.Treatment, y.Treatment))
	})
	return nil
}

// grade grades one treatment without a record, or says why it is left out.
func (b *Book) grade(r inventory.Reader, a *LotAnswer, p *presence, g *Gap) (x Exposure, excluded string, err error) {
	end := g.End
	if end.IsZero() {
		end = rowcode.MaxTime
	}
	if g.Known != "" && !a.keys.has(g.Known) {
		return x, "the record names another product, without a lot", nil
	}
	if !p.anywhere(g.Start, end) {
		return x, "the lot was not in the unit: not yet received, all accounted for, or two complete counts found none", nil
	}
	x = Exposure{
		Grade: NotExcluded, Patient: g.Patient, Treatment: g.Treatment, Start: g.Start, Machine: g.Machine, Station: g.Station,
		Product: a.Product, Lot: a.Lot, Quantity: g.Pieces,
	}
	kind := a.Category.Title()
	said := ""
	if g.Cause != "" {
		said = fmt.Sprintf(" (%s)", g.Cause)
	}
	none := fmt.Sprintf("no lot of %s recorded%s", kind, said)
	waits, err := b.stoppedScan(r, a, g)
	switch {
	case err != nil:
		return x, "", err
	case waits:
		x.Grade = Probable
		x.Why = none + "; this lot was scanned, met a stop, and nobody said what became of it"
		return x, "", nil
	}
	here := p.at(g.Location, g.Start, end)
	asPrescribed := g.Known != "" || g.Product == "" || a.keys.has(g.Product)
	if !asPrescribed {
		x.Why = none + "; another product was prescribed, but this lot may have been in the unit"
		return x, "", nil
	}
	if !here {
		x.Why = fmt.Sprintf("%s; the lot may have been in the unit, though not on record at %s", none, g.Location)
		return x, "", nil
	}
	open, err := openLots(r, a.Product, g)
	if err != nil {
		return x, "", err
	}
	if slices.Contains(open, a.Lot) {
		x.Grade = Probable
		x.Why = fmt.Sprintf("%s; this lot was the open one at %s", none, g.Location)
		return x, "", nil
	}
	x.Why = fmt.Sprintf("%s; this lot may have been at %s", none, g.Location)
	return x, "", nil
}

// stoppedScan reports whether the treatment has a scan of the lot that was
// stopped and never answered.
func (b *Book) stoppedScan(r inventory.Reader, a *LotAnswer, g *Gap) (bool, error) {
	t, err := TreatmentByID(r, g.Treatment)
	if err != nil {
		return false, err
	}
	for _, s := range t.Stopped {
		if s.Lot == a.Lot && a.keys.has(s.Product) {
			return true, nil
		}
	}
	return false, nil
}

// openLots returns the lots that were the open ones of a product at a
// treatment's place: the one used there last before it started, and the one
// used there next.
func openLots(r inventory.Reader, p inventory.ProductID, g *Gap) ([]string, error) {
	var lots []string
	take := func(m *inventory.PlaceMovement) error {
		if m.Class != inventory.ClassUsed || m.Struck != 0 || m.Lot.Number == "" {
			return nil
		}
		lots = append(lots, m.Lot.Number)
		return inventory.ErrStop
	}
	if err := inventory.ScanPlaceBack(r, g.Location, p, g.Start, take); err != nil {
		return nil, err
	}
	return lots, inventory.ScanPlace(r, g.Location, p, g.Start, rowcode.MaxTime, take)
}
