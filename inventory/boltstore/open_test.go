package boltstore_test

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

// openStore opens the store of a folder, without flushes unless sync is set.
func openStore(t testing.TB, dir string, sync bool) *boltstore.Store {
	t.Helper()
	clock := inventorytest.NewClock(inventorytest.Start())
	s, err := boltstore.Open(dir, boltstore.Options{Clock: clock.Now, NoSync: !sync})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func closeStore(t testing.TB, s *boltstore.Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// request asks for an entry with two rows, under a key.
func request(key string) inventory.Request {
	return inventory.Request{Actor: "user-1", Key: key, Decide: inventorytest.Drafts(inventorytest.Change(
		inventorytest.Put("all", key, "1"), inventorytest.Put("last", "key", key)))}
}

// fill appends entries with the keys 0 to n-1, and a secret.
func fill(t testing.TB, s *boltstore.Store, n int) {
	t.Helper()
	for i := range n {
		if _, err := s.Append(t.Context(), request(fmt.Sprint(i))); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Vault().Put(t.Context(), "user/1", []byte("secret")); err != nil {
		t.Fatal(err)
	}
}

// newFolder returns a folder with a small store that nobody has open.
func newFolder(t testing.TB, n int) (dir string) {
	t.Helper()
	dir = t.TempDir()
	s := openStore(t, dir, false)
	fill(t, s, n)
	closeStore(t, s)
	return dir
}

// edit changes a store's file, past the package.
func edit(t *testing.T, dir string, fn func(tx *bolt.Tx) error) {
	t.Helper()
	db, err := bolt.Open(filepath.Join(dir, boltstore.FileName), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.Update(fn), db.Close()); err != nil {
		t.Fatal(err)
	}
}

func setMeta(key string, value []byte) func(*bolt.Tx) error {
	return func(tx *bolt.Tx) error { return tx.Bucket([]byte(boltstore.MetaBucket)).Put([]byte(key), value) }
}

// TestRefused: what is not a store that this program can read is refused by
// everything that opens one, with its own error, and not changed.
func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(t *testing.T, dir string)
		want  error
	}{
		{"of a newer version", func(t *testing.T, dir string) { edit(t, dir, setMeta("version", []byte{0, 0, 0, 2})) }, inventory.ErrNewerFormat},
		{"of version 0", func(t *testing.T, dir string) { edit(t, dir, setMeta("version", make([]byte, 4))) }, boltstore.ErrDamaged},
		{"version cut off", func(t *testing.T, dir string) { edit(t, dir, setMeta("version", []byte{1})) }, boltstore.ErrDamaged},
		{"of another unit than it says", func(t *testing.T, dir string) { edit(t, dir, setMeta("unit", []byte("AAAAAAAA"))) }, boltstore.ErrDamaged},
		{"the form of its rows cut off", func(t *testing.T, dir string) { edit(t, dir, setMeta("rows", []byte{0, 0, 0, 1})) }, boltstore.ErrDamaged},
		{"the form of its rows changed", func(t *testing.T, dir string) { edit(t, dir, setMeta("rows", make([]byte, 8))) }, boltstore.ErrDamaged},
		{"with another magic", func(t *testing.T, dir string) { edit(t, dir, setMeta("magic", []byte("another store\n"))) }, inventory.ErrNotAStore},
		{"a bbolt file of something else", func(t *testing.T, dir string) {
			edit(t, dir, func(tx *bolt.Tx) error { return tx.DeleteBucket([]byte(boltstore.MetaBucket)) })
		}, inventory.ErrNotAStore},
		{"without a bucket", func(t *testing.T, dir string) {
			edit(t, dir, func(tx *bolt.Tx) error { return tx.DeleteBucket([]byte(boltstore.KeysBucket)) })
		}, boltstore.ErrDamaged},
		{"a text", func(t *testing.T, dir string) {
			if err := os.WriteFile(filepath.Join(dir, boltstore.FileName), bytes.Repeat([]byte("no store\n"), 4000), 0o600); err != nil {
				t.Fatal(err)
			}
		}, inventory.ErrNotAStore},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := newFolder(t, 3)
			c.spoil(t, dir)
			path := filepath.Join(dir, boltstore.FileName)
			before, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, o := range []boltstore.Options{{}, {ReadOnly: true}} {
				o.Clock = time.Now
				s, err := boltstore.Open(dir, o)
				if !errors.Is(err, c.want) {
					t.Errorf("open (reading only: %v): %v, want %v", o.ReadOnly, err, c.want)
				}
				if err == nil {
					closeStore(t, s)
				}
			}
			r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{})
			if err == nil {
				err = r.Err()
			}
			if !errors.Is(err, c.want) {
				t.Errorf("verify: %v, want %v", err, c.want)
			}
			r, err = boltstore.VerifyChild(t.Context(), child(t, "verify", dir), boltstore.ChildOptions{})
			if err == nil {
				err = r.Err()
			}
			if !errors.Is(err, c.want) {
				t.Errorf("verify in a child: %v, want %v", err, c.want)
			}
			if _, err := boltstore.Compact(t.Context(), dir); !errors.Is(err, c.want) {
				t.Errorf("compact: %v, want %v", err, c.want)
			}
			after, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(before, after) {
				t.Error("the file was changed")
			}
		})
	}
}

func TestNoStore(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "unit")
	for _, o := range []boltstore.Options{{MustExist: true}, {ReadOnly: true}} {
		o.Clock = time.Now
		if _, err := boltstore.Open(dir, o); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("open: %v, want %v", err, fs.ErrNotExist)
		}
	}
	if _, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("verify: %v, want %v", err, fs.ErrNotExist)
	}
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the folder was made: %v", err)
	}
	closeStore(t, openStore(t, dir, true))
	for name, want := range map[string]fs.FileMode{".": 0o700, boltstore.FileName: 0o600} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v (%v), want mode %v", name, info.Mode(), err, want)
		}
	}
}

// soon is how long a refusal may take: the store waits a quarter of a second
// for the other process; the rest is for a machine that does other things too.
const soon = 5 * time.Second

// wantInUse says that fn must be refused, soon, since another process has the
// store.
func wantInUse(t *testing.T, what string, fn func() error) {
	t.Helper()
	done := make(chan error, 1)
	go func() { done <- fn() }()
	select {
	case err := <-done:
		if !errors.Is(err, inventory.ErrInUse) {
			t.Errorf("%s: %v, want %v", what, err, inventory.ErrInUse)
		}
	case <-time.After(soon):
		t.Fatalf("%s: no answer in %v", what, soon)
	}
}

// TestSecondProcess: while a process has the store open, another is told so.
func TestSecondProcess(t *testing.T) {
	dir := newFolder(t, 3)
	cmd := child(t, "hold", dir)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "ready\n" {
		t.Fatalf("the child said %q (%v)", line, err)
	}
	for name, o := range map[string]boltstore.Options{"open": {Clock: time.Now}, "open for reading": {Clock: time.Now, ReadOnly: true}} {
		wantInUse(t, name, func() error {
			s, err := boltstore.Open(dir, o)
			if err == nil {
				err = s.Close()
			}
			return err
		})
	}
	wantInUse(t, "verify", func() error {
		_, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{})
		return err
	})
	wantInUse(t, "verify in a child", func() error {
		_, err := boltstore.VerifyChild(t.Context(), child(t, "verify", dir), boltstore.ChildOptions{})
		return err
	})
	wantInUse(t, "compact", func() error {
		_, err := boltstore.Compact(t.Context(), dir)
		return err
	})
	if err := errors.Join(in.Close(), cmd.Wait()); err != nil {
		t.Fatal(err)
	}
	s := openStore(t, dir, false)
	defer closeStore(t, s)
	fill(t, s, 4) // three of them replayed
	var second bytes.Buffer
	cmd = child(t, "hold", dir)
	cmd.Stderr = &second
	if err := cmd.Run(); err == nil || !bytes.Contains(second.Bytes(), []byte(inventory.ErrInUse.Error())) {
		t.Errorf("a second process ended with %v and said %q", err, second.String())
	}
}

// TestReadersTogether: several processes may read at a time.
func TestReadersTogether(t *testing.T) {
	dir := newFolder(t, 3)
	for range 2 {
		s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer closeStore(t, s)
		if _, err := s.Append(t.Context(), request("x")); err == nil {
			t.Error("a store that is open for reading took an append")
		}
	}
	r, err := boltstore.VerifyChild(t.Context(), child(t, "verify", dir), boltstore.ChildOptions{})
	if err != nil || r.Err() != nil || r.Entries != 3 {
		t.Errorf("a third process: %+v (%v)", r, err)
	}
}

// TestLeftOvers: what a crash leaves is removed at the next Open, and nothing
// else is.
func TestLeftOvers(t *testing.T) {
	dir := newFolder(t, 3)
	gone := []string{"new", "verify-1", "compact-22", "restore-3/" + boltstore.FileName}
	stay := []string{"in-use" + boltstore.TempSuffix, "notes.txt", boltstore.TempSuffix + ".txt", "restore-4" + boltstore.TempSuffix + "/other"}
	for i := range gone {
		d, rest := filepath.Split(gone[i])
		if d == "" {
			gone[i] += boltstore.TempSuffix
		} else {
			gone[i] = filepath.Clean(d) + boltstore.TempSuffix + "/" + rest
		}
	}
	for _, name := range append(gone[:len(gone):len(gone)], stay...) {
		path := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, []byte("patients' data"), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	f, err := os.OpenFile(filepath.Join(dir, stay[0]), os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if !boltstore.TryLock(f) {
		t.Fatal("the temporary file can't be locked")
	}
	closeStore(t, openStore(t, dir, false))
	for _, name := range gone {
		if _, err := os.Stat(filepath.Join(dir, name)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s is there still (%v)", name, err)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "restore-3"+boltstore.TempSuffix)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the folder of a restore is there still (%v)", err)
	}
	for _, name := range stay {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Errorf("%s is gone: %v", name, err)
		}
	}
	if err := check(dir); err != nil {
		t.Error(err)
	}
}
