package inventory

import (
	"context"
	"slices"
	"strings"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A Component is what one piece of a kit holds of another product.
type Component struct {
	Product ProductID `json:"product"`
	Pieces  int64     `json:"pieces"`
	// NotCounted is set where the component does not count at setup as what a
	// treatment needs of its category. It is traced all the same.
	NotCounted bool `json:"not_counted,omitempty"`
}

// Kit reports whether the product is a kit: a pack of several products, with a
// lot number of its own.
func (p *Product) Kit() bool { return len(p.Components) > 0 }

// component returns what the kit holds of a product.
func (p *Product) component(id ProductID) (Component, bool) {
	for _, c := range p.Components {
		if c.Product == id {
			return c, true
		}
	}
	return Component{}, false
}

// KitsWith returns the kits of the catalogue that a product is a component of.
func (b *Book) KitsWith(r Reader, component ProductID) (list []*Product, err error) {
	err = r.Scan(ixKitOf, rowcode.AppendText(nil, string(component)), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		id := ProductID(k.Text())
		if err := k.Err(); err != nil {
			return err
		}
		p, err := b.Product(r, id)
		if p != nil {
			list = append(list, p)
		}
		return err
	})
	return list, err
}

func (p *Product) checkComponents() error {
	seen := map[ProductID]bool{}
	for _, c := range p.Components {
		switch {
		case c.Product == "" || c.Product == p.ID:
			return Invalid("components", "Name the other products that are in the pack.", "product %s: a component is missing its product, or is the kit itself", p.ID)
		case seen[c.Product]:
			return Invalid("components", "Add the pieces up in one line.", "product %s: component %s is listed twice", p.ID, c.Product)
		case c.Pieces < 1 || c.Pieces > 1000:
			return Invalid("components", "Give the pieces in one kit, 1 to 1000.", "product %s: %d pieces of component %s", p.ID, c.Pieces, c.Product)
		}
		seen[c.Product] = true
	}
	return nil
}

// A Content is what a kit's lot or a batch holds: pieces of a lot. An empty lot
// number says that the lot is not known.
type Content struct {
	Lot
	// Pieces in one kit, or in all of the batch.
	Pieces int64 `json:"pieces"`
	// Entry is the entry that says so.
	Entry uint64 `json:"entry,omitempty"`
}

func contentKey(holder Lot, entry uint64, c Lot) []byte {
	return append(rowcode.AppendNumber(holder.key(), entry), c.key()...)
}

func withinKey(c, holder Lot, entry uint64) []byte {
	return rowcode.AppendNumber(append(c.key(), holder.key()...), entry)
}

// NoteContent writes down that an entry says what a lot holds. It is for the
// Project methods of events.
func NoteContent(w Writer, e journal.Entry, holder Lot, c Content) error {
	if err := NoteLot(w, e, c.Lot, "", ""); err != nil {
		return err
	}
	v := rowcode.NewEnc(1, 8)
	v.Int(c.Pieces)
	if err := w.Put(ixContent, contentKey(holder, e.Seq, c.Lot), v.Bytes()); err != nil {
		return err
	}
	return w.Put(ixWithin, withinKey(c.Lot, holder, e.Seq), v.Bytes())
}

// DropContent takes back what NoteContent wrote.
func DropContent(w Writer, e journal.Entry, holder, c Lot) error {
	if err := w.Delete(ixContent, contentKey(holder, e.Seq, c)); err != nil {
		return err
	}
	return w.Delete(ixWithin, withinKey(c, holder, e.Seq))
}

// ContentsOf returns what is on record of what a lot holds.
func ContentsOf(r Reader, holder Lot) (list []Content, err error) {
	err = r.Scan(ixContent, holder.key(), nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		lotFromKey(k)
		c := Content{Entry: k.Number()}
		c.Lot = lotFromKey(k)
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, row)
		c.Pieces = d.Int()
		list = append(list, c)
		return d.Err()
	})
	return list, err
}

// HoldersOf returns the kits' lots and the batches that hold a lot, each once.
func HoldersOf(r Reader, l Lot) (list []Lot, err error) {
	err = r.Scan(ixWithin, l.key(), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		lotFromKey(k)
		h := lotFromKey(k)
		k.Number()
		if n := len(list); n == 0 || list[n-1] != h {
			list = append(list, h)
		}
		return k.Err()
	})
	return list, err
}

// KitContents says which lots of its components a kit's lot holds. It may come
// with the delivery or later; several add up.
type KitContents struct {
	Product ProductID `json:"product"`
	Lot     string    `json:"lot"`
	// GTIN is the pack's that was scanned, if one was.
	GTIN     string    `json:"gtin,omitempty"`
	Contents []Content `json:"contents"`
	Findings []Finding `json:"findings,omitempty"`
}

// Kind implements Event.
func (*KitContents) Kind() string { return "kit.contents" }

func (v *KitContents) lot() Lot { return Lot{v.Product, v.Lot} }

// Project implements Event.
func (v *KitContents) Project(w Writer, e journal.Entry) error {
	if err := NoteLot(w, e, v.lot(), "", ""); err != nil {
		return err
	}
	for _, c := range v.Contents {
		if err := NoteContent(w, e, v.lot(), c); err != nil {
			return err
		}
	}
	return nil
}

// Void implements Voider.
func (v *KitContents) Void(w Writer, e, _ journal.Entry) error {
	for _, c := range v.Contents {
		if err := DropContent(w, e, v.lot(), c.Lot); err != nil {
			return err
		}
	}
	return nil
}

// SetKitContents records what a kit's lot holds. A content's product may be
// left out where lines[i].GTIN names it; pieces that are left out are those of
// the kit's product.
func (b *Book) SetKitContents(ctx context.Context, call Call, kit Stock, lines ...Stock) (Receipt, error) {
	type command struct {
		Kit   Stock
		Lines []Stock
	}
	return b.Record(ctx, call, command{kit, lines}, func(r Reader) ([]Event, error) {
		s := kit
		if s.Quantity == 0 {
			s.Quantity = 1
		}
		if err := b.resolve(r, &s); err != nil {
			return nil, err
		}
		if s.Lot == "" {
			return nil, Invalid("lot", "Give the lot number of the kit as printed.", "there is no lot number")
		}
		p, err := b.Product(r, s.Product)
		if err != nil {
			return nil, err
		}
		if p == nil || !p.Kit() {
			return nil, Conflict("no_kit", "Record the product with its components first.", "%s is not in the catalogue as a kit", s.Product)
		}
		if len(lines) == 0 {
			return nil, Invalid("contents", "List the components with their lots; leave a lot out that is not known.", "there are no contents")
		}
		ev := &KitContents{Product: s.Product, Lot: s.Lot, GTIN: s.GTIN}
		err = EachLine(len(lines), func(i int) error { return b.kitContent(r, p, ev, lines[i]) })
		if err != nil {
			return nil, err
		}
		return []Event{ev}, b.kitFindings(r, p, ev)
	})
}

// kitContent adds a line of a kit's contents.
func (b *Book) kitContent(r Reader, kit *Product, ev *KitContents, s Stock) error {
	s.Lot = strings.TrimSpace(s.Lot)
	given := s.Quantity
	if given == 0 {
		s.Quantity = 1
	}
	if err := b.resolve(r, &s); err != nil {
		return err
	}
	comp, ok := kit.component(s.Product)
	if !ok {
		return Conflict("no_component", "Compare the product with the kit's components, or correct the kit in the catalogue.", "%s is no component of %s", s.Product, kit.ID)
	}
	if given == 0 {
		s.Quantity = comp.Pieces
	}
	if slices.ContainsFunc(ev.Contents, func(c Content) bool { return c.Lot == s.lot() }) {
		return Invalid("contents", "Add the pieces up in one line.", "lot %q of %s is listed twice", s.Lot, s.Product)
	}
	ev.Contents = append(ev.Contents, Content{Lot: s.lot(), Pieces: s.Quantity})
	return nil
}

// kitFindings says what there is to notice about the lots that a kit holds.
func (b *Book) kitFindings(r Reader, kit *Product, ev *KitContents) error {
	find := func(code, format string, args ...any) {
		var s Stock
		s.find(code, Caution, format, args...)
		ev.Findings = append(ev.Findings, s.Findings...)
	}
	for _, c := range ev.Contents {
		if c.Number == "" {
			find(FindingNoLot, "The lot of %s in it is not known. In an answer about any lot of %s, none of these kits can be excluded.", c.Product, c.Product)
			continue
		}
		hold, err := HoldOn(r, c.Lot)
		if err != nil {
			return err
		}
		if hold != nil {
			find(FindingHeld, "Lot %s of %s in it is on hold: %s. Put the kits on hold too.", c.Number, c.Product, hold.Reason)
		}
	}
	before, err := ContentsOf(r, ev.lot())
	if err != nil {
		return err
	}
	for _, c := range before {
		for _, n := range ev.Contents {
			if c.Product == n.Product && c.Number != n.Number {
				find(FindingOtherContent, "Entry %d says lot %q of %s. Now both stand; strike out the one that is wrong.", c.Entry, c.Number, c.Product)
			}
		}
	}
	return nil
}
