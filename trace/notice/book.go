package notice

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"lotbook/inventory"
	"lotbook/trace"
)

// A Book writes and reads a unit's field notices. Its methods are safe for use
// by many goroutines.
type Book struct {
	*trace.Book
}

// NewBook returns a Book over a trace.Book whose registry knows the kinds of
// Events.
func NewBook(b *trace.Book) *Book { return &Book{b} }

// A Writing asks to record a version of a notice. Without an id it is the first
// version of a new one.
type Writing struct {
	Notice ID `json:"notice,omitempty"`
	Version
	// Another records a new notice although there is one with the same
	// reference of the same issuer.
	Another bool `json:"another,omitempty"`
}

// Write records a version. The receipt's one entry is a VersionWritten that
// tells the notice's id. Nothing is held until the scope is confirmed.
func (b *Book) Write(ctx context.Context, call inventory.Call, wr Writing) (inventory.Receipt, error) {
	return b.Record(ctx, call, wr, func(r inventory.Reader) ([]inventory.Event, error) {
		v := VersionWritten{wr.Notice, wr.Version}
		v.Lines = slices.Clone(v.Lines)
		if err := v.check(); err != nil {
			return nil, err
		}
		if v.Notice != "" {
			if _, err := ByID(r, v.Notice); err != nil {
				return nil, err
			}
		} else {
			if err := b.notWritten(r, &wr); err != nil {
				return nil, err
			}
			v.Notice = ID(fmt.Sprintf("N%06d", r.Head().Seq+1))
		}
		return []inventory.Event{&v}, inventory.EachLine(len(v.Lines), func(i int) (err error) {
			v.Lines[i].Product, err = b.resolve(r, v.Lines[i].Product)
			return err
		})
	})
}

// notWritten refuses a notice that is on record already.
func (b *Book) notWritten(r inventory.Reader, wr *Writing) error {
	if wr.Another {
		return nil
	}
	return Each(r, func(s *State) error {
		for _, v := range s.Versions {
			if strings.EqualFold(v.Reference, wr.Reference) && strings.EqualFold(v.Issuer, wr.Issuer) {
				return inventory.Conflict("notice_written", "Write this down as a further version of it, or say that it is another one.", "notice %s of %s is on record as %s", v.Reference, v.Issuer, s.ID)
			}
		}
		return nil
	})
}

// resolve returns the id of a product given as that, as a GTIN, or as another
// agency's code; of one that is not in the catalogue the provisional id.
func (b *Book) resolve(r inventory.Reader, id inventory.ProductID) (inventory.ProductID, error) {
	if id == "" {
		return "", nil
	}
	return b.Identify(r, string(id))
}

// Decide records what a person says of a lot that is in doubt. If the scope was
// confirmed, what is held changes with it.
func (b *Book) Decide(ctx context.Context, call inventory.Call, d LotDecided) (inventory.Receipt, error) {
	return b.Record(ctx, call, d, func(r inventory.Reader) ([]inventory.Event, error) {
		s, err := ByID(r, d.Notice)
		if err != nil {
			return nil, err
		}
		if d.Reason == "" {
			return nil, inventory.Invalid("reason", "Say what it rests on: the pack, the delivery note, whoever was asked.", "there is no reason")
		}
		if err := inventory.CheckLotNumber(d.Lot); err != nil {
			return nil, err
		}
		v := d
		if v.Product, err = b.resolve(r, d.Product); err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(s.Scope(0), func(o inventory.ScopedOn) bool { return o.Product == v.Product }) {
			return nil, inventory.Invalid("product", "Choose a product of the notice.", "notice %s names no product %s", s.ID, d.Product)
		}
		evs := []inventory.Event{&v}
		if s.Confirmed == nil {
			return evs, nil
		}
		s.Decided = append(s.Decided, Decision{Product: v.Product, Lot: v.Lot, Meant: v.Meant})
		held, err := s.hold(r, s.Confirmed.Version)
		if err != nil {
			return nil, err
		}
		// What was released as a whole stays so.
		now, err := inventory.ScopeHolds(r, held.Hold)
		if err != nil {
			return nil, err
		}
		held.Products = slices.DeleteFunc(held.Products, func(o inventory.ScopedOn) bool {
			return !slices.ContainsFunc(now, func(h inventory.ScopedOn) bool { return h.Product == o.Product })
		})
		if len(held.Products) == 0 {
			return evs, nil
		}
		return append(evs, held), nil
	})
}

// A Confirming says that the scope of a notice is right, up to a version: 0
// stands for the last one.
type Confirming struct {
	Notice  ID  `json:"notice"`
	Version int `json:"version,omitempty"`
}

// Confirm confirms the scope and holds what it means: what is here and what
// comes. What is in doubt is held too, until somebody decides. The receipt's
// entries are a ScopeConfirmed and an inventory.ScopeHeld.
func (b *Book) Confirm(ctx context.Context, call inventory.Call, c Confirming) (inventory.Receipt, error) {
	return b.Record(ctx, call, c, func(r inventory.Reader) ([]inventory.Event, error) {
		s, err := ByID(r, c.Notice)
		if err != nil {
			return nil, err
		}
		v := c.Version
		if v == 0 {
			v = len(s.Versions)
		}
		if v < 1 || v > len(s.Versions) {
			return nil, inventory.Invalid("version", "Choose one of the versions on record.", "notice %s has %d versions", s.ID, len(s.Versions))
		}
		if s.Confirmed != nil && v < s.Confirmed.Version {
			return nil, inventory.Conflict("confirmed_later", "If the issuer narrowed the notice, write that down as a version that stands alone.", "version %d of notice %s is confirmed already", s.Confirmed.Version, s.ID)
		}
		held, err := s.hold(r, v)
		return []inventory.Event{&ScopeConfirmed{s.ID, v}, held}, err
	})
}

// hold is the hold for the scope up to a version. Lots that were released stay
// so.
func (s *State) hold(r inventory.Reader, version int) (*inventory.ScopeHeld, error) {
	v := s.Versions[version-1]
	h := &inventory.ScopeHeld{
		Hold: string(s.ID), Notice: v.Reference, Products: s.Scope(version),
		Reason: fmt.Sprintf("field notice %s of %s", v.Reference, v.Issuer),
	}
	now, err := inventory.ScopeHolds(r, h.Hold)
	if err != nil {
		return nil, err
	}
	for i := range h.Products {
		for _, o := range now {
			if o.Product == h.Products[i].Product {
				h.Products[i].Released = o.Released
			}
		}
	}
	return h, nil
}

// A Releasing ends a notice's hold: on some lots of a product, on a product, or
// on all that it names.
type Releasing struct {
	Notice  ID                  `json:"notice"`
	Product inventory.ProductID `json:"product,omitempty"`
	Lots    []string            `json:"lots,omitempty"`
	Reason  string              `json:"reason"`
}

// ReleaseHold ends a notice's hold and keeps why. The receipt's entries are a
// HoldReleased and an inventory.ScopeReleased.
func (b *Book) ReleaseHold(ctx context.Context, call inventory.Call, rel Releasing) (inventory.Receipt, error) {
	return b.Record(ctx, call, rel, func(r inventory.Reader) ([]inventory.Event, error) {
		s, err := ByID(r, rel.Notice)
		if err != nil {
			return nil, err
		}
		v := rel
		if v.Product, err = b.resolve(r, rel.Product); err != nil {
			return nil, err
		}
		held, err := inventory.ScopeHolds(r, string(s.ID))
		if err != nil {
			return nil, err
		}
		switch {
		case v.Reason == "":
			return nil, inventory.Invalid("reason", "Say why it may be used again, and by whose word.", "there is no reason")
		case len(v.Lots) > 0 && v.Product == "":
			return nil, inventory.Invalid("product", "Name the product of the lots.", "there are lots and no product")
		case len(held) == 0:
			return nil, inventory.Conflict("not_held", "Confirm the scope to hold what it means.", "notice %s holds nothing", s.ID)
		case v.Product != "" && !slices.ContainsFunc(held, func(o inventory.ScopedOn) bool { return o.Product == v.Product }):
			return nil, inventory.Conflict("not_held", "Ask about the notice to see what it holds.", "notice %s holds nothing of product %s", s.ID, rel.Product)
		}
		for _, n := range v.Lots {
			if err := inventory.CheckLotNumber(n); err != nil {
				return nil, err
			}
		}
		return []inventory.Event{
			&HoldReleased{s.ID, v.Product, v.Lots, v.Reason},
			&inventory.ScopeReleased{Hold: string(s.ID), Notice: s.Latest().Reference, Product: v.Product, Lots: v.Lots, Reason: v.Reason},
		}, nil
	})
}
