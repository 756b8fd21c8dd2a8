package boltstore_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/inventory/journal"
)

// The negative controls: what a disk does that says "flushed" and has not. No
// store can keep its promise on one; these show that the checks would notice,
// and so that they can fail.

// liesAt is how many appends the lying disk wrote, of how many acknowledged.
const liesAt, liesTo = 20, 30

// lie appends and returns the file as it was after liesAt appends, as it was in
// the end, and the head that was acknowledged last.
func lie(t *testing.T) (early, late []byte, head journal.Head) {
	t.Helper()
	dir := t.TempDir()
	s := openStore(t, dir, true)
	defer closeStore(t, s)
	read := func() []byte {
		b, err := os.ReadFile(filepath.Join(dir, boltstore.FileName))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	for i := range liesTo {
		if i == liesAt {
			early = read()
		}
		if _, err := s.Append(t.Context(), request(fmt.Sprint(i))); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.View(t.Context(), func(r inventory.Reader) error { head = r.Head(); return nil }); err != nil {
		t.Fatal(err)
	}
	return early, read(), head
}

// durableOf counts the keys 0, 1, … up to n whose rows a store has.
func durableOf(t *testing.T, dir string, n int) (durable int) {
	t.Helper()
	s := openStore(t, dir, false)
	defer closeStore(t, s)
	if err := s.View(t.Context(), func(r inventory.Reader) error {
		for durable < n {
			v, err := r.Get("all", fmt.Append(nil, durable))
			if v == nil || err != nil {
				return err
			}
			durable++
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return durable
}

// TestLyingDisk: of a disk that dropped the last writes, all of them, "what was
// acknowledged is durable" must be found false, and so must the head that was
// noted; the file by itself is sound. Of an honest disk both hold.
func TestLyingDisk(t *testing.T) {
	early, late, head := lie(t)
	for _, c := range []struct {
		name    string
		file    []byte
		durable int
	}{{"honest", late, liesTo}, {"lying", early, liesAt}} {
		dir := put(t, c.file)
		if n := durableOf(t, dir, liesTo); n != c.durable {
			t.Errorf("%s: %d of %d acknowledged are durable, want %d", c.name, n, liesTo, c.durable)
		}
		for _, notes := range [][]journal.Checkpoint{nil, {head}} {
			r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{Project: inventorytest.Project, Checkpoints: notes})
			if err != nil {
				t.Fatal(err)
			}
			if wrong := c.durable < liesTo && notes != nil; (r.Err() != nil) != wrong {
				t.Errorf("%s, %d heads noted: %v", c.name, len(notes), r.Err())
			}
		}
	}
}

// TestLyingDiskReorders: of a disk that wrote the headers of the last commits
// and not their pages, the check must find damage.
func TestLyingDiskReorders(t *testing.T) {
	early, late, _ := lie(t)
	const headers = 2 * 4096
	if bytes.Equal(early[:headers], late[:headers]) {
		t.Fatal("the headers have not changed")
	}
	mixed := bytes.Clone(early)
	copy(mixed, late[:headers])
	r, err := boltstore.Verify(t.Context(), put(t, mixed), boltstore.VerifyOptions{Project: inventorytest.Project})
	if err != nil || r.Err() == nil {
		t.Errorf("no damage was found: %+v (%v)", r, err)
	}
}
