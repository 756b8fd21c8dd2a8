package inventorytest

import (
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

func testReplay(t *testing.T, target Target) {
	b := setUp(t, target)
	b.change()
	runs := 0
	req := inventory.Request{
		Actor: "user-1", Key: "key 1", Digest: journal.Sum([]byte("request 1")),
		Decide: func(inventory.Reader) ([]inventory.Draft, error) {
			runs++
			return []inventory.Draft{Change(Put("ix", "a", "1")), {Kind: "test.said", Body: []byte("hello")}}, nil
		},
	}
	first := b.append(req)
	b.change(Put("ix", "a", "2"))
	check := func() {
		t.Helper()
		r := b.append(req)
		if !r.Replayed || len(r.Entries) != 2 {
			t.Fatalf("receipt %+v, want the first one, replayed", r)
		}
		for i := range r.Entries {
			if err := sameEntry(r.Entries[i], first.Entries[i]); err != nil {
				t.Error(err)
			}
		}
		if runs != 1 {
			t.Errorf("Decide was run %d times", runs)
		}
		b.wantRow("ix", "a", "2")
		b.wantHead(4)
	}
	check()
	b.reopen()
	check()
}

func testKeyReused(t *testing.T, target Target) {
	b := setUp(t, target)
	req := inventory.Request{Actor: "user-1", Key: "k", Digest: journal.Sum([]byte("1")), Decide: Drafts(Change())}
	b.append(req)
	req.Digest = journal.Sum([]byte("2"))
	req.Decide = func(inventory.Reader) ([]inventory.Draft, error) {
		t.Error("Decide was run for a key that was used")
		return nil, nil
	}
	for range 2 {
		if r, err := b.store.Append(b.ctx, req); !errors.Is(err, inventory.ErrKeyReused) || len(r.Entries) != 0 {
			t.Errorf("receipt %+v, error %v, want ErrKeyReused", r, err)
		}
		b.wantHead(1)
		b.reopen()
	}
}

// testKeysOfActors: the pairs (ab, c) and (a, bc) are two.
func testKeysOfActors(t *testing.T, target Target) {
	b := setUp(t, target)
	pairs := [][2]string{{"ab", "c"}, {"a", "bc"}, {"", "abc"}, {"abc", "a"}, {"a", "c"}, {"a\x00", "c"}, {"a", "\x00c"}, {"a", "b"}}
	for i, p := range pairs {
		r := b.append(inventory.Request{Actor: p[0], Key: p[1], Digest: journal.Sum([]byte{byte(i)}), Decide: Drafts(Change())})
		if r.Replayed {
			t.Errorf("actor %q with key %q got someone else's receipt", p[0], p[1])
		}
	}
	for i, p := range pairs {
		r := b.append(inventory.Request{Actor: p[0], Key: p[1], Digest: journal.Sum([]byte{byte(i)}), Decide: Drafts(Change())})
		if !r.Replayed || r.Entries[0].Seq != uint64(i+1) {
			t.Errorf("actor %q with key %q got %+v", p[0], p[1], r)
		}
	}
}

func testKeyLength(t *testing.T, target Target) {
	b := setUp(t, target)
	req := inventory.Request{Actor: "user-1", Key: strings.Repeat("k", 200), Decide: Drafts(Change())}
	b.append(req)
	if !b.append(req).Replayed {
		t.Error("a key of 200 bytes was not kept")
	}
	req.Key += "k"
	if _, err := b.store.Append(b.ctx, req); err == nil {
		t.Error("a key of 201 bytes was taken")
	}
	b.wantHead(1)
}

func testNoKey(t *testing.T, target Target) {
	b := setUp(t, target)
	for range 3 {
		if b.change().Replayed {
			t.Error("a request without a key was replayed")
		}
	}
	b.wantHead(3)
}

// testOneKeyManyTimes: a client that sends the same again before it has an
// answer gets one entry.
func testOneKeyManyTimes(t *testing.T, target Target) {
	b := setUp(t, target)
	var fresh atomic.Int32
	var wg sync.WaitGroup
	for range 64 {
		wg.Go(func() {
			r, err := b.store.Append(b.ctx, inventory.Request{Actor: "user-1", Key: "k", Decide: count(Change(Put("ix", "a", "1")))})
			if err != nil {
				t.Error(err)
				return
			}
			if !r.Replayed {
				fresh.Add(1)
			}
			if len(r.Entries) != 2 || r.Entries[0].Seq != 1 {
				t.Errorf("receipt %+v", r)
			}
		})
	}
	wg.Wait()
	if n := fresh.Load(); n != 1 {
		t.Errorf("%d of 64 receipts say that theirs was the first", n)
	}
	b.wantHead(2)
	b.wantRow("count", "n", "1")
}
