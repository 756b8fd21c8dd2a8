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
	var wrong *CountError
	var overlooked *lot
	if len(found) > 0 && w.chance(w.o.CountErrors) {
		i := w.rng.IntN(len(found))
		p := found[i]
		counted := w.miscount(p)
		if counted != p.n && (counted > 0 || !w.missed(p.lot)) {
			wrong = &CountError{Location: s.ID, At: w.now.UTC(), Product: p.lot.good.ID, Lot: p.lot.number, There: p.n, Counted: counted}
			if p.n = counted; counted == 0 {
				overlooked = p.lot
				found = slices.Delete(found, i, i+1)
			}
		}
	}
	clear(s.missed)
	if overlooked != nil {
		s.missed[overlooked] = true
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
		if err == nil && wrong != nil {
			wrong.Entry = receipt.Entries[0].Seq
			w.truth.CountErrors = append(w.truth.CountErrors, *wrong)
		}
		return err
	}
	if w.chance(w.o.Late * 2) {
		w.plan(at.Add(w.minutes(30, 700)), record)
		return nil
	}
	return record()
}

// missed reports whether the last count of some place overlooked a lot: the
// next count of wherever it lies then finds it.
func (w *world) missed(l *lot) bool {
	for _, s := range w.shelves() {
		if s.missed[l] {
			return true
		}
	}
	return false
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
