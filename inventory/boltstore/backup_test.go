package boltstore_test

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

// TestBackupUnderWrites: a copy that was taken while four wrote is a whole
// store of one moment, with all that was acknowledged when it began.
func TestBackupUnderWrites(t *testing.T) {
	const writers, copies = 4, 5
	dir := t.TempDir()
	s := openStore(t, dir, false)
	var acknowledged [writers]atomic.Int64
	ctx, stop := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := 0; ctx.Err() == nil; i++ {
				if _, err := s.Append(context.Background(), request(fmt.Sprintf("%d %d", w, i))); err != nil {
					t.Error(err)
					return
				}
				acknowledged[w].Store(int64(i + 1))
			}
		})
	}
	last := uint64(0)
	for range copies {
		var least [writers]int64
		for w := range writers {
			for least[w] == 0 && !t.Failed() {
				least[w] = acknowledged[w].Load()
			}
		}
		var copied bytes.Buffer
		c, err := s.Backup(t.Context(), &copied)
		if err != nil || c.Bytes != int64(copied.Len()) {
			t.Errorf("backup: %d bytes, said to be %d (%v)", copied.Len(), c.Bytes, err)
			break
		}
		if last = wantRestored(t, &copied, least[:], last); last != c.Head.Seq {
			t.Errorf("the copy ends with entry %d, said to be %d", last, c.Head.Seq)
		}
	}
	stop()
	wg.Wait()
	closeStore(t, s)
	if err := check(dir); err != nil {
		t.Error(err)
	}
}

// wantRestored restores a copy and holds it against what it must have.
func wantRestored(t *testing.T, copied *bytes.Buffer, least []int64, longer uint64) (entries uint64) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "restored")
	r, err := boltstore.Restore(t.Context(), copied, dir, boltstore.VerifyOptions{Project: inventorytest.Project})
	if err != nil || r.Err() != nil || !r.Rebuilt {
		t.Fatalf("restore: %+v (%v)", r, err)
	}
	if r.Entries <= longer {
		t.Errorf("the copy has %d entries, the one before it had %d", r.Entries, longer)
	}
	s := openStore(t, dir, false)
	defer closeStore(t, s)
	for w, n := range least {
		if err := s.View(t.Context(), func(r inventory.Reader) error {
			v, err := r.Get("all", fmt.Appendf(nil, "%d %d", w, n-1))
			if v == nil {
				t.Errorf("writer %d: entry %d, acknowledged before the copy was begun, is not in it", w, n-1)
			}
			return err
		}); err != nil {
			t.Error(err)
		}
	}
	if _, err := s.Append(t.Context(), request("after")); err != nil {
		t.Errorf("the restored store takes no appends: %v", err)
	}
	return r.Entries
}

// TestBackupCancelled: a copy ends with its context.
func TestBackupCancelled(t *testing.T) {
	s := openStore(t, t.TempDir(), false)
	defer closeStore(t, s)
	fill(t, s, 100)
	ctx, cancel := context.WithCancel(t.Context())
	n, err := s.Backup(ctx, writerFunc(func(b []byte) (int, error) { cancel(); return len(b), nil }))
	if err == nil || ctx.Err() == nil {
		t.Errorf("%d bytes were written after its end (%v)", n.Bytes, err)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(b []byte) (int, error) { return f(b) }

// TestCompact: the copy has the same rows and fewer bytes, and goes on.
func TestCompact(t *testing.T) {
	dir := newFolder(t, 500)
	want := rowsOf(t, dir)
	sizes, err := boltstore.Compact(t.Context(), dir)
	if err != nil || sizes.After >= sizes.Before {
		t.Errorf("compact: %+v (%v)", sizes, err)
	}
	if got := rowsOf(t, dir); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Error("the rows have changed")
	}
	s := openStore(t, dir, false)
	r, err := s.Append(t.Context(), request("after"))
	if err != nil || r.Entries[0].Seq != 501 {
		t.Errorf("append: %+v (%v)", r, err)
	}
	closeStore(t, s)
	if err := check(dir); err != nil {
		t.Error(err)
	}
}
