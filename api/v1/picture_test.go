package v1

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"testing"
	"time"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
	"lotbook/scanner"
	"lotbook/trace"
)

// When as many pictures are being read as may be, a further one waits, and no
// longer than its request.
func TestPicturesAtOnce(t *testing.T) {
	now := func() time.Time { return time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC) }
	book := trace.NewBook(inventory.NewBook(inventorytest.NewMemory(now), inventory.NewRegistry(inventory.Events(), trace.Events()), now))
	a := New(Deps{Book: book, PicturesAtOnce: 1, PicturePixels: 1000, PictureTime: time.Second})
	a.pictures <- struct{}{}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := a.readPictures(ctx, [][]byte{[]byte("a picture")})
	var bad *problem.Request
	if !errors.As(err, &bad) || bad.Status != http.StatusServiceUnavailable || bad.Code != "busy" {
		t.Errorf("error %v", err)
	}
	<-a.pictures
	codes, err := a.readPictures(context.Background(), [][]byte{[]byte("a picture")})
	if !errors.As(err, &bad) || bad.Status != http.StatusUnprocessableEntity || bad.Code != "not_a_picture" || len(a.pictures) != 0 {
		t.Errorf("codes %+v, error %v, %d at once", codes, err, len(a.pictures))
	}
}

// The same picture is read once, and old ones are forgotten.
func TestSeenPictures(t *testing.T) {
	var s seenPictures
	key := func(i int) (k [32]byte) { copy(k[:], fmt.Sprint(i)); return k }
	for i := range keptPictures + 10 {
		s.put(key(i), []scanner.Code{{GTIN: fmt.Sprint(i)}})
		s.put(key(i), []scanner.Code{{GTIN: fmt.Sprint(i)}})
	}
	s.put(key(-1), []scanner.Code{{Error: &scanner.Fault{Code: "no_code"}}})
	if len(s.codes) != keptPictures || len(s.order) != keptPictures {
		t.Errorf("%d pictures are kept in an order of %d", len(s.codes), len(s.order))
	}
	for i, want := range map[int]bool{-1: false, 0: false, 9: false, 10: true, keptPictures + 9: true} {
		if codes, ok := s.get(key(i)); ok != want || (ok && codes[0].GTIN != fmt.Sprint(i)) {
			t.Errorf("picture %d: %v %+v", i, ok, codes)
		}
	}
}

// A file's name holds nothing that a browser or a file system could take for a
// path, an option or an end.
func TestFileNames(t *testing.T) {
	for want, parts := range map[string][]string{
		"exposures-DLZ-D-4711.xlsx":            {"exposures", "DLZ", "D-4711"},
		"exposures-..-..-etc-passwd.xlsx":      {"exposures", "../../etc/passwd"},
		"exposures--x-y------.xlsx":            {"exposures", "\"x\ny\r\x00;%ä"},
		"a-" + string(make60('b')) + "-c.xlsx": {"a", string(make60('b')) + "bbbb", "c"},
	} {
		if got := fileName(parts...); got != want {
			t.Errorf("%q: got %q, want %q", parts, got, want)
		}
	}
}

func make60(c byte) []byte {
	b := make([]byte, 60)
	for i := range b {
		b[i] = c
	}
	return b
}
