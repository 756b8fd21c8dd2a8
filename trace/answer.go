package trace

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"lotbook/inventory"
)

// pageRows is how many ledger lines are read in one snapshot.
const pageRows = 2000

// Exposures answers who received a lot. The confirmed lines are counted in it
// and read by EachConfirmed.
func (b *Book) Exposures(ctx context.Context, q Question) (*LotAnswer, error) {
	a := &LotAnswer{Question: q, At: b.Now(), outcomes: map[TreatmentID]outcome{}, sure: map[TreatmentID]bool{}}
	err := b.View(ctx, func(r inventory.Reader) error { return b.begin(r, a) })
	if err != nil {
		return nil, err
	}
	tally := NewGradeCounter()
	mass := make([]inventory.Tally, len(a.keys.lots))
	for _, c := range a.carriers {
		err = b.eachMovement(ctx, a, c, func(i int, m *inventory.Movement) error {
			if c.holder == nil {
				mass[i].Add(m)
				if m.Class == inventory.ClassCounted && m.Struck == 0 {
					a.Counted++
				}
			}
			return a.take(c, m, tally)
		})
		if err != nil {
			return nil, err
		}
	}
	err = b.View(ctx, func(r inventory.Reader) error {
		a.account(mass)
		if err := b.explainStruckOut(r, a); err != nil {
			return err
		}
		return b.reason(r, a)
	})
	if err != nil {
		return nil, err
	}
	for i := range a.fed {
		tally.Add(&a.fed[i])
	}
	for i := range a.Unrecorded {
		tally.Add(&a.Unrecorded[i])
	}
	for _, h := range a.Homes {
		tally.AddPatient(h.Patient, h.Grade)
	}
	a.Counts, a.Machines = tally.Result()
	a.Stations = tally.Stations()
	return a, nil
}

// take adds a movement of a carrier to the answer.
func (a *LotAnswer) take(c *carrier, m *inventory.Movement, tally *GradeCounter) error {
	u, inTreatment, err := lotUse(m)
	if err != nil {
		return err
	}
	if m.Struck != 0 {
		if inTreatment {
			a.StruckOut = append(a.StruckOut, c.exposure(a, confirmed(&u)))
		}
		return nil
	}
	c.pres.add(m, u.How)
	c.homes.add(a.places, m)
	a.loan(c, m)
	if inTreatment {
		if c.limit(Confirmed) == Confirmed {
			tally.use(&u)
		} else {
			a.unrecorded(c.exposure(a, confirmed(&u)))
		}
		return nil
	}
	opened, err := containerOf(m)
	if err != nil {
		return err
	}
	if opened != "" {
		c.pres.opened = append(c.pres.opened, opened)
		c.pres.alone += m.Quantity
	}
	if c.holder != nil || m.Class != inventory.ClassUsed {
		return nil
	}
	switch covers(m) {
	case coverBatch:
		a.Mixed += m.Quantity
	case coverContainer:
		a.Opened += m.Quantity
	default:
		a.Outside += m.Quantity
	}
	return nil
}

// unrecorded lists an exposure that is not confirmed, once for a treatment, by
// its surest grade.
func (a *LotAnswer) unrecorded(x Exposure) {
	if a.listed == nil {
		a.listed = map[TreatmentID]int{}
	}
	i, ok := a.listed[x.Treatment]
	switch {
	case !ok:
		a.listed[x.Treatment] = len(a.Unrecorded)
		a.Unrecorded = append(a.Unrecorded, x)
	case surer(x.Grade, a.Unrecorded[i].Grade):
		a.Unrecorded[i] = x
	}
}

// reason grades the treatments that have no record of the lot, through each of
// its carriers, the lot's own packs first.
func (b *Book) reason(r inventory.Reader, a *LotAnswer) error {
	u, err := b.Unit(r)
	if err != nil {
		return err
	}
	zone, err := u.Zone()
	if err != nil {
		return err
	}
	s := newSupplies(b, r)
	unused := 0
	for _, c := range a.carriers {
		if err := c.presence(r, zone); err != nil {
			return err
		}
		if c.batch != nil && c.holder != nil && c.holder.Grade == NotExcluded && !a.carriers[0].pres.anywhere(c.batch.Made, c.batch.Made) {
			continue // the lot was not in the unit when the batch was made
		}
		if c.holder != nil {
			a.Holders = append(a.Holders, *c.holder)
		}
		if err := b.gradeGaps(r, a, c, u, s); err != nil {
			return err
		}
		if err := b.gradeStopped(r, a, c); err != nil {
			return err
		}
		if err := b.gradeFed(r, a, c, s); err != nil {
			return err
		}
		homes, n, err := c.homes.list(r, c)
		if err != nil {
			return err
		}
		a.Homes = append(a.Homes, homes...)
		unused += n
	}
	if unused > 0 {
		a.Limits = append(a.Limits, fmt.Sprintf("From %d home stores as many pieces came back as went there. Their patients are not listed.", unused))
	}
	a.conclude()
	return a.completeness(r, u)
}

// conclude drops what is listed as not confirmed although the lot's own record
// or a feed confirms it, sums up what was left out, and sorts.
func (a *LotAnswer) conclude() {
	for i := range a.fed {
		a.sure[a.fed[i].Treatment] = true
	}
	a.Unrecorded = slices.DeleteFunc(a.Unrecorded, func(x Exposure) bool { return a.sure[x.Treatment] })
	codes := map[LeftOutCode]int{}
	for id, o := range a.outcomes {
		a.Gaps++
		if o.code != "" && !a.lists(id) {
			codes[o.code]++
		}
	}
	for code, n := range codes {
		a.Excluded = append(a.Excluded, Exclusion{code, code.Meaning(), n})
	}
	slices.SortFunc(a.Excluded, func(x, y Exclusion) int { return cmp.Compare(x.Reason, y.Reason) })
	a.sortUnrecorded()
}

// begin fills in what the question is about.
func (b *Book) begin(r inventory.Reader, a *LotAnswer) error {
	k, err := b.keysOf(r, a.Question)
	if err != nil {
		return err
	}
	a.keys = k
	a.Question.Lot = k.lots[0].Number
	a.AsOf = r.Head()
	a.Product, a.Category, a.Lot = k.id, k.category, a.Question.Lot
	if k.product != nil {
		a.Name = k.product.Name
	}
	for _, l := range k.lots {
		f, ok, err := inventory.LotFactsOf(r, l)
		if err != nil {
			return err
		}
		if ok {
			a.OnRecord = true
			if a.Expires == "" {
				a.Expires = f.Expires
			}
		}
		refused, err := inventory.RefusedOf(r, l)
		if err != nil {
			return err
		}
		a.Refused = append(a.Refused, refused...)
		a.OnRecord = a.OnRecord || len(refused) > 0
		if a.Hold == nil {
			if a.Hold, err = inventory.HoldOn(r, l); err != nil {
				return err
			}
		}
	}
	if a.places, err = placesOf(r); err != nil {
		return err
	}
	if a.carriers, err = b.carriersOf(r, k); err != nil {
		return err
	}
	for _, c := range a.carriers {
		c.pres.away = a.places.away()
	}
	a.Similar, err = inventory.SimilarLots(r, k.lots[0])
	return err
}

// eachMovement calls fn for the movements of all of a carrier's lots up to the
// answer's head, through short snapshots; i is the index of the lot.
func (b *Book) eachMovement(ctx context.Context, a *LotAnswer, c *carrier, fn func(i int, m *inventory.Movement) error) error {
	for i, l := range c.lots {
		var next []byte
		for more := true; more; more = next != nil {
			err := b.View(ctx, func(r inventory.Reader) (err error) {
				next, err = inventory.LedgerPage(r, l, next, pageRows, func(m *inventory.Movement) error {
					if m.Entry > a.AsOf.Seq {
						return nil
					}
					if m.Struck > a.AsOf.Seq {
						m.Struck = 0
					}
					return fn(i, m)
				})
				return err
			})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// EachConfirmed calls fn for the answer's confirmed exposures: those recorded,
// lot by lot in the order in which they happened, then those through feeds,
// each with the patient's name. It reads through short snapshots and costs what
// it lists. The Exposure is valid until fn returns.
func (b *Book) EachConfirmed(ctx context.Context, a *LotAnswer, fn func(*Exposure) error) error {
	names := map[PatientID]string{}
	var x Exposure
	for _, c := range a.carriers {
		if c.limit(Confirmed) != Confirmed {
			continue
		}
		err := b.eachMovement(ctx, a, c, func(_ int, m *inventory.Movement) error {
			u, ok, err := lotUse(m)
			if err != nil || !ok || m.Struck != 0 {
				return err
			}
			x = c.exposure(a, confirmed(&u))
			name, ok := names[u.Patient]
			if !ok {
				err := b.View(ctx, func(r inventory.Reader) error {
					p, err := PatientByID(r, u.Patient)
					if err == nil {
						name = p.Name
					}
					return err
				})
				if err != nil {
					return err
				}
				names[u.Patient] = name
			}
			x.Name = name
			return fn(&x)
		})
		if err != nil {
			return err
		}
	}
	for i := range a.fed {
		x = a.fed[i]
		if err := fn(&x); err != nil {
			return err
		}
	}
	return nil
}

func confirmed(u *LotUse) Exposure {
	why := whyUsed(u.How)
	if u.Struck != 0 {
		why = "recorded as used and struck out"
	}
	return Exposure{
		Grade: Confirmed, Patient: u.Patient, Treatment: u.Treatment, Start: u.Start, Machine: u.Machine, Station: u.Station,
		Product: u.Lot.Product, Lot: u.Lot.Number, From: u.From, Until: u.Until, Quantity: u.Quantity, Serial: u.Serial,
		How: u.How, By: u.By, Entry: u.Entry, Why: why,
	}
}

// whyUsed says what a confirmed exposure rests on.
func whyUsed(how How) string {
	switch how { // the usual ones without making a text for each of thousands
	case Scanned:
		return "recorded as used, scanned"
	case Typed:
		return "recorded as used, typed"
	case Photo:
		return "recorded as used, photo"
	}
	return "recorded as used, " + string(how)
}

// explainStruckOut says of each use that was struck out by whom, when and why.
func (b *Book) explainStruckOut(r inventory.Reader, a *LotAnswer) error {
	for i := range a.StruckOut {
		x := &a.StruckOut[i]
		by, err := inventory.StruckBy(r, x.Entry)
		if err != nil {
			return err
		}
		e, err := r.Entry(by)
		if err != nil {
			return err
		}
		ev, err := b.Registry().Decode(e)
		if err != nil {
			return err
		}
		if c, ok := ev.(*inventory.Corrected); ok {
			x.Why = fmt.Sprintf("struck out by %s at %s, entry %d: %s", e.Actor, e.Recorded.UTC().Format("2006-01-02 15:04 UTC"), by, c.Reason)
		}
	}
	return nil
}

// account closes the mass balance.
func (a *LotAnswer) account(tallies []inventory.Tally) {
	for i := range tallies {
		t := &tallies[i]
		l := a.keys.lots[i]
		a.Left = append(a.Left, t.Close(l, a.Hold != nil, a.places.kind)...)
		a.Lent = append(a.Lent, t.Lent(l, a.places.kind)...)
		a.Differences = append(a.Differences, t.Diffs...)
		a.Mass.Add(&t.Mass)
	}
}
