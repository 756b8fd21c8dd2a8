package demo_test

import (
	"context"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
	"lotbook/trace/demo"
)

var ctx = context.Background()

// until is a Wednesday noon.
var until = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// A made unit is a unit that Make has made.
type made struct {
	*trace.Book
	truth *demo.Truth
	store *boltstore.Store
	dir   string
	// mayLackLots is set for a unit so small that it may keep nothing of a
	// category.
	mayLackLots bool
}

// makeUnit makes a unit. When the test ends its store is verified: every row
// must follow from the journal.
func makeUnit(tb testing.TB, o demo.Options) *made {
	tb.Helper()
	m := &made{dir: tb.TempDir()}
	clock := demo.NewClock(o)
	var err error
	m.store, err = boltstore.Open(m.dir, boltstore.Options{Clock: clock.Now, Unit: demo.UnitID(o.Seed), NoSync: true, Bulk: 500})
	if err != nil {
		tb.Fatal(err)
	}
	reg := inventory.NewRegistry(inventory.Events(), trace.Events())
	inventorytest.VerifyBolt(tb, m.dir, reg.Project)
	tb.Cleanup(func() {
		if err := m.store.Close(); err != nil {
			tb.Error(err)
		}
	})
	m.Book = trace.NewBook(inventory.NewBook(m.store, reg, clock.Now))
	if m.truth, err = demo.Make(ctx, m.Book, clock, o); err != nil {
		tb.Fatal(err)
	}
	return m
}

// small is a unit that is quick to make: 21 days, 6 stations, two carts.
func small(seed uint64, miss float64) demo.Options {
	o := demo.Defaults(until)
	o.Seed, o.Days, o.Stations, o.Miss = seed, 21, 6, miss
	return o
}
