package trace

import (
	"slices"

	"lotbook/inventory"
)

// lotMeans is a lot and all that it holds: what a treatment that met it has met.
type lotMeans struct {
	factor Factor
	held   []heldMeans
	// doubts are what nobody said of what it holds.
	doubts []doubt
}

// heldMeans is something that a lot holds. surely is false where it may hold it.
type heldMeans struct {
	factor Factor
	via    string
	surely bool
}

// lot adds a lot, or a batch, and what it holds to what a treatment met, or to
// what it may have met.
func (c *caseReader) lot(m *meeting, l inventory.Lot, surely bool, via string, doubts []doubt) error {
	means, err := c.meansOf(l)
	if err != nil {
		return err
	}
	add := func(f Factor, surely bool, via string, doubts []doubt) {
		// Whatever it was met as here, a kit may hold it elsewhere.
		if i := c.factor(f, via, append(doubts, heldDoubt(f.Product))...); surely {
			m.met = append(m.met, i)
		} else {
			m.maybe = append(m.maybe, i)
		}
	}
	if means.factor.Kind == FactorBatch {
		via = ""
	}
	add(means.factor, surely, via, slices.Clone(doubts))
	for _, h := range means.held {
		// What may have been met through the holder unrecorded may have been
		// met, whatever it is used as itself.
		add(h.factor, surely && h.surely, h.via, slices.Clone(doubts))
	}
	m.doubts = append(m.doubts, means.doubts...)
	return nil
}

// meansOf returns what a lot is and holds, read once.
func (c *caseReader) meansOf(l inventory.Lot) (*lotMeans, error) {
	if x := c.lots[l]; x != nil {
		return x, nil
	}
	p, own, err := c.canonical(l)
	if err != nil {
		return nil, err
	}
	x := c.lots[own]
	if x == nil {
		x = new(lotMeans)
		if x.factor, err = c.factorOf(p, own); err != nil {
			return nil, err
		}
		c.lots[own] = x
		if err := c.unfold(x, p, own, true, 0); err != nil {
			return nil, err
		}
	}
	c.lots[l] = x
	return x, nil
}

// canonical returns a lot under its product of the catalogue, where uses from
// before it was there stand under its code.
func (c *caseReader) canonical(l inventory.Lot) (*inventory.Product, inventory.Lot, error) {
	p, err := c.b.Product(c.r, l.Product)
	if err != nil || p != nil {
		return p, l, err
	}
	if gtin, ok := l.Product.ProvisionalGTIN(); ok {
		if p, _, err = c.b.ProductByGTIN(c.r, gtin); err != nil {
			return nil, l, err
		}
	}
	if p == nil {
		if p, _, err = c.b.ProductByCode(c.r, l.Product); err != nil {
			return nil, l, err
		}
	}
	if p != nil {
		l.Product = p.ID
	}
	return p, l, nil
}

func (c *caseReader) factorOf(p *inventory.Product, l inventory.Lot) (Factor, error) {
	f := Factor{Kind: FactorLot, ID: l.Number, Product: l.Product}
	if p != nil {
		f.Name, f.Category = p.Name, p.Category
	}
	batch, err := BatchByLot(c.r, l)
	if batch != nil {
		f.Kind = FactorBatch
	}
	return f, err
}

// mostNested is how deep what holds something is followed: a batch of batches of
// kits goes no deeper in practice.
const mostNested = 5

// unfold adds what a lot holds.
func (c *caseReader) unfold(x *lotMeans, p *inventory.Product, l inventory.Lot, surely bool, depth int) error {
	f, err := c.factorOf(p, l)
	if err != nil || depth > mostNested || (f.Kind == FactorLot && (p == nil || !p.Kit())) {
		return err
	}
	contents, err := inventory.ContentsOf(c.r, l)
	if err != nil {
		return err
	}
	via := HolderKit
	if f.Kind == FactorBatch {
		if via = HolderBatch; len(contents) == 0 {
			x.doubts = append(x.doubts, madeDoubt)
		}
	} else {
		for _, part := range p.Components {
			if !slices.ContainsFunc(contents, func(y inventory.Content) bool { return y.Product == part.Product }) {
				x.doubts = append(x.doubts, heldDoubt(part.Product))
			}
		}
	}
	seen := map[inventory.Lot]bool{}
	for _, y := range contents {
		if seen[y.Lot] {
			continue
		}
		seen[y.Lot] = true
		if y.Number == "" {
			x.doubts = append(x.doubts, heldDoubt(y.Product))
			continue
		}
		h, err := c.b.holder(c.r, l, y.Lot)
		if err != nil {
			return err
		}
		held, lot, err := c.canonical(y.Lot)
		if err != nil {
			return err
		}
		hf, err := c.factorOf(held, lot)
		if err != nil {
			return err
		}
		sure := surely && h.Grade == Confirmed
		x.held = append(x.held, heldMeans{hf, via, sure})
		if err := c.unfold(x, held, lot, sure, depth+1); err != nil {
			return err
		}
	}
	return nil
}
