package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	bolt "go.etcd.io/bbolt"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
	"lotbook/trace/notice"
)

var packBook = flag.String("pack", "", "NAME=DIR: make testdata/rows/NAME.db.gz of the book in DIR, without its rows")

// notPlayed are the kinds of which the books in testdata/rows have no entry:
// for them nothing but the kind's name is in the form of the rows. There is none
// now; a new kind may stand here until a book has it.
var notPlayed []string

// editBook changes the file of a book that nobody has open.
func editBook(t *testing.T, dir string, fn func(*bolt.Tx) error) {
	t.Helper()
	db, err := bolt.Open(filepath.Join(dir, boltstore.FileName), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.Update(fn), db.Close()); err != nil {
		t.Fatal(err)
	}
}

// indexes returns the names of the buckets of derived rows.
func indexes(tx *bolt.Tx) (names []string, err error) {
	err = tx.ForEach(func(name []byte, _ *bolt.Bucket) error {
		if bytes.HasPrefix(name, []byte("ix/")) {
			names = append(names, string(name))
		}
		return nil
	})
	return names, err
}

// withoutRows makes a book one of before its indexes: none of them is there,
// nor the number of their form.
func withoutRows(tx *bolt.Tx) error {
	names, err := indexes(tx)
	for _, name := range names {
		err = errors.Join(err, tx.DeleteBucket([]byte(name)))
	}
	return errors.Join(err, tx.Bucket([]byte("meta")).Delete([]byte("rows")))
}

// TestPackBook makes a book of testdata/rows when it is told to, for which it
// needs a book whose journal has few entries of many kinds.
func TestPackBook(t *testing.T) {
	if *packBook == "" {
		return
	}
	name, from, _ := strings.Cut(*packBook, "=")
	b, err := os.ReadFile(filepath.Join(from, boltstore.FileName))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, boltstore.FileName)
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	editBook(t, dir, withoutRows)
	if _, err := boltstore.Compact(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
	if b, err = os.ReadFile(path); err != nil {
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
	if err := errors.Join(w.Close(), os.WriteFile(filepath.Join("testdata", "rows", name+".db.gz"), packed.Bytes(), 0o644)); err != nil {
		t.Fatal(err)
	}
}

// printRows adds all rows of the indexes to a sum, each part after its length.
func printRows(t *testing.T, w io.Writer, dir string) (rows int) {
	t.Helper()
	part := func(b []byte) {
		_, _ = w.Write(binary.BigEndian.AppendUint32(nil, uint32(len(b))))
		_, _ = w.Write(b)
	}
	editBook(t, dir, func(tx *bolt.Tx) error {
		names, err := indexes(tx)
		for _, name := range names {
			part([]byte(name))
			err = errors.Join(err, tx.Bucket([]byte(name)).ForEach(func(k, v []byte) error {
				part(k)
				part(v)
				rows++
				return nil
			}))
		}
		return err
	})
	return rows
}

// TestRowForm: rowsPrint is that of the rows which the books in testdata/rows
// get when they are opened, each made when none of its indexes were there; each
// kind of entry is in one of them, or known not to be.
func TestRowForm(t *testing.T) {
	books, err := filepath.Glob(filepath.Join("testdata", "rows", "*.db.gz"))
	if err != nil || len(books) == 0 {
		t.Fatal(books, err)
	}
	sum, rows := sha256.New(), 0
	played := map[string]bool{}
	for _, path := range books {
		dir := inventorytest.UnpackBolt(t, path)
		var said bytes.Buffer
		h, err := openHouse(t.Context(), &env{now: scriptTime, stderr: &said}, dir, boltstore.Options{})
		if err != nil {
			t.Fatalf("%s: %v\nIf a body has changed, which none may once it was released, make this book anew: see testdata/README.md.", path, err)
		}
		if !strings.Contains(said.String(), "made again") || !strings.Contains(said.String(), "100%") {
			t.Errorf("%s: the opener said %q", path, said.String())
		}
		err = h.store.View(t.Context(), func(r inventory.Reader) error {
			for seq := uint64(1); seq <= r.Head().Seq; seq++ {
				e, err := r.Entry(seq)
				if err != nil {
					return err
				}
				played[e.Kind] = true
			}
			return nil
		})
		if err := errors.Join(err, h.store.Close()); err != nil {
			t.Fatal(err)
		}
		rows += printRows(t, sum, dir)
	}
	if rows < 1000 {
		t.Errorf("the books have %d rows", rows)
	}
	if print := hex.EncodeToString(sum.Sum(nil)[:8]); print != rowsPrint {
		t.Errorf("other rows are derived than before: set rowsPrint to %q, so that books with those of before get them", print)
	}
	var missing []string
	for _, list := range [][]func() inventory.Event{inventory.Events(), trace.Events(), notice.Events(), account.Events()} {
		for _, f := range list {
			if k := f().Kind(); !played[k] {
				missing = append(missing, k)
			}
		}
	}
	slices.Sort(missing)
	if !slices.Equal(missing, notPlayed) {
		t.Errorf("the books in testdata/rows have no entry of %q, and notPlayed names %q: name the new kind there, or add a book that has one", missing, notPlayed)
	}
}

// oldBook returns an invented book, what a question about it is answered with,
// and makes its rows those of an older program: under another number, some of
// another form, some missing.
func oldBook(t *testing.T, ask func(dir string) string) (dir, want string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "unit")
	lotbook(t, exitOK, "demo", "--days", "3", "--stations", "3", "--shifts", "1", "--data", dir, "--no-serve")
	want = ask(dir)
	editBook(t, dir, func(tx *bolt.Tx) error {
		names, err := indexes(tx)
		for i, name := range names {
			b := tx.Bucket([]byte(name))
			if i%5 == 0 {
				err = errors.Join(err, tx.DeleteBucket([]byte(name)))
				continue
			}
			c := b.Cursor()
			for k, v := c.First(); k != nil; k, v = c.Next() {
				err = errors.Join(err, b.Put(bytes.Clone(k), append([]byte{0xff}, v...)))
			}
		}
		return errors.Join(err, tx.Bucket([]byte("meta")).Delete([]byte("rows")))
	})
	return dir, want
}

// verified returns what verify says of the rows of a book. The command itself
// starts the program again, which a test is not.
func verified(t *testing.T, dir string) string {
	t.Helper()
	rep, err := boltstore.Verify(t.Context(), dir, verifyOptions(&env{now: scriptTime}, nil))
	if err := errors.Join(err, rep.Err()); err != nil {
		t.Fatal(err)
	}
	return rowsText(&rep)
}

// TestOldBook: whatever opens a book whose rows are an older program's, the
// answer is that of before, what was done is told on standard error only, and
// verify and restore say what they found.
func TestOldBook(t *testing.T) {
	ask := func(dir string) string {
		out, _ := lotbook(t, exitOK, "reconcile", "--data", dir, "--date", "2026-11-24", "--shift", "1")
		return out
	}
	dir, want := oldBook(t, ask)
	copied := filepath.Join(t.TempDir(), "copy.db")
	b, err := os.ReadFile(filepath.Join(dir, boltstore.FileName))
	if err := errors.Join(err, os.WriteFile(copied, b, 0o600)); err != nil {
		t.Fatal(err)
	}
	if out := verified(t, dir); !strings.Contains(out, "(form unknown)") || !strings.Contains(out, "made again (form "+derivation().Form.String()) {
		t.Errorf("verify says %q", out)
	}
	if got := ask(dir); got != want {
		t.Errorf("the answer is\n%s\nand was\n%s", got, want)
	}
	if out := verified(t, dir); !strings.Contains(out, fmt.Sprintf("rows (form %s) in", derivation().Form)) {
		t.Errorf("verify then says %q", out)
	}
	restored := filepath.Join(t.TempDir(), "restored")
	if _, errs := lotbook(t, exitOK, "restore", "--data", restored, copied); !strings.Contains(errs, "made again from its journal") {
		t.Errorf("restore says %q", errs)
	}
	if got := ask(restored); got != want {
		t.Errorf("of the restored book the answer is\n%s\nand was\n%s", got, want)
	}
	again := filepath.Join(filepath.Dir(dir), "again")
	if err := errors.Join(os.Mkdir(again, 0o700), os.WriteFile(filepath.Join(again, boltstore.FileName), b, 0o600),
		os.WriteFile(filepath.Join(again, truthName), []byte("{}"), 0o600)); err != nil {
		t.Fatal(err)
	}
	if out, errs := lotbook(t, exitOK, "demo", "--data", again, "--no-serve"); !strings.Contains(out, "made before") || !strings.Contains(errs, "100%") {
		t.Errorf("demo on an old folder says %q and %q", out, errs)
	}
	if got := ask(again); got != want {
		t.Errorf("of the old demonstration the answer is\n%s\nand was\n%s", got, want)
	}
}

// TestNewerBook: a book whose rows can't be made, since its journal has what a
// newer program wrote, is refused in a sentence that says what to do.
func TestNewerBook(t *testing.T) {
	dir := t.TempDir()
	s, err := boltstore.Open(dir, boltstore.Options{Clock: scriptTime})
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.Append(t.Context(), inventory.Request{Actor: "user-1", Decide: func(inventory.Reader) ([]inventory.Draft, error) {
		return []inventory.Draft{{Kind: "kind.ofNextYear", Body: []byte("{}")}}, nil
	}})
	if err := errors.Join(err, s.Close(), os.WriteFile(filepath.Join(dir, truthName), []byte("{}"), 0o600)); err != nil {
		t.Fatal(err)
	}
	for hint, args := range map[string][]string{
		"the version of lotbook that it was last used with": {"user", "list", "--data", dir},
		"remove the folder": {"demo", "--data", dir, "--no-serve"},
	} {
		if _, errs := lotbook(t, exitError, args...); !strings.Contains(errs, hint) || !strings.Contains(errs, "kind.ofNextYear") {
			t.Errorf("%v: %q, want %q", args, errs, hint)
		}
	}
}
