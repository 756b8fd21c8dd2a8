package inventory_test

import (
	"errors"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

// emptyBook is over a store that is verified when the test ends.
func emptyBook(t *testing.T) *inventory.Book {
	t.Helper()
	dir := t.TempDir()
	now := func() time.Time { return time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC) }
	store, err := boltstore.Open(dir, boltstore.Options{Clock: now, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	reg := inventory.NewRegistry(inventory.Events())
	inventorytest.VerifyBolt(t, dir, reg.Project)
	t.Cleanup(func() {
		if err := store.Close(); err != nil {
			t.Error(err)
		}
	})
	return inventory.NewBook(store, reg, now)
}

func TestOrderingSettings(t *testing.T) {
	b := emptyBook(t)
	by := inventory.Call{Actor: "stock"}
	set := func(c inventory.OrderingChange) error {
		_, err := b.SetOrdering(t.Context(), by, c)
		return err
	}
	read := func() (o inventory.Ordering, ps map[inventory.ProductID]inventory.ProductOrdering) {
		err := b.View(t.Context(), func(r inventory.Reader) (err error) {
			o, ps, err = inventory.OrderingOf(r)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return o, ps
	}
	if o, ps := read(); o.ServiceLevel != 980 || o.LeadTime != nil || len(ps) != 0 {
		t.Errorf("before anybody set it: %+v, %v", o, ps)
	}
	saline := inventory.Product{ID: "SAL", Name: "Saline", Category: inventory.Saline, Packs: []inventory.Pack{{Level: inventory.LevelEach, Holds: 1}, {Level: inventory.LevelCase, Holds: 10}}}
	if _, err := b.SetProducts(t.Context(), by, saline); err != nil {
		t.Fatal(err)
	}
	good := inventory.DefaultOrdering()
	good.ServiceLevel = 950
	good.Suppliers = []inventory.SupplierLeadTime{{Supplier: "Invented Supplier", LeadTime: inventory.LeadTime{Hours: 168, SDHours: 24}}}
	pack := inventory.ProductOrdering{Product: "SAL", Pack: inventory.LevelCase, MostPieces: 120, LeadTime: &inventory.LeadTime{Hours: 72}}
	if err := set(inventory.OrderingChange{Unit: &good, Products: []inventory.ProductOrdering{pack}}); err != nil {
		t.Fatal(err)
	}
	// A product set again, as a list taken in again does, changes nothing of it.
	if _, err := b.SetProducts(t.Context(), by, saline); err != nil {
		t.Fatal(err)
	}
	o, ps := read()
	if o.ServiceLevel != 950 || len(o.Suppliers) != 1 || o.Suppliers[0].SDHours != 24 {
		t.Errorf("the unit's: %+v", o)
	}
	if p := ps["SAL"]; p.Pack != inventory.LevelCase || p.MostPieces != 120 || p.LeadTime == nil || p.LeadTime.Hours != 72 {
		t.Errorf("the product's: %+v", p)
	}
	for name, change := range map[string]func(o *inventory.Ordering, p *inventory.ProductOrdering){
		"certainty": func(o *inventory.Ordering, _ *inventory.ProductOrdering) { o.ServiceLevel = 1000 },
		"no review": func(o *inventory.Ordering, _ *inventory.ProductOrdering) { o.ReviewDays = 0 },
		"a supplier twice": func(o *inventory.Ordering, _ *inventory.ProductOrdering) {
			o.Suppliers = append(o.Suppliers, o.Suppliers[0])
		},
		"a lead time below 0": func(o *inventory.Ordering, _ *inventory.ProductOrdering) { o.LeadTime = &inventory.LeadTime{Hours: -1} },
		"a pack it has not":   func(_ *inventory.Ordering, p *inventory.ProductOrdering) { p.Pack = inventory.LevelInner },
		"storage below 0":     func(_ *inventory.Ordering, p *inventory.ProductOrdering) { p.MostPieces = -1 },
		"an unknown product":  func(_ *inventory.Ordering, p *inventory.ProductOrdering) { p.Product = "NONE" },
		"a product's lead < 0": func(_ *inventory.Ordering, p *inventory.ProductOrdering) {
			p.LeadTime = &inventory.LeadTime{SDHours: -1}
		},
	} {
		o, p := good, pack
		change(&o, &p)
		var r *inventory.Refusal
		if err := set(inventory.OrderingChange{Unit: &o, Products: []inventory.ProductOrdering{p}}); !errors.As(err, &r) || r.Hint == "" {
			t.Errorf("%s is not refused with what to do: %v", name, err)
		}
	}
	if err := set(inventory.OrderingChange{}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("nothing to set: %v", err)
	}
}
