package boltstore_test

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
)

var errDisk = errors.New("the disk's own error")

// Ways in which a commit fails. One that reports an error may have reached the
// disk: a fault at its second flush did, when measured.
var failures = []struct {
	name    string
	durable bool
	commit  func(commit func() error) error
}{
	{"before it wrote", false, func(func() error) error { return errDisk }},
	{"after it was durable", true, func(commit func() error) error { return errors.Join(commit(), errDisk) }},
	{"with a panic", false, func(func() error) error { panic(errDisk) }},
}

// TestCommitFails: those whose commit failed are told that its outcome is not
// known; then the store takes no more writes and goes on reading; and once it
// is open again a request's key says what became of it.
func TestCommitFails(t *testing.T) {
	for _, c := range failures {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			s := openStore(t, dir, true)
			g := newGate(s, c.commit)
			const before, shared = 2, 5
			for i := range before {
				g.let <- nil
				if _, err := s.Append(t.Context(), request(fmt.Sprint(i))); err != nil {
					t.Fatal(err)
				}
			}
			errs := appendTogether(t, s, g, shared)
			for key, err := range errs {
				if key == "first" {
					if err != nil {
						t.Errorf("the commit before: %v", err)
					}
				} else if !errors.Is(err, inventory.ErrUnknownOutcome) {
					t.Errorf("request %s of the failed commit: %v, want %v", key, err, inventory.ErrUnknownOutcome)
				}
			}
			for what, err := range map[string]error{
				"append": func() error { _, err := s.Append(t.Context(), request("later")); return err }(),
				"vault":  s.Vault().Put(t.Context(), "k", nil),
			} {
				if !errors.Is(err, inventory.ErrStoreFailed) || errors.Is(err, inventory.ErrUnknownOutcome) {
					t.Errorf("%s afterwards: %v, want %v", what, err, inventory.ErrStoreFailed)
				}
			}
			if err := s.View(t.Context(), func(r inventory.Reader) error {
				if v, err := r.Get("all", []byte("1")); v == nil || err != nil {
					t.Errorf("the row of an earlier entry: %q (%v)", v, err)
				}
				_, err := r.Entry(1)
				return err
			}); err != nil {
				t.Errorf("reading afterwards: %v", err)
			}
			closeStore(t, s)
			if _, err := os.Stat(filepath.Join(dir, boltstore.FailedName)); err != nil {
				t.Errorf("there is no note for the next Open: %v", err)
			}
			wantAfterReopen(t, dir, c.durable, shared)
			if err := check(dir); err != nil {
				t.Error(err)
			}
		})
	}
}

// wantAfterReopen sends the same requests again.
func wantAfterReopen(t *testing.T, dir string, durable bool, shared int) {
	t.Helper()
	s := openStore(t, dir, true)
	defer closeStore(t, s)
	if _, err := os.Stat(filepath.Join(dir, boltstore.FailedName)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the note of the failed commit is there still (%v)", err)
	}
	seen := map[uint64]bool{}
	for i := range shared {
		r, err := s.Append(t.Context(), request(fmt.Sprint("shared ", i)))
		if err != nil || len(r.Entries) != 1 || r.Replayed != durable {
			t.Errorf("request %d again: %+v (%v), want replayed: %v", i, r, err, durable)
			continue
		}
		seen[r.Entries[0].Seq] = true
	}
	if len(seen) != shared {
		t.Errorf("%d requests have %d entries", shared, len(seen))
	}
	if r, err := s.Append(t.Context(), request("later")); err != nil || r.Replayed {
		t.Errorf("a request that was refused: %+v (%v)", r, err)
	}
}

// A gate lets a store's commits through one by one: nil lets one through, a
// function does it instead.
type gate struct {
	reached chan struct{}
	let     chan func(commit func() error) error
	fail    func(commit func() error) error
}

func newGate(s *boltstore.Store, fail func(func() error) error) *gate {
	g := &gate{make(chan struct{}, 16), make(chan func(func() error) error, 16), fail}
	s.SetCommit(func(commit func() error) error {
		g.reached <- struct{}{}
		if instead := <-g.let; instead != nil {
			return instead(commit)
		}
		return commit()
	})
	return g
}

// appendTogether holds the commit of one request until n others wait behind
// it, so that they share the next commit, and has that one fail.
func appendTogether(t *testing.T, s *boltstore.Store, g *gate, n int) map[string]error {
	t.Helper()
	for len(g.reached) > 0 {
		<-g.reached
	}
	var mu sync.Mutex
	var wg sync.WaitGroup
	errs := map[string]error{}
	send := func(key string) {
		wg.Go(func() {
			_, err := s.Append(t.Context(), request(key))
			mu.Lock()
			defer mu.Unlock()
			errs[key] = err
		})
	}
	send("first")
	<-g.reached
	for i := range n {
		send(fmt.Sprint("shared ", i))
	}
	s.AwaitWaiting(n)
	g.let <- nil
	<-g.reached
	g.let <- g.fail
	wg.Wait()
	close(g.let) // a commit that should not come any more is let through
	if len(errs) != n+1 {
		t.Fatalf("%d answers, want %d", len(errs), n+1)
	}
	return errs
}

// TestFailedGroupIsUndoneWhole: an entry of a commit that failed before it
// wrote is not there, nor is any row of it.
func TestFailedGroupIsUndoneWhole(t *testing.T) {
	dir := t.TempDir()
	s := openStore(t, dir, true)
	g := newGate(s, failures[0].commit)
	appendTogether(t, s, g, 3)
	closeStore(t, s)
	s = openStore(t, dir, true)
	defer closeStore(t, s)
	if err := s.View(t.Context(), func(r inventory.Reader) error {
		if r.Head().Seq != 1 {
			t.Errorf("the journal ends with entry %d, want 1", r.Head().Seq)
		}
		return r.Scan("all", nil, nil, func(k, _ []byte) error {
			if string(k) != "first" {
				t.Errorf("there is a row of request %q", k)
			}
			return nil
		})
	}); err != nil {
		t.Error(err)
	}
}
