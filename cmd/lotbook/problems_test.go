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

	path := filepath.Join(restored, boltstore.FileName)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// The body is JSON, in which bytes are base64 (encoding/json; RFC 4648). The
	// file may have pages that are not in use any more beside those that are, so
	// a byte decays wherever it stands.
	text := base64.StdEncoding.EncodeToString(pics[0])
	part := text[len(text)/2 : len(text)/2+40]
	decayed := []byte("A" + part[1:])
	if part[0] == 'A' {
		decayed[0] = 'B'
	}
	if !bytes.Contains(file, []byte(part)) {
		t.Fatal("the picture does not stand in the file")
	}
	file = bytes.ReplaceAll(file, []byte(part), decayed)
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
