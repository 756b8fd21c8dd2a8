package trace

import (
	"fmt"
	"slices"

	"lotbook/inventory"
)

// A Holder is a kit's lot or a batch that holds a lot, or may: who met it may
// have met the lot.
type Holder struct {
	// Kind is "kit" or "batch".
	Kind    string              `json:"kind"`
	Product inventory.ProductID `json:"product"`
	Name    string              `json:"product_name,omitempty"`
	Lot     string              `json:"lot"`
	// Pieces of the lot in one kit or in the batch, 0 if that is not known.
	Pieces int64 `json:"pieces,omitempty"`
	// Grade is the surest that an exposure through it can be, and Why says
	// what that rests on.
	Grade Grade  `json:"grade"`
	Why   string `json:"why"`
}

// The kinds of holders.
const (
	HolderKit   = "kit"
	HolderBatch = "batch"
)

func (h *Holder) String() string { return h.Kind + " " + h.Lot }

// A carrier is what a lot can meet a patient in: its own packs, or a kit's lot
// or a batch that holds it.
type carrier struct {
	keys
	// kinds are the categories as which a pack of it can be used.
	kinds []inventory.Category
	// parts are the components of a kit.
	parts []inventory.ProductID
	// holder is nil for the lot's own packs.
	holder *Holder
	batch  *Batch // if it is one
	// parent is what the holder holds.
	parent *carrier
	pres   presence
	homes  homeStores
}

// limit returns a grade, no surer than the carrier allows.
func (c *carrier) limit(g Grade) Grade {
	if c.holder != nil && surer(g, c.holder.Grade) {
		return c.holder.Grade
	}
	return g
}

// through puts a reason into the words of the carrier.
func (c *carrier) through(why string) string {
	if c.holder == nil {
		return why
	}
	s := fmt.Sprintf("through %s: %s", c.holder, why)
	if c.holder.Grade != Confirmed {
		s += "; " + c.holder.Why
	}
	return s
}

// exposure puts what met a carrier in terms of the lot asked about.
func (c *carrier) exposure(a *LotAnswer, x Exposure) Exposure {
	if c.holder == nil {
		return x
	}
	x.Product, x.Lot, x.Via = a.Product, a.Lot, c.holder
	x.Grade, x.Why = c.limit(x.Grade), c.through(x.Why)
	if c.holder.Kind == HolderKit && c.holder.Pieces > 0 {
		x.Quantity *= c.holder.Pieces
	}
	return x
}

// takes reports whether the carrier is of a product, or holds it.
func (c *carrier) takes(id inventory.ProductID) bool {
	return c.has(id) || slices.Contains(c.parts, id)
}

// ownCarrier is the lot's own packs.
func ownCarrier(b *Book, r inventory.Reader, k keys) (*carrier, error) {
	batch, err := BatchByLot(r, k.lots[0])
	if err != nil {
		return nil, err
	}
	c := &carrier{keys: k, homes: homeStores{}, batch: batch}
	if k.category != "" {
		c.kinds = []inventory.Category{k.category}
	}
	if k.product == nil {
		return c, nil
	}
	for _, part := range k.product.Components {
		c.parts = append(c.parts, part.Product)
		p, err := b.Product(r, part.Product)
		if err != nil {
			return nil, err
		}
		if p != nil && !part.NotCounted && !slices.Contains(c.kinds, p.Category) {
			c.kinds = append(c.kinds, p.Category)
		}
	}
	return c, nil
}

// carriersOf returns all that a lot can meet a patient in, its own packs first.
// A kit can lie in a batch as little as a batch in a kit, but nothing depends
// on that.
func (b *Book) carriersOf(r inventory.Reader, k keys) ([]*carrier, error) {
	own, err := ownCarrier(b, r, k)
	if err != nil {
		return nil, err
	}
	list := []*carrier{own}
	for i := 0; i < len(list); i++ {
		held, err := b.holdersOf(r, list[i])
		if err != nil {
			return nil, err
		}
		for _, h := range held {
			if at := slices.IndexFunc(list, func(c *carrier) bool { return c.id == h.Product && c.lots[0].Number == h.Lot }); at >= 0 {
				if old := list[at].holder; old != nil && surer(h.Grade, old.Grade) {
					*old = h
				}
				continue
			}
			c, err := b.carrierOf(r, h)
			if err != nil {
				return nil, err
			}
			c.parent, c.holder.Grade = list[i], list[i].limit(c.holder.Grade)
			list = append(list, c)
		}
	}
	return list, nil
}

func (b *Book) carrierOf(r inventory.Reader, h Holder) (*carrier, error) {
	k, err := b.keysOf(r, Question{Product: string(h.Product), Lot: h.Lot})
	if err != nil {
		return nil, err
	}
	c, err := ownCarrier(b, r, k)
	if err != nil {
		return nil, err
	}
	if k.product != nil {
		h.Name = k.product.Name
	}
	c.holder = &h
	return c, nil
}

// holdersOf returns the kits' lots and batches that hold a carrier's lot, and
// those that may: of which it is not known which lot of the product they hold.
func (b *Book) holdersOf(r inventory.Reader, c *carrier) ([]Holder, error) {
	var list []Holder
	add := func(within inventory.Lot) error {
		held, err := inventory.HoldersOf(r, within)
		if err != nil {
			return err
		}
		for _, l := range held {
			h, err := b.holder(r, l, within)
			if err != nil {
				return err
			}
			list = append(list, h)
		}
		return nil
	}
	for _, l := range c.lots {
		if err := add(l); err != nil {
			return nil, err
		}
	}
	for _, l := range c.lots {
		if err := add(inventory.Lot{Product: l.Product}); err != nil {
			return nil, err
		}
	}
	unsaid, err := b.kitsUnsaid(r, c)
	return append(list, unsaid...), err
}

// holder says how surely what a holder's record names is in each of it.
func (b *Book) holder(r inventory.Reader, l, within inventory.Lot) (Holder, error) {
	h := Holder{Kind: HolderKit, Product: l.Product, Lot: l.Number, Grade: Confirmed, Why: "its record names the lot"}
	batch, err := BatchByLot(r, l)
	if err != nil {
		return h, err
	}
	if batch != nil {
		h.Kind = HolderBatch
	}
	contents, err := inventory.ContentsOf(r, l)
	if err != nil {
		return h, err
	}
	lots, pieces := map[string]bool{}, int64(0)
	for _, x := range contents {
		if x.Product != within.Product {
			continue
		}
		lots[x.Number] = true
		pieces += x.Pieces
		if x.Lot == within {
			h.Pieces += x.Pieces
		}
	}
	switch {
	case within.Number == "":
		h.Grade, h.Pieces = NotExcluded, 0
		h.Why = fmt.Sprintf("which lot of %s went into it is not known", within.Product)
	case h.Kind == HolderKit && len(lots) > 1:
		p, err := b.Product(r, l.Product)
		if err != nil {
			return h, err
		}
		part := inventory.Component{}
		if p != nil {
			for _, x := range p.Components {
				if x.Product == within.Product {
					part = x
				}
			}
		}
		if lots[""] || pieces != part.Pieces {
			h.Grade, h.Why = Probable, fmt.Sprintf("its record names several lots of %s, not which kit holds which", within.Product)
		}
	}
	return h, nil
}

// kitsUnsaid returns the lots of kits with a component of the carrier's product
// of which nobody said which lot of it they hold.
func (b *Book) kitsUnsaid(r inventory.Reader, c *carrier) ([]Holder, error) {
	kits, err := b.KitsWith(r, c.id)
	if err != nil {
		return nil, err
	}
	var list []Holder
	for _, p := range kits {
		lots, err := inventory.LotsOf(r, p.ID)
		if err != nil {
			return nil, err
		}
		for _, f := range lots {
			said, err := b.saysOf(r, f.Lot, c)
			if err != nil {
				return nil, err
			}
			if said || f.Lot.Number == "" {
				continue
			}
			list = append(list, Holder{
				Kind: HolderKit, Product: p.ID, Name: p.Name, Lot: f.Lot.Number, Grade: NotExcluded,
				Why: "which lots are in these kits is not on record",
			})
		}
	}
	return list, nil
}

// saysOf reports whether a kit's lot has a record about the carrier's product.
func (b *Book) saysOf(r inventory.Reader, kit inventory.Lot, c *carrier) (bool, error) {
	contents, err := inventory.ContentsOf(r, kit)
	return slices.ContainsFunc(contents, func(x inventory.Content) bool { return c.has(x.Product) }), err
}
