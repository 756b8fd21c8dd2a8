package inventory

import (
	"context"
	"errors"
	"slices"
)

// SetUnit records the unit's settings.
func (b *Book) SetUnit(ctx context.Context, call Call, u Unit) (Receipt, error) {
	return b.Record(ctx, call, u, func(r Reader) ([]Event, error) {
		if err := u.check(); err != nil {
			return nil, err
		}
		for c, id := range u.Defaults {
			if err := b.needProduct(r, id, c); err != nil {
				return nil, err
			}
		}
		return []Event{&UnitSet{u}}, nil
	})
}

// needProduct says whether a product exists and is of a category.
func (b *Book) needProduct(r Reader, id ProductID, c Category) error {
	p, err := b.Product(r, id)
	if err != nil {
		return err
	}
	if p == nil {
		return NotFound("product", string(id), "Add it to the catalogue first.")
	}
	if p.Category != c {
		return Invalid("product", "Choose a product of that category.", "%s is of category %s, not %s", id, p.Category, c)
	}
	return nil
}

// NeedProduct says whether a product exists and is of a category, in a Refusal
// if not.
func (b *Book) NeedProduct(r Reader, id ProductID, c Category) error { return b.needProduct(r, id, c) }

// SetProducts records products, new or changed, all or none.
func (b *Book) SetProducts(ctx context.Context, call Call, ps ...Product) (Receipt, error) {
	list := NewProductList()
	for i := range ps {
		list.Add(&ps[i])
	}
	return b.Record(ctx, call, ps, func(r Reader) ([]Event, error) {
		evs := make([]Event, len(ps))
		return evs, EachLine(len(ps), func(i int) error {
			p := ps[i]
			evs[i] = &ProductSet{p}
			if err := b.settable(r, &p, list); err != nil {
				return err
			}
			return b.haveComponents(r, &p, ps)
		})
	})
}

// A ProductList is what products that come together have of each other: which
// products there are, and whose each number of a pack is. A number may go from
// one of them to another.
type ProductList struct {
	ids   map[ProductID]bool
	owner map[string]ProductID
}

// NewProductList returns an empty list.
func NewProductList() *ProductList { return &ProductList{map[ProductID]bool{}, map[string]ProductID{}} }

// Add adds a product. A number that two of them have is the first one's.
func (l *ProductList) Add(p *Product) {
	l.ids[p.ID] = true
	for i := range p.Packs {
		for _, n := range p.Packs[i].numbers() {
			if _, ok := l.owner[n]; !ok {
				l.owner[n] = p.ID
			}
		}
	}
}

// ListProducts records a part of a list of products, all of the part or none; the
// whole list says whose number is whose. A list names no components, so a product
// that is a kit keeps those that it has.
func (b *Book) ListProducts(ctx context.Context, call Call, whole *ProductList, ps ...Product) (Receipt, error) {
	return b.Record(ctx, call, ps, func(r Reader) ([]Event, error) {
		evs := make([]Event, len(ps))
		return evs, EachLine(len(ps), func(i int) error {
			p := ps[i]
			old, err := b.Product(r, p.ID)
			if err != nil {
				return err
			}
			if old != nil {
				p.Components = old.Components
			}
			evs[i] = &ProductSet{p}
			return b.settable(r, &p, whole)
		})
	})
}

// settable says whether a product can be recorded together with a list.
func (b *Book) settable(r Reader, p *Product, list *ProductList) error {
	if err := p.check(); err != nil {
		return err
	}
	for i := range p.Packs {
		for _, n := range p.Packs[i].numbers() {
			id := list.owner[n]
			other, err := owner(r, n)
			if err != nil {
				return err
			}
			if other != "" && !list.ids[other] {
				id = other
			}
			if id != p.ID {
				return Conflict("gtin_taken", "A GTIN or another agency's code names one packaging level of one product. Correct the other product first.", "%s belongs to product %s already", n, id)
			}
		}
	}
	return nil
}

// haveComponents says whether a kit's components are in the catalogue, or come
// into it with the kit, and are no kits.
func (b *Book) haveComponents(r Reader, kit *Product, with []Product) error {
	for _, c := range kit.Components {
		p, err := b.Product(r, c.Product)
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(with, func(q Product) bool { return q.ID == c.Product }); i >= 0 {
			p = &with[i]
		}
		switch {
		case p == nil:
			return NotFound("product", string(c.Product), "Add the component to the catalogue first.")
		case p.Kit():
			return Invalid("components", "List what is in the inner kit as components of this one.", "component %s of %s is a kit itself", c.Product, kit.ID)
		}
	}
	return nil
}

// SetLocation records a location, new or renamed. Whose patient's store it is,
// is checked by whoever knows patients.
func (b *Book) SetLocation(ctx context.Context, call Call, l Location) (Receipt, error) {
	return b.Record(ctx, call, l, func(r Reader) ([]Event, error) {
		return []Event{&LocationSet{l}}, CheckLocation(r, &l)
	})
}

// CheckLocation says whether a location can be recorded, in a Refusal if not.
func CheckLocation(r Reader, l *Location) error {
	if err := (&LocationSet{*l}).check(); err != nil {
		return err
	}
	old, err := LocationByID(r, l.ID)
	switch {
	case errors.Is(err, ErrNotFound):
		return nil
	case err != nil:
		return err
	case old.Type != l.Type && (old.Type.Away() || l.Type.Away()), old.Patient != l.Patient:
		// What went there was told from what stayed by this.
		return Conflict("location_kind", "Add a location of its own with another id.", "location %s is on record as %s, and what went there went out of the house, or did not", l.ID, old.Type)
	}
	return nil
}
