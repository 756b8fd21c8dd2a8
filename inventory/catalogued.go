package inventory

import (
	"slices"

	"lotbook/inventory/rowcode"
)

// What was scanned or received under a number that nobody had put into the
// catalogue is kept under a provisional id. Once a product has a pack of that
// number, its pieces are the product's: their movements, counts and balances are
// carried over to the product's lots, and what still comes under the provisional
// id goes there too. The journal stays as it is. If the product loses the number
// again, say since it was given to the wrong one, they are carried back, or on to
// the product that has it then.

// number returns the number that a provisional id is made of, empty if the id is
// none.
func (id ProductID) number() string {
	if gtin, ok := id.ProvisionalGTIN(); ok {
		return gtin
	}
	if code, ok := id.code(); ok {
		return code
	}
	return ""
}

// provisionalOf returns the provisional id that is made of a pack's number.
func provisionalOf(number string) ProductID {
	if _, ok := ProductID(number).code(); ok {
		return ProductID(number)
	}
	return ProvisionalID(number)
}

// owner returns the product that has a pack of a number, empty if none has.
func owner(r Reader, number string) (ProductID, error) {
	row, err := r.Get(ixGTIN, rowcode.AppendText(nil, number))
	if err != nil || row == nil {
		return "", err
	}
	d := rowcode.NewDec(1, row)
	id := ProductID(d.Text())
	d.Uint()
	return id, d.Err()
}

// Catalogued returns the id that a product has in the catalogue by now: of a
// provisional one, that of the product that has a pack of its number; otherwise
// the id itself.
func Catalogued(r Reader, id ProductID) (ProductID, error) {
	n := id.number()
	if n == "" {
		return id, nil
	}
	known, err := owner(r, n)
	if err != nil || known == "" {
		return id, err
	}
	return known, nil
}

// catalogue puts a movement that is about to be written under the id that its
// product has in the catalogue.
func (m *Movement) catalogue(r Reader) error {
	id, err := Catalogued(r, m.Lot.Product)
	if err != nil || id == m.Lot.Product {
		return err
	}
	m.As, m.Lot.Product = m.Lot.Product, id
	return nil
}

// noteAs returns the lot that a lot is by now, and notes that some of it was
// recorded under a provisional id.
func noteAs(w Writer, l Lot) (Lot, error) {
	id, err := Catalogued(w, l.Product)
	if err != nil || id == l.Product {
		return l, err
	}
	row, err := w.Get(ixLotAs, l.key())
	if err == nil && row == nil {
		err = w.Put(ixLotAs, l.key(), new(LotFacts).row())
	}
	return Lot{id, l.Number}, err
}

// dropNumbers takes the numbers that a product had, and has no more, from it.
func (p *ProductSet) dropNumbers(w Writer, was *Product) error {
	var now []string
	for i := range p.Packs {
		now = append(now, p.Packs[i].numbers()...)
	}
	for i := range was.Packs {
		for _, n := range was.Packs[i].numbers() {
			has, err := owner(w, n)
			if err != nil {
				return err
			}
			if slices.Contains(now, n) || has != p.ID { // given on to another already
				continue
			}
			if err := w.Delete(ixGTIN, rowcode.AppendText(nil, n)); err != nil {
				return err
			}
			if err := recatalogue(w, provisionalOf(n), p.ID, provisionalOf(n)); err != nil {
				return err
			}
		}
	}
	return nil
}

// putNumbers writes the numbers that a product has, and carries what was recorded
// under those that are new to it over.
func (p *ProductSet) putNumbers(w Writer) error {
	for i, k := range p.Packs {
		v := rowcode.NewEnc(1, 32)
		v.Text(string(p.ID))
		v.Uint(uint64(i))
		for _, n := range k.numbers() {
			had, err := owner(w, n)
			if err != nil {
				return err
			}
			if err := w.Put(ixGTIN, rowcode.AppendText(nil, n), v.Bytes()); err != nil {
				return err
			}
			switch had {
			case p.ID:
				continue
			case "":
				had = provisionalOf(n)
			}
			if err := recatalogue(w, provisionalOf(n), had, p.ID); err != nil {
				return err
			}
		}
	}
	return nil
}
