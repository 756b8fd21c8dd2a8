package boltstore_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

var update = flag.Bool("update", false, "write the fixture of this format version, if there is none")

// Invented GTINs with right check digits, in the range that GS1 keeps for
// documentation (0950…).
const (
	gtinDialyzer = "09506000100012"
	gtinStrips   = "09506000100098"
)

// by makes a Call with a key.
func by(actor, key string) inventory.Call { return inventory.Call{Actor: actor, Key: key} }

// fillFixture writes a small unit's first days: every kind of entry of this
// package's events, a request of many parts that reaches a checkpoint, and a
// secret. What it does is frozen with the fixtures that it made.
func fillFixture(ctx context.Context, s *boltstore.Store, clock *inventorytest.Clock) error {
	book := inventory.NewBook(s, inventory.NewRegistry(inventory.Events()), clock.Now)
	stock := func(lot string, n int64) inventory.Stock {
		return inventory.Stock{Product: "DLZ", Lot: lot, Quantity: n}
	}
	var errs []error
	step := func(_ inventory.Receipt, err error) { errs = append(errs, err) }
	unit := inventory.DefaultUnit()
	unit.Name = "Fixture unit"
	step(book.SetUnit(ctx, by("admin", "unit"), unit))
	step(book.SetProducts(
		ctx, by("admin", "products"),
		inventory.Product{
			ID: "DLZ", Name: "Dialyzer 1.8", Category: inventory.Dialyzer,
			Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinDialyzer, Holds: 1}},
		},
		inventory.Product{
			ID: "STR", Name: "Test strips", Category: inventory.TestStrip,
			Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinStrips, Holds: 1}},
		}))
	step(book.SetLocation(ctx, by("admin", "room"), inventory.Location{ID: "room", Name: "Supply room", Type: inventory.SupplyRoom}))
	step(book.SetLocation(ctx, by("admin", "cart"), inventory.Location{ID: "cart", Name: "Cart", Type: inventory.Cart}))
	step(book.Receive(
		ctx, by("stock", "receive"),
		inventory.Received{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1", Expires: "2029-06-30", Made: "2026-06-30", Packs: 100}, To: "room", Supplier: "Invented supplier", Order: "PO-1"},
		inventory.Received{Stock: stock("D2", 40), To: "room"},
		inventory.Received{Stock: inventory.Stock{Product: "STR", Lot: "S1", Quantity: 50}, To: "cart"}))
	step(book.Borrow(ctx, by("stock", ""), inventory.Borrowed{Stock: stock("D1", 10), To: "room", Other: "Unit east"}))
	step(book.Move(ctx, by("stock", "move"), inventory.Moved{Stock: stock("D1", 30), From: "room", To: "cart"}))
	step(book.Waste(ctx, by("nurse", "waste"), inventory.Wasted{Stock: stock("D1", 2), From: "cart", Cause: "dropped"}))
	step(book.Consume(ctx, by("nurse", "strips"), inventory.Consumed{Stock: inventory.Stock{Product: "STR", Lot: "S1", Quantity: 3}, From: "cart", Purpose: "residual check"}))
	step(book.Depart(ctx, by("stock", "depart"), inventory.Departed{Stock: stock("D2", 5), From: "room", How: inventory.HowReturned, Cause: "ordered too many", Other: "Invented supplier"}))
	wrong, err := book.Waste(ctx, by("nurse", "wrong"), inventory.Wasted{Stock: stock("D1", 20), From: "cart", Cause: "a slip of the finger"})
	if err != nil {
		return err
	}
	step(book.Correct(ctx, by("nurse", "correct"), wrong.Entries[0].Seq, "2 were meant, and they are on record"))
	step(book.Count(ctx, by("stock", "count"), inventory.Counted{Location: "cart", Complete: true, Cause: "used and not scanned", Lines: []inventory.CountLine{{Product: "DLZ", Lot: "D1", Counted: 25}}}))
	step(book.Hold(ctx, by("quality", "hold"), inventory.Held{Product: "DLZ", Lots: []string{"D1", "D2"}, Reason: "a notice", Notice: "N-1"}))
	step(book.Release(ctx, by("quality", "release"), inventory.Released{Product: "DLZ", Lots: []string{"D2"}, Reason: "not affected"}))
	names := make([]inventory.Event, boltstore.CheckpointEvery)
	for i := range names {
		names[i] = &inventory.LocationSet{Location: inventory.Location{ID: "cart", Name: "Cart by the window", Type: inventory.Cart}}
	}
	step(book.Record(ctx, by("admin", "names"), "names", func(inventory.Reader) ([]inventory.Event, error) { return names, nil }))
	errs = append(errs, s.Vault().Put(ctx, "user/admin", []byte("not a real secret")), s.Vault().Put(ctx, "user/left", nil),
		s.Vault().Delete(ctx, "user/left"))
	return errors.Join(errs...)
}

// makeFixture makes a fixture in a folder, as small as it gets.
func makeFixture(t *testing.T, dir string) {
	t.Helper()
	clock := inventorytest.NewClock(inventorytest.Start())
	s, err := boltstore.Open(dir, boltstore.Options{Clock: clock.Now, Unit: "F1XT0RE0", NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(fillFixture(t.Context(), s, clock), s.Close()); err != nil {
		t.Fatal(err)
	}
	if _, err := boltstore.Compact(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
}

// rowsOf returns all rows of a store's file, a line each.
func rowsOf(t *testing.T, dir string) (rows []string) {
	t.Helper()
	db, err := bolt.Open(filepath.Join(dir, boltstore.FileName), 0o600, &bolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.View(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
			return b.ForEach(func(k, v []byte) error {
				rows = append(rows, fmt.Sprintf("%s %x %x", name, k, v))
				return nil
			})
		})
	}); err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestMakeFixture shows that the fixture has the same rows each time that it is
// made (where bbolt puts a bucket's pages depends on the order of a map, so the
// files' bytes differ), and with -update writes it if there is none. One of a
// version that was released is never made anew: files like it lie in people's
// folders, and it shows that they can be read. Before that, a changed form of
// rows or bodies wants a new one: remove it, make it, and put its head into
// fixtureHead.
func TestMakeFixture(t *testing.T) {
	dir, other := t.TempDir(), t.TempDir()
	makeFixture(t, dir)
	makeFixture(t, other)
	rows := rowsOf(t, dir)
	if len(rows) < fixtureEntries || !slices.Equal(rows, rowsOf(t, other)) {
		t.Errorf("two fixtures differ, or have fewer than their %d entries", fixtureEntries)
	}
	path := fixturePath(boltstore.FormatVersion)
	_, err := os.Stat(path)
	if !*update {
		if err != nil {
			t.Errorf("there is no fixture of the version that this program writes: %v", err)
		}
		return
	}
	if !errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("%s is there already (%v)", path, err)
	}
	b, err := os.ReadFile(filepath.Join(dir, boltstore.FileName))
	if err != nil {
		t.Fatal(err)
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, packed.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %d bytes, %d packed", path, len(b), packed.Len())
}
