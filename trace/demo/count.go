package demo

import (
	"slices"

	"lotbook/inventory"
)

// endOfShift throws away an opened vial and writes down what the machines used.
func (w *world) endOfShift(cart *shelf, who string) error {
	n := int64(w.treated[cart])
	w.treated[cart] = 0
	cart.vial.left, cart.vial.lot = 0, nil
	if err := w.closeVial(cart, who); err != nil {
		return err
	}
	if n == 0 {
		return nil
	}
	for _, x := range []struct {
		id      inventory.ProductID
		n       int64
		purpose string
	}{{strips, 2 * n, "chlorine check"}, {disinfectant, (n + 4) / 5, "surface and machine disinfection"}} {
		l := w.choose(cart, x.id, .95, usual)
		if l == nil {
			continue
		}
		take := min(x.n, cart.has(l))
		cart.put(l, -take)
		if w.chance(w.o.Miss) {
			w.notWritten("used_outside", cart, nil, l, take)
			continue
		}
		_, err := w.book.Consume(w.ctx, w.by(who), inventory.Consumed{
			Stock: inventory.Stock{Product: l.good.ID, Lot: l.number, Expires: l.expires, Quantity: take}, From: cart.ID, Purpose: x.purpose,
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// count counts a place completely, with an error now and then.
func (w *world) count(s *shelf, shift *inventory.Shift, who string) error {
	c := inventory.Counted{Location: s.ID, Complete: true, Shift: shift}
	var found []*pile
	for _, g := range w.goods {
		for _, p := range s.piles[g.ID] {
			found = append(found, &pile{p.lot, p.n})
		}
	}
	var wrong []CountError
	misread := func(p *pile, counted int64) {
		wrong = append(wrong, CountError{Location: s.ID, At: w.now.UTC(), Product: p.lot.good.ID, Lot: p.lot.number, There: p.n, Counted: counted})
		p.n = counted
	}
	if len(found) > 0 && w.chance(w.o.CountErrors) {
		i := w.rng.IntN(len(found))
		p := found[i]
		counted, taken := w.miscount(p), w.takenFor(p)
		switch {
		case taken != nil && w.overlooks(p.lot):
			j := slices.IndexFunc(found, func(o *pile) bool { return o.lot == taken })
			if j < 0 {
				j = len(found)
				found = append(found, &pile{taken, 0})
			}
			misread(found[j], found[j].n+p.n)
			misread(p, 0)
		case taken == nil && counted != p.n && (counted > 0 || w.overlooks(p.lot)):
			misread(p, counted)
		}
	}
	found = slices.DeleteFunc(found, func(p *pile) bool { return p.n == 0 })
	for _, p := range found {
		if s.has(p.lot) > 0 { // not what another was taken for
			p.lot.overlooked, p.lot.carried = false, false
		}
	}
	for _, p := range found {
		id := p.lot.good.ID
		if id == trial && !w.catalogued {
			id = inventory.ProvisionalID(p.lot.good.Packs[0].GTIN)
		}
		c.Lines = append(c.Lines, inventory.CountLine{Product: id, Lot: p.lot.number, Expires: p.lot.expires, Counted: p.n})
	}
	at := w.now
	record := func() error {
		receipt, err := w.book.Count(w.ctx, w.asOf(who, at), c)
		if err == nil {
			for _, x := range wrong {
				x.Entry = receipt.Entries[0].Seq
				w.truth.CountErrors = append(w.truth.CountErrors, x)
			}
		}
		return err
	}
	if w.chance(w.o.Late * 2) {
		w.plan(at.Add(w.minutes(30, 700)), record)
		return nil
	}
	return record()
}

// overlooks reports whether a count may overlook a lot, or take it for another:
// not when the last count where it lay did, unless people are careless.
func (w *world) overlooks(l *lot) bool {
	may := !l.overlooked || w.o.Careless
	l.overlooked = l.overlooked || may
	return may
}

// takenFor returns another lot of the same product that a pile is taken for, nil
// if it is not.
func (w *world) takenFor(p *pile) *lot {
	if w.o.WrongLots == 0 || w.planted.Float64() >= w.o.WrongLots {
		return nil
	}
	lots := slices.DeleteFunc(slices.Clone(p.lot.good.lots), func(l *lot) bool { return l == p.lot })
	if len(lots) == 0 {
		return nil
	}
	return lots[w.planted.IntN(len(lots))]
}

// carryOff carries some of what lies on a cart to another place without a word,
// now and then.
func (w *world) carryOff(cart *shelf) {
	if w.o.Carried == 0 {
		return
	}
	for _, g := range w.goods {
		for _, p := range slices.Clone(cart.piles[g.ID]) {
			if p.lot.kept || p.lot.carried || w.planted.Float64() >= w.o.Carried {
				continue
			}
			to := w.shelves()[w.planted.IntN(len(w.shelves()))]
			if n := 1 + w.planted.Int64N(p.n); to != cart && to != w.quarantine {
				w.carry(p.lot, n, cart, to)
				w.notWritten("moved", cart, to, p.lot, n)
			}
		}
	}
}

// miscount returns a wrong figure: off by up to 3, or a lot overlooked.
func (w *world) miscount(p *pile) int64 {
	if w.chance(.3) {
		return 0
	}
	n := int64(w.between(1, 3))
	if w.chance(.5) {
		n = -n
	}
	return max(0, p.n+n)
}
