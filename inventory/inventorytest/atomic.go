package inventorytest

import (
	"errors"
	"fmt"
	"sync"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

var errTest = errors.New("an error of the test")

func testNoDrafts(t *testing.T, target Target) {
	b := setUp(t, target)
	req := inventory.Request{Actor: "user-1", Key: "k", Decide: Drafts()}
	if r := b.append(req); len(r.Entries) != 0 || r.Replayed {
		t.Errorf("receipt %+v, want an empty one", r)
	}
	b.wantHead(0)
	// The key was not kept: another request may use it.
	req.Digest, req.Decide = journal.Sum(nil), Drafts(Change(Put("ix", "a", "1")))
	if r := b.append(req); len(r.Entries) != 1 || r.Replayed {
		t.Errorf("receipt %+v, want one new entry", r)
	}
}

func testDecideError(t *testing.T, target Target) {
	b := setUp(t, target)
	req := inventory.Request{Actor: "user-1", Key: "k", Decide: func(inventory.Reader) ([]inventory.Draft, error) {
		return []inventory.Draft{Change(Put("ix", "a", "1"))}, errTest
	}}
	r, err := b.store.Append(b.ctx, req)
	if err != errTest { //nolint:errorlint // "as it is"
		t.Errorf("error %v, want Decide's as it is", err)
	}
	if len(r.Entries) != 0 {
		t.Errorf("receipt %+v with an error", r)
	}
	b.wantHead(0)
	b.wantRow("ix", "a", "-")
	req.Decide = Drafts(Change(Put("ix", "a", "2")))
	if r := b.append(req); r.Replayed {
		t.Error("the key of a request that failed was kept")
	}
}

func testDecidePanic(t *testing.T, target Target) {
	b := setUp(t, target)
	_, err := b.store.Append(b.ctx, inventory.Request{Actor: "user-1", Decide: func(inventory.Reader) ([]inventory.Draft, error) {
		panic("the test's own")
	}})
	if err == nil || errors.Is(err, inventory.ErrUnknownOutcome) || errors.Is(err, inventory.ErrStoreFailed) {
		t.Errorf("a panic in Decide became the error %v", err)
	}
	b.wantHead(0)
	b.change()
	b.wantHead(1)
}

// failing is a draft whose Rows writes rows and then fails.
func failing(fail func() error) inventory.Draft {
	return inventory.Draft{Kind: "test.failed", Rows: func(w inventory.Writer, _ journal.Entry) error {
		if err := errors.Join(w.Put("ix", []byte("a"), []byte("wrong")), w.Put("new", []byte("b"), []byte("wrong")),
			w.Delete("ix", []byte("kept"))); err != nil {
			return err
		}
		return fail()
	}}
}

func testRowsError(t *testing.T, target Target) {
	testRowsFail(t, target, func() error { return errTest }, func(err error) bool { return errors.Is(err, errTest) })
}

func testRowsPanic(t *testing.T, target Target) {
	testRowsFail(t, target, func() error { panic("the test's own") }, func(err error) bool { return err != nil })
}

func testRowsFail(t *testing.T, target Target, fail func() error, want func(error) bool) {
	b := setUp(t, target)
	b.change(Put("ix", "kept", "1"))
	head := b.head()
	req := inventory.Request{
		Actor: "user-1", Key: "k",
		Decide: Drafts(Change(Put("ix", "before", "wrong")), failing(fail), Change(Put("ix", "later", "wrong"))),
	}
	r, err := b.store.Append(b.ctx, req)
	if !want(err) || errors.Is(err, inventory.ErrUnknownOutcome) || errors.Is(err, inventory.ErrStoreFailed) {
		t.Errorf("error %v", err)
	}
	if len(r.Entries) != 0 {
		t.Errorf("receipt %+v with an error", r)
	}
	check := func() {
		t.Helper()
		if h := b.head(); h != head {
			t.Errorf("the head is %v, want %v", h, head)
		}
		for _, k := range []string{"a", "before", "later"} {
			b.wantRow("ix", k, "-")
		}
		b.wantRow("new", "b", "-")
		b.wantRow("ix", "kept", "1")
	}
	check()
	b.reopen()
	check()
	req.Decide = Drafts(Change(Put("ix", "a", "2")))
	if r := b.append(req); r.Replayed || r.Entries[0].Seq != 2 || r.Entries[0].Prev != head.Hash {
		t.Errorf("after it: receipt %+v", r)
	}
}

// testRowsErrorAmongOthers: one that fails takes nobody with it, and the others
// lose nothing by sharing its commit.
func testRowsErrorAmongOthers(t *testing.T, target Target) {
	b := setUp(t, target)
	const each, writers = 8, 16
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := range each {
				key := fmt.Sprintf("%d-%d", w, i)
				req := inventory.Request{Actor: "user-1", Key: key, Decide: count(Change(Put("ix", key, "1")))}
				bad := (w+i)%4 == 0
				if bad {
					req.Decide = count(failing(func() error { return errTest }))
				}
				r, err := b.store.Append(b.ctx, req)
				switch {
				case bad && !errors.Is(err, errTest):
					t.Errorf("request %s: error %v, want its own", key, err)
				case !bad && err != nil:
					t.Errorf("request %s: %v", key, err)
				case !bad && (len(r.Entries) != 2 || r.Replayed):
					t.Errorf("request %s: receipt %+v", key, r)
				}
			}
		})
	}
	wg.Wait()
	good := 0
	for w := range writers {
		for i := range each {
			want := "1"
			if (w+i)%4 == 0 {
				want = "-"
			} else {
				good++
			}
			b.wantRow("ix", fmt.Sprintf("%d-%d", w, i), want)
		}
	}
	b.wantHead(uint64(2 * good))
	b.wantRow("count", "n", fmt.Sprint(good))
	b.wantRow("new", "b", "-")
}

// count returns a Decide that counts row "n" up by one and then does d.
func count(d inventory.Draft) func(inventory.Reader) ([]inventory.Draft, error) {
	return func(r inventory.Reader) ([]inventory.Draft, error) {
		v, err := r.Get("count", []byte("n"))
		if err != nil {
			return nil, err
		}
		n := 0
		if v != nil {
			if _, err := fmt.Sscan(string(v), &n); err != nil {
				return nil, err
			}
		}
		return []inventory.Draft{Change(Put("count", "n", fmt.Sprint(n+1))), d}, nil
	}
}

// testRowsSee: Rows sees the rows and entries of the drafts before it, its own
// entry, and none after it.
func testRowsSee(t *testing.T, target Target) {
	b := setUp(t, target)
	b.change(Put("ix", "a", "0"))
	see := func(want string) inventory.Draft {
		return inventory.Draft{Kind: "test.saw", Rows: func(w inventory.Writer, e journal.Entry) error {
			if v, err := w.Get("ix", []byte("a")); err != nil || string(v) != want {
				t.Errorf("entry %d sees the row %q (%v), want %q", e.Seq, v, err, want)
			}
			if h := w.Head(); h.Seq != e.Seq || h.Hash != journal.Sum(e.AppendCanonical(nil)) {
				t.Errorf("entry %d sees the head %v", e.Seq, h)
			}
			got, err := w.Entry(e.Seq)
			if err != nil {
				t.Errorf("entry %d does not see itself: %v", e.Seq, err)
			} else if err := sameEntry(got, e); err != nil {
				t.Error(err)
			}
			if _, err := w.Entry(e.Seq + 1); !errors.Is(err, inventory.ErrNoEntry) {
				t.Errorf("entry %d sees the entry after it (%v)", e.Seq, err)
			}
			return nil
		}}
	}
	b.append(inventory.Request{
		Actor:  "user-1",
		Decide: Drafts(see("0"), Change(Put("ix", "a", "1")), see("1"), Change(Delete("ix", "a")), see("")),
	})
	b.wantHead(6)
}

// testRowsScan: scans in Rows see what the same request has put and deleted,
// also where it has emptied long stretches.
func testRowsScan(t *testing.T, target Target) {
	b := setUp(t, target)
	const rows = 1200
	name := func(i int) string { return fmt.Sprintf("%05d", i) }
	fill := make([]Op, rows)
	value := string(make([]byte, 100))
	for i := range fill {
		fill[i] = Put("ix", name(i), value)
	}
	for _, kept := range [][2]int{{0, 0}, {0, 1}, {rows - 1, rows}, {500, 510}} { // from, to
		b.change(fill...)
		var gone []Op
		for i := range rows {
			if i < kept[0] || i >= kept[1] {
				gone = append(gone, Delete("ix", name(i)))
			}
		}
		look := inventory.Draft{Kind: "test.saw", Rows: func(w inventory.Writer, _ journal.Entry) error {
			var up, down []string
			err := errors.Join(
				w.Scan("ix", nil, nil, func(k, _ []byte) error { up = append(up, string(k)); return nil }),
				w.ScanBack("ix", nil, nil, func(k, _ []byte) error { down = append(down, string(k)); return nil }))
			var from []string
			err = errors.Join(err, w.ScanBack("ix", []byte("0"), []byte(name(rows-2)), func(k, _ []byte) error {
				from = append(from, string(k))
				return nil
			}))
			n := kept[1] - kept[0]
			if len(up) != n || len(down) != n {
				t.Errorf("with %v kept: %d rows upwards and %d downwards", kept, len(up), len(down))
			}
			for i := range up {
				if up[i] != name(kept[0]+i) || len(down) != n || down[n-1-i] != up[i] {
					t.Errorf("with %v kept: %v upwards, %v downwards", kept, up, down)
				}
			}
			if kept[1] == rows {
				n--
			}
			if len(from) != n {
				t.Errorf("with %v kept: %d rows downwards from the last but one", kept, len(from))
			}
			return err
		}}
		b.append(inventory.Request{Actor: "user-1", Decide: Drafts(Change(gone...), look)})
	}
}
