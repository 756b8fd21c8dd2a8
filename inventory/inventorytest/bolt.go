package inventorytest

import (
	"compress/gzip"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
)

// OpenBolt opens a store in a temporary folder. When the test ends it is
// closed and verified: the chain, and all rows against those that project
// derives from the entries. Flushes are left out.
func OpenBolt(t testing.TB, clock func() time.Time, project func(inventory.Writer, journal.Entry) error) *boltstore.Store {
	t.Helper()
	dir := t.TempDir()
	s, err := boltstore.Open(dir, boltstore.Options{Clock: clock, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	VerifyBolt(t, dir, project)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// VerifyBolt has the store in a folder verified when the test ends. Call it
// before any t.Cleanup that closes the store: the last one registered runs
// first.
func VerifyBolt(t testing.TB, dir string, project func(inventory.Writer, journal.Entry) error) {
	t.Helper()
	t.Cleanup(func() {
		t.Helper()
		if err := CheckBolt(dir, project); err != nil {
			t.Errorf("the store as the test left it: %v", err)
		}
	})
}

// CheckBolt verifies the store in a folder and returns what is wrong with it.
func CheckBolt(dir string, project func(inventory.Writer, journal.Entry) error) error {
	r, err := boltstore.Verify(context.Background(), dir, boltstore.VerifyOptions{Project: project})
	if err != nil {
		return err
	}
	return r.Err()
}

// UnpackBolt puts the book of a gzipped file of boltstore into a folder of its
// own.
func UnpackBolt(t testing.TB, path string) (dir string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	dir = t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, boltstore.FileName), b, 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}
