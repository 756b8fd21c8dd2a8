package trace

import (
	"context"
	"fmt"

	"lotbook/inventory"
)

// pageRows is how many ledger lines are read in one snapshot.
const pageRows = 2000

// Exposures answers who received a lot. The confirmed lines are counted in it
// and read by EachConfirmed.
func (b *Book) Exposures(ctx context.Context, q Question) (*LotAnswer, error) {
	a := &LotAnswer{Question: q, At: b.Now()}
	err := b.View(ctx, func(r inventory.Reader) error { return b.begin(r, a) })
	if err != nil {
		return nil, err
	}
	tally := newCounter()
	var pres presence
	mass := make([]inventory.Tally, len(a.keys.lots))
	err = b.eachMovement(ctx, a, func(i int, m *inventory.Movement) error {
		mass[i].Add(m)
		u, inTreatment, err := lotUse(m)
		if err != nil {
			return err
		}
		if m.Struck != 0 {
			if inTreatment {
				a.StruckOut = append(a.StruckOut, confirmed(&u))
			}
			return nil
		}
		pres.add(m, u.How)
		switch {
		case inTreatment:
			x := confirmed(&u)
			tally.add(&x)
		case m.Class == inventory.ClassUsed:
			a.Outside += m.Quantity
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = b.View(ctx, func(r inventory.Reader) error {
		if err := b.account(r, a, mass); err != nil {
			return err
		}
		if err := b.explainStruckOut(r, a); err != nil {
			return err
		}
		if err := b.gradeGaps(r, a, &pres); err != nil {
			return err
		}
		if err := b.gradeStopped(r, a); err != nil {
			return err
		}
		a.sortUnrecorded()
		return nil
	})
	if err != nil {
		return nil, err
	}
	for i := range a.Unrecorded {
		tally.add(&a.Unrecorded[i])
	}
	a.Counts, a.Machines = tally.result()
	return a, nil
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
		if a.Hold == nil {
			if a.Hold, err = inventory.HoldOn(r, l); err != nil {
				return err
			}
		}
	}
	a.Similar, err = inventory.SimilarLots(r, k.lots[0])
	return err
}

// eachMovement calls fn for the movements of all the question's lots up to the
// answer's head, through short snapshots; i is the index of the lot.
func (b *Book) eachMovement(ctx context.Context, a *LotAnswer, fn func(i int, m *inventory.Movement) error) error {
	for i, l := range a.keys.lots {
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

// EachConfirmed calls fn for the answer's confirmed exposures in the order in
// which they happened, each with the patient's name. It reads through short
// snapshots and costs what it lists. The Exposure is valid until fn returns.
func (b *Book) EachConfirmed(ctx context.Context, a *LotAnswer, fn func(*Exposure) error) error {
	names := map[PatientID]string{}
	return b.eachMovement(ctx, a, func(_ int, m *inventory.Movement) error {
		u, ok, err := lotUse(m)
		if err != nil || !ok || m.Struck != 0 {
			return err
		}
		x := confirmed(&u)
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
}

func confirmed(u *LotUse) Exposure {
	why := "recorded as used, " + string(u.How)
	if u.Struck != 0 {
		why = "recorded as used and struck out"
	}
	return Exposure{
		Grade: Confirmed, Patient: u.Patient, Treatment: u.Treatment, Start: u.Start, Machine: u.Machine, Station: u.Station,
		Product: u.Lot.Product, Lot: u.Lot.Number, From: u.From, Until: u.Until, Quantity: u.Quantity, Serial: u.Serial,
		How: u.How, By: u.By, Entry: u.Entry, Why: why,
	}
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
func (b *Book) account(r inventory.Reader, a *LotAnswer, tallies []inventory.Tally) error {
	locs, err := inventory.Locations(r)
	if err != nil {
		return err
	}
	kind := func(id inventory.LocationID) inventory.PlaceKind {
		for _, l := range locs {
			if l.ID == id {
				return l.Type
			}
		}
		return ""
	}
	for i := range tallies {
		t := &tallies[i]
		a.Left = append(a.Left, t.Close(a.keys.lots[i], a.Hold != nil, kind)...)
		a.Differences = append(a.Differences, t.Diffs...)
		a.Mass.Add(&t.Mass)
	}
	return nil
}
