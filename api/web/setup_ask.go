package web

import (
	"lotbook/api/reading"
	"lotbook/inventory"
)

// ask puts the question that a draft leaves open.
func (b *setupBuilder) ask(d draft) error {
	b.page.LeftURL = b.page.URL
	if err := b.left(d); err != nil {
		return err
	}
	if d.Replaces != 0 {
		b.page.Replacing = b.replaced(&d)
	}
	if d.empty() {
		b.page.Earlier = d.fields("quantity", "choice")
		return nil
	}
	r, err := b.p.read(b.c, b.r, &d)
	if err != nil {
		return err
	}
	a := &ask{
		Kind: string(r.Outcome), Lot: r.Stock.Lot, Expires: string(r.Stock.Expires), Fields: d.fields("lot", "expires", "choice"),
		Two: r.RunTogether, Replaces: b.page.Replacing,
	}
	switch r.Outcome {
	case reading.NeedsLot, reading.NeedsProduct, reading.NeedsChoice:
	case reading.Ready:
		if d.Replaces == 0 || d.Cause != "" {
			return nil // an address that asks nothing
		}
		a.Kind, a.Fields = "needs_cause", d.fields()
	default:
		return nil
	}
	if a.Number, a.Product, err = b.product(r.Stock.GTIN, r.Stock.Product); err != nil {
		return err
	}
	for i, k := range r.Choices {
		ch := choice{Number: i + 1, GTIN: k.GTIN, Lot: k.Lot, Serial: k.Serial, Expiry: string(inventory.LastDay(k.Expires))}
		if _, ch.Product, err = b.product(k.GTIN, ""); err != nil {
			return err
		}
		a.Choices = append(a.Choices, ch)
	}
	if n := mostChoices; len(a.Choices) > n+1 {
		a.Choices, a.More = a.Choices[:n], a.Choices[n:]
	}
	b.page.Ask, b.page.AskOther = a, r.Outcome == reading.NeedsLot || r.Outcome == reading.NeedsProduct
	b.page.Earlier = d.fields("quantity", "choice")
	if a.Two {
		// It was said that each is to be scanned by itself.
		left := draft{Left: d.Left}
		b.page.Earlier = left.fields()
	}
	return nil
}

// mostChoices is how many ways of reading a code are shown at once, the likeliest
// first: in two of three cases the first is right, in most one of these.
const mostChoices = 6

// left names the draft whose question was open before.
func (b *setupBuilder) left(d draft) error {
	before := d.earlier()
	if before.empty() {
		return nil
	}
	r, err := b.p.read(b.c, b.r, &before)
	if err != nil {
		return err
	}
	_, name, err := b.product(r.Stock.GTIN, r.Stock.Product)
	switch {
	case name != "" && r.Stock.Lot != "":
		name += ", lot " + r.Stock.Lot
	case r.Stock.Lot != "":
		name = "Lot " + r.Stock.Lot
	case name == "" && len(r.Choices) > 0:
		_, name, err = b.product(r.Choices[0].GTIN, "")
	}
	b.page.Left, b.page.LeftURL = name, b.page.URL+"?"+before.query()
	return err
}

// replaced says what a draft takes over from.
func (b *setupBuilder) replaced(d *draft) string {
	for i := range b.t.Uses {
		u := &b.t.Uses[i]
		if u.Entry != d.Replaces {
			continue
		}
		s := lower(u.Category.Title()) + " of lot " + u.Lot
		if d.Cause != "" {
			s += ", " + lower(d.Cause)
		}
		if d.At != "" {
			s += ", at " + d.At
		}
		return s
	}
	return ""
}
