package boltstore_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

func fixturePath(version int) string {
	return filepath.Join("testdata", fmt.Sprintf("version%d.db.gz", version))
}

// unpackFixture puts a copy of a fixture into a folder of its own.
func unpackFixture(t *testing.T, version int) (dir string) {
	t.Helper()
	return inventorytest.UnpackBolt(t, fixturePath(version))
}

// What the fixture of version 1 holds: fillFixture says why.
const (
	fixtureEntries = 18 + boltstore.CheckpointEvery
	fixtureHead    = "9b4a55b72cf66dab5ebc263b7b2a01eb26495b28c94dbb35d036e68bb31969fe"
)

// outsideCheck goes through a store's chain as FORMAT.md says that a program
// without this one would, with bbolt and SHA-256 and nothing else.
func outsideCheck(t *testing.T, dir string) (n uint64, head string) {
	t.Helper()
	db, err := bolt.Open(filepath.Join(dir, "lotbook.db"), 0o600, &bolt.Options{ReadOnly: true, Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	prev := make([]byte, 32)
	err = db.View(func(tx *bolt.Tx) error {
		if m := tx.Bucket([]byte("meta")).Get([]byte("magic")); string(m) != "lotbook store\n" {
			return fmt.Errorf("the magic is %q", m)
		}
		if v := tx.Bucket([]byte("meta")).Get([]byte("version")); !bytes.Equal(v, []byte{0, 0, 0, 1}) {
			return fmt.Errorf("the version is %x", v)
		}
		return tx.Bucket([]byte("entries")).ForEach(func(k, v []byte) error {
			n++
			stored, entry := v[:32], v[32:]
			sum := sha256.Sum256(entry)
			switch {
			case binary.BigEndian.Uint64(k) != n:
				return fmt.Errorf("entry %d is missing", n)
			case !bytes.Equal(sum[:], stored):
				return fmt.Errorf("entry %d was changed", n)
			case entry[0] != 1 || !bytes.Equal(entry[1:9], k):
				return fmt.Errorf("entry %d is another's", n)
			case !bytes.Equal(entry[29:61], prev):
				return fmt.Errorf("entry %d does not follow entry %d", n, n-1)
			}
			prev = bytes.Clone(stored)
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return n, hex.EncodeToString(prev)
}

func projectStock() *inventory.Registry { return inventory.NewRegistry(inventory.Events()) }

// TestFixtureChain: the chain of version 1 is what FORMAT.md says, and ends
// where it did when it was made.
func TestFixtureChain(t *testing.T) {
	n, head := outsideCheck(t, unpackFixture(t, 1))
	if n != fixtureEntries || head != fixtureHead {
		t.Errorf("%d entries and head %s, want %d and %s", n, head, fixtureEntries, fixtureHead)
	}
}

// TestFixtureVerifies: the bodies of version 1 still derive the rows that they
// derived then.
func TestFixtureVerifies(t *testing.T) {
	r, err := boltstore.Verify(t.Context(), unpackFixture(t, 1), boltstore.VerifyOptions{Project: projectStock().Project})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Problems {
		t.Error(p.Error())
	}
	if r.Unit != "F1XT0RE0" || r.Entries != fixtureEntries || r.Head.Hash.String() != fixtureHead ||
		r.Checkpoints != 1 || r.Secrets != 1 || !r.Rebuilt || r.Indexes != 19 || r.Keys != 15 {
		t.Errorf("the report: %+v", r)
	}
}

// TestFixtureReads: what was written down then is read as what it was.
func TestFixtureReads(t *testing.T) {
	dir := unpackFixture(t, 1)
	s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	reg := projectStock()
	kinds := map[string]int{}
	err = s.View(t.Context(), func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			if _, err := reg.Decode(e); err != nil {
				t.Error(err)
			}
			kinds[e.Kind]++
		}
		wantStock(t, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]int{
		"unit.set": 1, "product.set": 2, "location.set": 2 + boltstore.CheckpointEvery, "stock.received": 3,
		"stock.borrowed": 1, "stock.moved": 1, "stock.wasted": 2, "stock.used": 1, "stock.departed": 1,
		"entry.corrected": 1, "stock.counted": 1, "lot.held": 1, "lot.released": 1,
	}
	if !maps.Equal(kinds, want) {
		t.Errorf("kinds of entries %v, want %v", kinds, want)
	}
	if v, err := s.Vault().Get(t.Context(), "user/admin"); string(v) != "not a real secret" || err != nil {
		t.Errorf("the secret is %q (%v)", v, err)
	}
}

// wantStock holds the rows against sums made by hand: of lot D1 100 came and 10
// were borrowed, 30 went to the cart, 2 were dropped there, and a count found
// 25 of the 28; of D2 40 came and 5 went back; of S1 50 came, 3 were used, and
// the count found none.
func wantStock(t *testing.T, r inventory.Reader) {
	t.Helper()
	for _, c := range []struct {
		loc  inventory.LocationID
		lot  inventory.Lot
		want int64
	}{
		{"room", inventory.Lot{Product: "DLZ", Number: "D1"}, 80},
		{"cart", inventory.Lot{Product: "DLZ", Number: "D1"}, 25},
		{"room", inventory.Lot{Product: "DLZ", Number: "D2"}, 35},
		{"cart", inventory.Lot{Product: "STR", Number: "S1"}, 0},
	} {
		b, err := inventory.BalanceAt(r, c.loc, c.lot)
		if err != nil || b.Quantity != c.want {
			t.Errorf("%d of lot %s at %s (%v), want %d", b.Quantity, c.lot.Number, c.loc, err, c.want)
		}
	}
	d1 := inventory.Lot{Product: "DLZ", Number: "D1"}
	var tally inventory.Tally
	var classes []string
	if err := inventory.ScanLedger(r, d1, func(m *inventory.Movement) error {
		tally.Add(m)
		name := m.Class.String()
		if m.Struck != 0 {
			name += ", struck out"
		}
		classes = append(classes, name)
		return nil
	}); err != nil {
		t.Error(err)
	}
	if want := []string{"received", "transferred in", "moved", "wasted", "wasted, struck out", "counted"}; !slices.Equal(classes, want) {
		t.Errorf("the ledger of D1: %q, want %q", classes, want)
	}
	if tally.Mass.Unaccounted != 3 {
		t.Errorf("%d of D1 are unaccounted for, want 3", tally.Mass.Unaccounted)
	}
	facts, ok, err := inventory.LotFactsOf(r, d1)
	if !ok || err != nil || facts.Expires != "2029-06-30" || facts.Made != "2026-06-30" {
		t.Errorf("the facts of D1: %+v (%v)", facts, err)
	}
	for lot, held := range map[string]bool{"D1": true, "D2": false} {
		h, err := inventory.HoldOn(r, inventory.Lot{Product: "DLZ", Number: lot})
		if err != nil || (h != nil) != held {
			t.Errorf("the hold on %s: %v (%v)", lot, h, err)
		}
	}
	cart, err := inventory.LocationByID(r, "cart")
	if err != nil || cart.Name != "Cart by the window" {
		t.Errorf("the cart: %+v (%v)", cart, err)
	}
}

// TestFixtureGoesOn: a store of version 1 takes further entries, and knows the
// keys that were used.
func TestFixtureGoesOn(t *testing.T) {
	dir := unpackFixture(t, 1)
	reg := projectStock()
	inventorytest.VerifyBolt(t, dir, reg.Project)
	s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, MustExist: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	book := inventory.NewBook(s, reg, time.Now)
	move := inventory.Moved{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 30}, From: "room", To: "cart"}
	again, err := book.Move(t.Context(), by("stock", "move"), move)
	if err != nil || !again.Replayed || len(again.Entries) != 1 || again.Entries[0].Seq != 10 {
		t.Errorf("the same request again: %+v (%v), want the receipt of entry 10", again, err)
	}
	more, err := book.Move(t.Context(), by("stock", "another"), move)
	if err != nil || more.Replayed || more.Entries[0].Seq != fixtureEntries+1 || more.Entries[0].Prev.String() != fixtureHead {
		t.Errorf("a further request: %+v (%v)", more, err)
	}
	if err := s.View(t.Context(), func(r inventory.Reader) error {
		b, err := inventory.BalanceAt(r, "cart", inventory.Lot{Product: "DLZ", Number: "D1"})
		if b.Quantity != 55 {
			t.Errorf("%d on the cart, want 55", b.Quantity)
		}
		return err
	}); err != nil {
		t.Error(err)
	}
	if n, _ := outsideCheck(t, copyStore(t, s)); n != fixtureEntries+1 {
		t.Errorf("%d entries, want %d", n, fixtureEntries+1)
	}
}

// copyStore backs a store up into a folder of its own.
func copyStore(t *testing.T, s *boltstore.Store) (dir string) {
	t.Helper()
	dir = t.TempDir()
	f, err := os.Create(filepath.Join(dir, boltstore.FileName))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Backup(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}
