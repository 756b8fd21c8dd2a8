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
	return b.Record(ctx, call, ps, func(r Reader) ([]Event, error) {
		evs := make([]Event, len(ps))
		owner := map[string]ProductID{}
		return evs, EachLine(len(ps), func(i int) error {
			p := ps[i]
			evs[i] = &ProductSet{p}
			if err := p.check(); err != nil {
				return err
			}
			for _, k := range p.Packs {
				for _, n := range k.numbers() {
					other, _, err := b.ProductByGTIN(r, n)
					if err != nil {
						return err
					}
					id := owner[n]
					if other != nil && !slices.ContainsFunc(ps, func(q Product) bool { return q.ID == other.ID }) {
						id = other.ID
					}
					if id != "" && id != p.ID {
						return Conflict("gtin_taken", "A GTIN or another agency's code names one packaging level of one product. Correct the other product first.", "%s belongs to product %s already", n, id)
					}
					owner[n] = p.ID
				}
			}
			return b.haveComponents(r, &p, ps)
		})
	})
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
