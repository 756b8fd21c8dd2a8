package notice

import (
	"cmp"
	"slices"

	"lotbook/inventory"
)

// products returns the products of a scope with their names and numbers, and
// how the versions in force name them.
func (b *Book) products(r inventory.Reader, s *State, scope []inventory.ScopedOn, version int) ([]ProductLine, error) {
	list := make([]ProductLine, len(scope))
	for i, on := range scope {
		l := ProductLine{Product: on.Product, DIs: []string{}}
		p, err := b.Product(r, on.Product)
		if err != nil {
			return nil, err
		}
		switch gtin, provisional := on.Product.ProvisionalGTIN(); {
		case p != nil:
			l.Name, l.Maker = p.Name, p.Maker
			for _, k := range p.Packs {
				if n := cmp.Or(k.GTIN, k.Code); n != "" {
					l.DIs = append(l.DIs, n)
				}
			}
		case provisional:
			l.DIs = append(l.DIs, gtin)
		default:
			l.DIs = append(l.DIs, string(on.Product))
		}
		for j := range on.Scope {
			l.Means = append(l.Means, on.Scope[j].Words())
		}
		for _, v := range s.inForce(version) {
			for _, line := range v.Lines {
				if line.Product == on.Product && line.Printed != "" && !slices.Contains(l.Printed, line.Printed) {
					l.Printed = append(l.Printed, line.Printed)
				}
			}
		}
		list[i] = l
	}
	return list, nil
}
