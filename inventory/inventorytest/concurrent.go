package inventorytest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"

	"lotbook/inventory"
)

// testSerialDecisions: 64 goroutines read a number and write one more. Each
// number is written once.
func testSerialDecisions(t *testing.T, target Target) {
	b := setUp(t, target)
	const writers, each = 64, 10
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[uint64]bool{}
	for range writers {
		wg.Go(func() {
			for range each {
				r, err := b.store.Append(b.ctx, inventory.Request{Actor: "user-1", Decide: count(Change())})
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				for _, e := range r.Entries {
					if seen[e.Seq] {
						t.Errorf("two receipts have entry %d", e.Seq)
					}
					seen[e.Seq] = true
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	b.wantHead(2 * writers * each)
	b.wantRow("count", "n", fmt.Sprint(writers*each))
}

// testSnapshot: what is appended while a View lasts is not seen in it.
func testSnapshot(t *testing.T, target Target) {
	b := setUp(t, target)
	b.change(Put("ix", "a", "1"))
	b.view(func(r inventory.Reader) error {
		head := r.Head()
		done := make(chan error, 1)
		go func() {
			_, err := b.store.Append(b.ctx, inventory.Request{
				Actor: "user-1", Decide: Drafts(Change(Put("ix", "a", "2"), Put("ix", "b", "2"), Put("new", "a", "2"))),
			})
			done <- err
		}()
		if err := <-done; err != nil {
			return err
		}
		if h := r.Head(); h != head || h.Seq != 1 {
			t.Errorf("the head moved from %v to %v", head, h)
		}
		if _, err := r.Entry(2); !errors.Is(err, inventory.ErrNoEntry) {
			t.Errorf("the entry that was appended meanwhile: %v", err)
		}
		for _, row := range []struct {
			ix        inventory.Index
			key, want string
		}{{"ix", "a", "1"}, {"ix", "b", ""}, {"new", "a", ""}} {
			if v, err := r.Get(row.ix, []byte(row.key)); err != nil || string(v) != row.want {
				t.Errorf("row %q of %q is %q (%v), want %q", row.key, row.ix, v, err, row.want)
			}
		}
		return r.Scan("ix", nil, nil, func(k, v []byte) error {
			if string(k) != "a" || string(v) != "1" {
				t.Errorf("the scan has %q = %q", k, v)
			}
			return nil
		})
	})
	b.wantHead(2)
	b.wantRow("ix", "a", "2")
	b.wantRow("new", "a", "2")
}

func testViewError(t *testing.T, target Target) {
	b := setUp(t, target)
	if err := b.store.View(b.ctx, func(inventory.Reader) error { return errTest }); err != errTest { //nolint:errorlint // as it is
		t.Errorf("error %v, want the function's own", err)
	}
	b.change()
}

func testContext(t *testing.T, target Target) {
	b := setUp(t, target)
	ctx, cancel := context.WithCancel(b.ctx)
	cancel()
	_, err := b.store.Append(ctx, inventory.Request{Actor: "user-1", Decide: Drafts(Change())})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("append: error %v, want the context's", err)
	}
	err = b.store.View(ctx, func(inventory.Reader) error { return nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("view: error %v, want the context's", err)
	}
	if err := b.store.Vault().Put(ctx, "k", nil); !errors.Is(err, context.Canceled) {
		t.Errorf("vault: error %v, want the context's", err)
	}
	b.wantHead(0)
}

// blocked begins an append whose Decide waits. It returns when Decide is
// running; release lets it go on, and result waits for its end.
func (b *bench) blocked(ctx context.Context) (release func(), result func() error) {
	begun, let, end := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	var once sync.Once
	go func() {
		_, err := b.store.Append(ctx, inventory.Request{Actor: "user-1", Decide: func(inventory.Reader) ([]inventory.Draft, error) {
			once.Do(func() { close(begun) })
			<-let
			return []inventory.Draft{Change(Put("ix", "blocked", "1"))}, nil
		}})
		end <- err
	}()
	<-begun
	return sync.OnceFunc(func() { close(let) }), func() error { return <-end }
}

// testContextWaiting: a request that waits behind another gives up at once.
func testContextWaiting(t *testing.T, target Target) {
	b := setUp(t, target)
	release, result := b.blocked(b.ctx)
	defer release()
	ctx, cancel := context.WithCancel(b.ctx)
	end := make(chan error, 1)
	go func() {
		_, err := b.store.Append(ctx, inventory.Request{Actor: "user-1", Decide: Drafts(Change(Put("ix", "waiting", "1")))})
		end <- err
	}()
	cancel()
	if err := <-end; !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want the context's", err)
	}
	release()
	if err := result(); err != nil {
		t.Error(err)
	}
	b.wantHead(1)
	b.wantRow("ix", "waiting", "-")
}

// testContextBegun: a request that was begun is seen through.
func testContextBegun(t *testing.T, target Target) {
	b := setUp(t, target)
	ctx, cancel := context.WithCancel(b.ctx)
	release, result := b.blocked(ctx)
	cancel()
	release()
	if err := result(); err != nil {
		t.Errorf("a request that was begun ended with %v", err)
	}
	b.wantHead(1)
	b.wantRow("ix", "blocked", "1")
}

func testCloseWaits(t *testing.T, target Target) {
	b := setUp(t, target)
	release, result := b.blocked(b.ctx)
	closed := make(chan error, 1)
	go func() { closed <- b.store.Close() }()
	select {
	case <-closed:
		t.Error("Close did not wait for an append under way")
	default:
	}
	release()
	if err := result(); err != nil {
		t.Errorf("the append under way ended with %v", err)
	}
	if err := <-closed; err != nil {
		t.Error(err)
	}
	b.open()
	b.wantHead(1)
	b.wantRow("ix", "blocked", "1")
}

func testClosed(t *testing.T, target Target) {
	b := setUp(t, target)
	if err := b.store.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := b.store.Append(b.ctx, inventory.Request{Actor: "user-1", Decide: Drafts(Change())}); err == nil {
		t.Error("a closed store appends")
	}
	if err := b.store.View(b.ctx, func(inventory.Reader) error { return nil }); err == nil {
		t.Error("a closed store has a View")
	}
	if _, err := b.store.Vault().Get(b.ctx, "k"); err == nil {
		t.Error("a closed store reads its vault")
	}
	if err := b.store.Vault().Put(b.ctx, "k", nil); err == nil {
		t.Error("a closed store writes to its vault")
	}
	if err := b.store.Close(); err != nil {
		t.Errorf("closing it again: %v", err)
	}
	b.open()
}
