package notice

import (
	"context"
	"fmt"
	"slices"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace"
)

// tries is how often an answer is made anew because entries came in meanwhile.
const tries = 3

// Answer answers a notice, by the scope of the versions up to one (0: the last),
// with lots in doubt among it. It needs no confirmation of the scope.
func (b *Book) Answer(ctx context.Context, id ID, version int) (*Answer, error) {
	for n := 1; ; n++ {
		a, err := b.answer(ctx, id, version)
		if err != nil || !a.Moved || n == tries {
			return a, err
		}
	}
}

func (b *Book) answer(ctx context.Context, id ID, version int) (*Answer, error) {
	a := &Answer{Notice: id, At: b.Now(), Left: []inventory.Balance{}}
	var scope []inventory.ScopedOn
	err := b.View(ctx, func(r inventory.Reader) error {
		s, err := ByID(r, id)
		if err != nil {
			return err
		}
		if version <= 0 || version > len(s.Versions) {
			version = len(s.Versions)
		}
		v := s.Versions[version-1]
		a.AsOf, a.Version, a.Reference, a.Issuer = r.Head(), version, v.Reference, v.Issuer
		a.Dated, a.Received, a.Actions = v.Dated, v.Received, s.asks(version)
		a.Subject, a.Class, a.Deadline = s.Said(version)
		a.Unmatched, scope = s.Unmatched(version), s.Scope(version)
		if a.Products, err = b.products(r, s, scope, version); err != nil {
			return err
		}
		lots, err := b.lots(r, s, version)
		if err != nil {
			return err
		}
		for _, m := range lots {
			a.Lots = append(a.Lots, LotLine{LotMatch: m})
			if m.Undecided() {
				a.Undecided++
			}
		}
		return b.onOrder(r, a, scope)
	})
	if err != nil {
		return nil, err
	}
	g := newGathering(a)
	for i := range a.Lots {
		l := &a.Lots[i]
		if l.Verdict == inventory.NotMeant || !l.OnRecord {
			continue
		}
		if err := b.ask(ctx, g, l, scope); err != nil {
			return nil, err
		}
	}
	if err := g.conclude(ctx, b); err != nil {
		return nil, err
	}
	var now journal.Head
	err = b.View(ctx, func(r inventory.Reader) error {
		now = r.Head()
		return nil
	})
	a.Moved = now != a.AsOf
	return a, err
}

// ask asks about one lot and gathers what comes back.
func (b *Book) ask(ctx context.Context, g *gathering, l *LotLine, scope []inventory.ScopedOn) error {
	ans, err := b.Exposures(ctx, trace.Question{Product: string(l.Product), Lot: l.Lot, NoLot: l.Lot == ""})
	if err != nil {
		return err
	}
	l.First, l.Last, l.Mass, l.Differences = ans.First, ans.Last, ans.Mass, ans.Differences
	on := scope[slices.IndexFunc(scope, func(o inventory.ScopedOn) bool { return o.Product == l.Product })]
	own := trace.NewGradeCounter()
	take := func(x *trace.Exposure) error {
		x, ok := g.narrow(x, l, &on)
		if !ok {
			g.a.Serials++
			return nil
		}
		own.Add(x)
		g.add(x, l)
		return nil
	}
	if err := b.EachConfirmed(ctx, ans, take); err != nil {
		return err
	}
	for i := range ans.Unrecorded {
		if err := take(&ans.Unrecorded[i]); err != nil {
			return err
		}
	}
	for _, h := range ans.Homes {
		h.Grade, h.Why = l.sure(h.Grade, h.Why)
		own.AddPatient(h.Patient, h.Grade)
		g.home(h)
	}
	l.Counts, _ = own.Result()
	l.Units = ans.Units
	for _, k := range ans.Completeness {
		k.Weeks = nil
		l.Record = append(l.Record, k)
	}
	if l.Verdict == inventory.Meant || l.Part {
		g.a.Mass.Add(&ans.Mass)
	} else {
		g.a.InDoubt.Add(&ans.Mass)
	}
	g.a.Left = append(g.a.Left, ans.Left...)
	g.a.Lent = append(g.a.Lent, ans.Lent...)
	for _, s := range ans.Limits {
		g.limit(fmt.Sprintf("%s: %s", l.words(), s))
	}
	return nil
}

// words names the lot.
func (l *LotLine) words() string {
	if l.Lot == "" {
		return fmt.Sprintf("%s without a lot number", l.Product)
	}
	return fmt.Sprintf("%s lot %s", l.Product, l.Lot)
}

// onOrder adds what is on its way of the notice's products.
func (b *Book) onOrder(r inventory.Reader, a *Answer, scope []inventory.ScopedOn) error {
	orders, err := inventory.OnOrder(r)
	if err != nil {
		return err
	}
	for _, o := range orders {
		for _, p := range o.Progress {
			if p.Open > 0 && slices.ContainsFunc(scope, func(s inventory.ScopedOn) bool { return s.Product == p.Product }) {
				a.OnOrder = append(a.OnOrder, OnOrder{o.Order.ID, o.Order.Supplier, p.Product, p.Open, o.Order.Expected})
			}
		}
	}
	return nil
}
