package main

import (
	"bytes"
	"encoding/base64"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
)

// picturesIn returns the bytes of all pictures of problems in a book.
func picturesIn(t *testing.T, dir string) (pics [][]byte) {
	t.Helper()
	bookIn(t, dir, func(book *trace.Book) {
		l, err := book.ProblemTable(t.Context(), trace.ProblemQuery{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range l.Rows {
			for _, q := range p.Standing() {
				err := book.View(t.Context(), func(r inventory.Reader) error {
					b, err := book.PictureOf(r, p.ID, q.Entry)
					pics = append(pics, bytes.Clone(b))
					return err
				})
				if err != nil {
					t.Fatal(err)
				}
			}
		}
	})
	return pics
}

// A picture comes back from a backup to the byte, and verify says of a book in
// which a byte of one has decayed that it is damaged.
func TestPicturesSurvive(t *testing.T) {
	dir := t.TempDir()
	unit, copied, restored := filepath.Join(dir, "unit"), filepath.Join(dir, "copy.db"), filepath.Join(dir, "restored")
	lotbook(t, exitOK, "demo", "--days", "8", "--stations", "4", "--shifts", "1", "--data", unit, "--no-serve")
	pics := picturesIn(t, unit)
	if len(pics) != 1 {
		t.Fatalf("%d pictures", len(pics))
	}
	if _, err := jpeg.Decode(bytes.NewReader(pics[0])); err != nil {
		t.Fatal(err)
	}
	lotbook(t, exitOK, "backup", "--data", unit, copied)
	lotbook(t, exitOK, "restore", "--data", restored, copied)
	if got := picturesIn(t, restored); len(got) != 1 || !bytes.Equal(got[0], pics[0]) {
		t.Error("another picture came back")
	}

	// A restored file has no older pages beside those in use.
	path := filepath.Join(restored, boltstore.FileName)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// The body is JSON, in which bytes are base64 (encoding/json; RFC 4648). Some
	// part of the picture stands there once.
	text := base64.StdEncoding.EncodeToString(pics[0])
	at := -1
	for i := 0; i+40 <= len(text) && at < 0; i += 40 {
		if part := []byte(text[i : i+40]); bytes.Count(file, part) == 1 {
			at = bytes.Index(file, part)
		}
	}
	if at < 0 {
		t.Fatal("the picture does not stand in the file")
	}
	if file[at+9]++; file[at+9] > 'z' {
		file[at+9] = 'A'
	}
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	rep, err := boltstore.Verify(t.Context(), restored, verifyOptions(&env{now: scriptTime}, nil))
	if err != nil {
		t.Fatal(err)
	}
	if err := rep.Err(); err == nil || !strings.Contains(err.Error(), "hash") {
		t.Errorf("verify says %v of a book with another byte in a picture", err)
	}
}
