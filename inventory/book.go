package inventory

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A Book writes and reads a unit's stock. Its methods are safe for use by many
// goroutines.
type Book struct {
	store Store
	reg   *Registry
	now   func() time.Time

	products sync.Map // ProductID -> *versioned[Product]
	unit     sync.Map // "unit" -> *versioned[Unit]
}

// versioned is a decoded document and the entry that set it. A snapshot that
// holds another version has another seq, so a stale one is never used.
type versioned[T any] struct {
	seq uint64
	doc *T
}

// NewBook returns a Book over a store. The registry must know the kinds of
// Events; now is the clock.
func NewBook(store Store, reg *Registry, now func() time.Time) *Book {
	return &Book{store: store, reg: reg, now: now}
}

// Events returns the kinds of entries of this package, for a Registry.
func Events() []func() Event {
	return []func() Event{
		func() Event { return new(UnitSet) },
		func() Event { return new(ProductSet) },
		func() Event { return new(LocationSet) },
		func() Event { return new(OrderSet) },
		func() Event { return new(OrderCancelled) },
		func() Event { return new(Received) },
		func() Event { return new(Refused) },
		func() Event { return new(Lacking) },
		func() Event { return new(Imported) },
		func() Event { return new(Borrowed) },
		func() Event { return new(Moved) },
		func() Event { return new(Consumed) },
		func() Event { return new(Wasted) },
		func() Event { return new(Departed) },
		func() Event { return new(Counted) },
		func() Event { return new(CountingSet) },
		func() Event { return new(SheetOpened) },
		func() Event { return new(SheetLines) },
		func() Event { return new(SheetCompared) },
		func() Event { return new(SheetGivenUp) },
		func() Event { return new(Held) },
		func() Event { return new(Released) },
		func() Event { return new(ScopeHeld) },
		func() Event { return new(ScopeReleased) },
		func() Event { return new(KitContents) },
		func() Event { return new(Corrected) },
		func() Event { return new(ScannerProfiled) },
		func() Event { return new(OrderingSet) },
		func() Event { return new(ProductOrderingSet) },
	}
}

// Store returns the store that the book was made with.
func (b *Book) Store() Store { return b.store }

// Registry returns the registry that the book was made with.
func (b *Book) Registry() *Registry { return b.reg }

// Now returns the clock's time.
func (b *Book) Now() time.Time { return b.now().UTC() }

// A Call is who asks for something to be written, and under which key.
type Call struct {
	// Actor is the id of the user.
	Actor string
	// Key is the client's key: the same key with the same command answers
	// with what was written the first time. Empty: no such protection.
	Key string
	// Happened is when it happened; zero means now.
	Happened time.Time
	// Also is recorded with the rest; it is no part of the command.
	Also []Event
	// CheckOnly says whether it could be recorded, and records nothing.
	CheckOnly bool
}

// future is how far ahead of the clock something may say that it happened:
// the clocks of a tablet and a server differ.
const future = 5 * time.Minute

// checkTime says whether something can have happened at a time.
func (b *Book) checkTime(at time.Time) error {
	if at.After(b.now().Add(future)) {
		return Invalid("at", "Give the time when it happened, with its time zone.", "%s lies in the future", at.Format(time.RFC3339))
	}
	return nil
}

// Record appends what decide returns, once per key. The command is whatever
// decide works from: it is summed up so that a key used for another command is
// noticed. It must have a JSON form.
func (b *Book) Record(ctx context.Context, call Call, command any, decide func(Reader) ([]Event, error)) (Receipt, error) {
	if call.Actor == "" {
		return Receipt{}, Invalid("actor", "Sign in first.", "an entry needs an author")
	}
	if !rowcode.Valid(call.Key) || len(call.Key) > 200 {
		return Receipt{}, Invalid("key", "Use at most 200 printable bytes, such as a UUID.", "this can't be a key")
	}
	if err := b.checkTime(call.Happened); err != nil {
		return Receipt{}, err
	}
	if call.CheckOnly {
		return Receipt{}, b.store.View(ctx, func(r Reader) error {
			_, err := decide(r)
			return err
		})
	}
	doc, err := json.Marshal(struct {
		Command  any
		Happened time.Time `json:",omitzero"`
	}{command, call.Happened.UTC()})
	if err != nil {
		return Receipt{}, err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%T\n", command)
	sum.Write(doc)
	return b.store.Append(ctx, Request{
		Actor:  call.Actor,
		Key:    call.Key,
		Digest: journal.Hash(sum.Sum(nil)),
		Decide: func(r Reader) ([]Draft, error) {
			evs, err := decide(r)
			if err != nil {
				return nil, err
			}
			return b.reg.Drafts(call.Happened, append(evs, call.Also...)...)
		},
	})
}

// View runs fn on a snapshot of the store.
func (b *Book) View(ctx context.Context, fn func(Reader) error) error { return b.store.View(ctx, fn) }

// Product returns a product of the catalogue, nil if there is none of that id.
// What it returns is shared: don't change it.
func (b *Book) Product(r Reader, id ProductID) (*Product, error) {
	row, err := r.Get(ixProduct, rowcode.AppendText(nil, string(id)))
	if err != nil || row == nil {
		return nil, err
	}
	seq := rowcode.NewDec(1, row).Uint()
	if v, ok := b.products.Load(id); ok {
		if c := v.(*versioned[Product]); c.seq == seq {
			return c.doc, nil
		}
	}
	p, _, err := decodeProduct(row)
	if err != nil {
		return nil, err
	}
	b.products.Store(id, &versioned[Product]{seq, p})
	return p, nil
}

// ProductByGTIN returns the product that has a pack of a GTIN, and the pack;
// nil if none has.
func (b *Book) ProductByGTIN(r Reader, gtin string) (*Product, Pack, error) {
	row, err := r.Get(ixGTIN, rowcode.AppendText(nil, gtin))
	if err != nil || row == nil {
		return nil, Pack{}, err
	}
	d := rowcode.NewDec(1, row)
	id, i := ProductID(d.Text()), int(d.Uint())
	if err := d.Err(); err != nil {
		return nil, Pack{}, err
	}
	p, err := b.Product(r, id)
	if err != nil || p == nil || i >= len(p.Packs) {
		return nil, Pack{}, err
	}
	return p, p.Packs[i], nil
}

// Products returns the catalogue by id.
func (b *Book) Products(r Reader) ([]*Product, error) {
	var ps []*Product
	err := r.Scan(ixProduct, nil, nil, func(_, row []byte) error {
		p, _, err := decodeProduct(row)
		ps = append(ps, p)
		return err
	})
	return ps, err
}

// Unit returns the unit's settings, DefaultUnit if there are none yet. What it
// returns is shared: don't change it.
func (b *Book) Unit(r Reader) (*Unit, error) {
	seq, doc, err := unitRow(r)
	if err != nil {
		return nil, err
	}
	if v, ok := b.unit.Load("unit"); ok && doc != nil {
		if c := v.(*versioned[Unit]); c.seq == seq {
			return c.doc, nil
		}
	}
	u, err := decodeUnit(doc)
	if err == nil && doc != nil {
		b.unit.Store("unit", &versioned[Unit]{seq, u})
	}
	return u, err
}
