package inventorytest

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

func testEmpty(t *testing.T, target Target) {
	b := setUp(t, target)
	b.view(func(r inventory.Reader) error {
		if h := r.Head(); h != (journal.Head{}) {
			t.Errorf("an empty journal has the head %v", h)
		}
		for _, seq := range []uint64{0, 1, 1 << 63} {
			if _, err := r.Entry(seq); !errors.Is(err, inventory.ErrNoEntry) {
				t.Errorf("entry %d: error %v, want ErrNoEntry", seq, err)
			}
		}
		if v, err := r.Get("ix", []byte("k")); v != nil || err != nil {
			t.Errorf("Get: %q, %v", v, err)
		}
		none := func(k, _ []byte) error { t.Errorf("a row %q in an empty index", k); return nil }
		return errors.Join(r.Scan("ix", nil, nil, none), r.ScanBack("ix", nil, nil, none),
			r.Scan("ix", []byte("p"), []byte("p1"), none), r.ScanBack("ix", []byte("p"), []byte("p1"), none))
	})
}

// testEntries holds what is read back, and the chain, against what was given.
func testEntries(t *testing.T, target Target) {
	b := setUp(t, target)
	happened := time.Date(2027, 3, 30, 23, 59, 59, 999999999, time.FixedZone("", 3600))
	var all []journal.Entry
	for i := range 5 {
		now := b.clock.now
		digest := journal.Sum([]byte{byte(i)})
		r := b.append(inventory.Request{
			Actor: "user-7", Key: string(rune('a' + i)), Digest: digest,
			Decide: Drafts(inventory.Draft{Kind: "test.said", Happened: happened, Body: []byte{byte(i), 0, 0xff}}),
		})
		if len(r.Entries) != 1 || r.Replayed {
			t.Fatalf("receipt %+v", r)
		}
		want := journal.Entry{
			Seq: uint64(i + 1), Recorded: now, Happened: happened.UTC(), Actor: "user-7", Kind: "test.said",
			Key: string(rune('a' + i)), Digest: digest, Part: 0, Parts: 1, Body: []byte{byte(i), 0, 0xff},
		}
		if i > 0 {
			want.Prev = journal.Sum(all[i-1].AppendCanonical(nil))
		}
		if err := sameEntry(r.Entries[0], want); err != nil {
			t.Error("receipt:", err)
		}
		all = append(all, r.Entries[0])
		if h := b.head(); h.Seq != want.Seq || h.Hash != journal.Sum(want.AppendCanonical(nil)) {
			t.Errorf("after entry %d the head is %v", want.Seq, h)
		}
	}
	b.view(func(r inventory.Reader) error {
		for i, want := range all {
			got, err := r.Entry(uint64(i + 1))
			if err != nil {
				return err
			}
			if err := sameEntry(got, want); err != nil {
				t.Error("read:", err)
			}
		}
		if _, err := r.Entry(6); !errors.Is(err, inventory.ErrNoEntry) {
			t.Errorf("entry 6: error %v, want ErrNoEntry", err)
		}
		return nil
	})
}

func testParts(t *testing.T, target Target) {
	b := setUp(t, target)
	b.change()
	r := b.append(inventory.Request{
		Actor: "user-1", Key: "k", Digest: journal.Sum(nil),
		Decide: Drafts(Change(Put("ix", "a", "1")), inventory.Draft{Kind: "test.said"}, Change(Put("ix", "a", "2"))),
	})
	if len(r.Entries) != 3 {
		t.Fatalf("%d entries, want 3", len(r.Entries))
	}
	for i, e := range r.Entries {
		if e.Seq != uint64(i+2) || e.Part != i || e.Parts != 3 || e.Key != "k" || e.Digest != journal.Sum(nil) {
			t.Errorf("entry %+v", e)
		}
		if e.Recorded != r.Entries[0].Recorded {
			t.Errorf("part %d was recorded at another time than part 0", i)
		}
	}
	b.wantRow("ix", "a", "2")
}

func testTimes(t *testing.T, target Target) {
	b := setUp(t, target)
	first := b.change().Entries[0]
	if !first.Recorded.Equal(Start()) || !first.Happened.Equal(first.Recorded) {
		t.Errorf("recorded %v, happened %v, want %v for both", first.Recorded, first.Happened, Start())
	}
	b.clock.Set(Start().Add(-time.Hour))
	if e := b.change().Entries[0]; !e.Recorded.Equal(Start()) || !e.Happened.Equal(Start()) {
		t.Errorf("with the clock set back: recorded %v, happened %v, want %v", e.Recorded, e.Happened, Start())
	}
	b.reopen()
	if e := b.change().Entries[0]; !e.Recorded.Equal(Start()) {
		t.Errorf("with the clock set back, opened again: recorded %v, want %v", e.Recorded, Start())
	}
	b.clock.Set(Start().Add(time.Hour).In(time.FixedZone("", -7*3600)))
	e := b.change().Entries[0]
	if !e.Recorded.Equal(Start().Add(time.Hour)) || e.Recorded.Location() != time.UTC {
		t.Errorf("recorded %v, want %v in UTC", e.Recorded, Start().Add(time.Hour))
	}
	_, err := b.store.Append(b.ctx, inventory.Request{
		Actor: "user-1", Decide: Drafts(inventory.Draft{Kind: "test.said", Happened: time.Date(3000, 1, 1, 0, 0, 0, 0, time.UTC)}),
	})
	if err == nil {
		t.Error("an entry of the year 3000 was taken: 64 bits of nanoseconds don't reach so far")
	}
	b.wantHead(4)
}

func testUnit(t *testing.T, target Target) {
	b := setUp(t, target)
	unit := b.store.Unit()
	if len(unit) != 8 {
		t.Errorf("the unit's id %q has not 8 characters", unit)
	}
	for _, c := range unit {
		if (c < '0' || c > '9') && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') {
			t.Errorf("the unit's id %q has a %q", unit, c)
		}
	}
	b.reopen()
	if again := b.store.Unit(); again != unit {
		t.Errorf("opened again, the unit's id is %q, and was %q", again, unit)
	}
	if other := setUp(t, target).store.Unit(); other == unit {
		t.Errorf("two journals have the unit's id %q", unit)
	}
}

func testReopen(t *testing.T, target Target) {
	b := setUp(t, target)
	b.change(Put("ix", "a", "1"), Put("ix", "b", "2"), Put("other", "a", "3"))
	want := b.change(Delete("ix", "a"), Put("ix", "c", "")).Entries[0]
	head := b.head()
	b.reopen()
	if h := b.head(); h != head {
		t.Errorf("opened again, the head is %v, and was %v", h, head)
	}
	b.view(func(r inventory.Reader) error {
		got, err := r.Entry(2)
		if err != nil {
			return err
		}
		return sameEntry(got, want)
	})
	b.wantRow("ix", "a", "-")
	b.wantRow("ix", "b", "2")
	b.wantRow("ix", "c", "")
	b.wantRow("other", "a", "3")
	if e := b.change().Entries[0]; e.Seq != 3 || e.Prev != head.Hash {
		t.Errorf("the next entry is %d after %v, want 3 after %v", e.Seq, e.Prev, head.Hash)
	}
}

func testLargeBody(t *testing.T, target Target) {
	b := setUp(t, target)
	body := bytes.Repeat([]byte("0123456789abcdef"), 1<<16) // 1 MiB
	b.append(inventory.Request{Actor: "user-1", Decide: Drafts(inventory.Draft{Kind: "test.said", Body: body})})
	b.change(Put("ix", "big", string(body)))
	b.reopen()
	b.view(func(r inventory.Reader) error {
		e, err := r.Entry(1)
		if err != nil {
			return err
		}
		if !bytes.Equal(e.Body, body) {
			t.Errorf("a body of %d bytes came back as one of %d", len(body), len(e.Body))
		}
		return nil
	})
	if got := b.get("ix", "big"); got != string(body) {
		t.Errorf("a value of %d bytes came back as one of %d", len(body), len(got))
	}
}
