package inventorytest

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

func testRows(t *testing.T, target Target) {
	b := setUp(t, target)
	b.change(Put("ix", "a", "1"), Put("ix", "empty", ""), Put("xi", "a", "2"), Put("ix2", "a", "3"))
	b.wantRow("ix", "a", "1")
	b.wantRow("ix", "empty", "") // an empty value is not an absent row
	b.wantRow("xi", "a", "2")
	b.wantRow("ix2", "a", "3")
	b.wantRow("ix", "b", "-")
	b.wantRow("ix", "", "-")
	b.change(Put("ix", "a", "longer than before"), Delete("xi", "a"), Delete("xi", "never was"), Delete("none", "a"))
	b.wantRow("ix", "a", "longer than before")
	b.wantRow("xi", "a", "-")
	b.wantRow("ix2", "a", "3")
	b.change(Put("ix", "a", "1"), Delete("ix", "a"), Delete("xi", "a"), Put("xi", "a", "4"))
	b.wantRow("ix", "a", "-")
	b.wantRow("xi", "a", "4")
}

// testRowsAreCopied: Put copies, so the caller may use its memory again.
func testRowsAreCopied(t *testing.T, target Target) {
	b := setUp(t, target)
	key, value, body := []byte("key"), []byte("value"), []byte(`[{"index":"ix","key":"a2V5","value":"dmFsdWU="}]`)
	b.append(inventory.Request{Actor: "user-1", Decide: Drafts(inventory.Draft{
		Kind: "test.changed", Body: body,
		Rows: func(w inventory.Writer, e journal.Entry) error {
			if err := w.Put("ix", key, value); err != nil {
				return err
			}
			copy(key, "KEY")
			copy(value, "VALUE")
			return nil
		},
	})})
	b.wantRow("ix", "key", "value")
	b.wantRow("ix", "KEY", "-")
}

// keys are rows of an index that begin with a, b, c and so on, so that a prefix
// has neighbours on both sides, and the bytes at both ends of their range.
var keys = []string{
	"\x00", "\x00\x00", "a", "a\x00", "aa", "ab", "b", "ba", "b\xff", "b\xff\xff", "c",
	"\xfe", "\xfe\xff", "\xff", "\xff\x00", "\xff\xff", "\xff\xff\x01", "\xff\xff\xff",
}

// bounds are the prefixes and starting points that are tried with keys: all of
// them, what lies between them, and what lies outside.
func bounds() []string {
	all := append([]string{"", "A", "aab", "b\xfe", "bb", "d", "\xfd", "\xff\xfe", "\xff\xff\xff\xff", "\x00\x00\x00"}, keys...)
	slices.Sort(all)
	return all
}

func fill(b *bench) {
	b.Helper()
	var ops []Op
	for _, i := range []int{5, 0, 17, 3, 11, 8, 14, 1, 16, 9, 2, 12, 7, 4, 15, 6, 10, 13} {
		ops = append(ops, Put("ix", keys[i], "value of "+keys[i]))
	}
	b.change(append(ops, Put("iw", "a", "not this"), Put("ix1", "a", "not this"))...)
}

// wantScan is what the contract says that a scan gives, worked out from a list
// in the order of its bytes.
func wantScan(rows []string, prefix string, from *string, back bool) []string {
	var want []string
	for _, k := range rows {
		switch {
		case !strings.HasPrefix(k, prefix):
		case from != nil && !back && k < *from:
		case from != nil && back && k > *from:
		default:
			want = append(want, k)
		}
	}
	if back {
		slices.Reverse(want)
	}
	return want
}

func scan(r inventory.Reader, ix inventory.Index, prefix string, from *string, back bool) ([]string, error) {
	var got []string
	var start []byte
	if from != nil {
		start = []byte(*from)
	}
	do := r.Scan
	if back {
		do = r.ScanBack
	}
	err := do(ix, []byte(prefix), start, func(k, v []byte) error {
		if string(v) != "value of "+string(k) {
			return fmt.Errorf("the scan gives row %q the value %q", k, v)
		}
		got = append(got, string(k))
		return nil
	})
	return got, err
}

func testScan(t *testing.T, target Target)     { testScans(t, target, false) }
func testScanBack(t *testing.T, target Target) { testScans(t, target, true) }

// testScans tries every prefix with every starting point, in a View and in the
// transaction of an append.
func testScans(t *testing.T, target Target, back bool) {
	b := setUp(t, target)
	fill(b)
	try := func(r inventory.Reader) error {
		n := 0
		for _, prefix := range bounds() {
			froms := []*string{nil}
			for _, f := range bounds() {
				froms = append(froms, &f)
			}
			for _, from := range froms {
				got, err := scan(r, "ix", prefix, from, back)
				if err != nil {
					return err
				}
				want := wantScan(keys, prefix, from, back)
				if !slices.Equal(got, want) {
					f := "nil"
					if from != nil {
						f = fmt.Sprintf("%q", *from)
					}
					t.Errorf("prefix %q from %s: %q, want %q", prefix, f, got, want)
				}
				n += len(got)
			}
		}
		if n == 0 {
			t.Error("no scan found anything")
		}
		return nil
	}
	b.view(try)
	b.append(inventory.Request{Actor: "user-1", Decide: func(r inventory.Reader) ([]inventory.Draft, error) { return nil, try(r) }})
}

func testScanEnds(t *testing.T, target Target) {
	b := setUp(t, target)
	fill(b)
	b.view(func(r inventory.Reader) error {
		for _, do := range []func(inventory.Index, []byte, []byte, func(k, v []byte) error) error{r.Scan, r.ScanBack} {
			n := 0
			err := do("ix", nil, nil, func(_, _ []byte) error {
				if n++; n == 3 {
					return fmt.Errorf("enough: %w", inventory.ErrStop)
				}
				return nil
			})
			if err != nil || n != 3 {
				t.Errorf("ErrStop at the third row: error %v after %d rows", err, n)
			}
			n = 0
			err = do("ix", nil, nil, func(_, _ []byte) error { n++; return errTest })
			if !errors.Is(err, errTest) || n != 1 {
				t.Errorf("an error at the first row: error %v after %d rows", err, n)
			}
		}
		return nil
	})
}

// testScanInScan: a scan's function may read, the same index too.
func testScanInScan(t *testing.T, target Target) {
	b := setUp(t, target)
	fill(b)
	b.change(Put("other", "a", "value of a"))
	b.view(func(r inventory.Reader) error {
		var outer []string
		err := r.Scan("ix", nil, nil, func(k, v []byte) error {
			outer = append(outer, string(k))
			from := string(k)
			got, err := scan(r, "ix", "", &from, len(outer)%2 == 0)
			if want := wantScan(keys, "", &from, len(outer)%2 == 0); !slices.Equal(got, want) {
				t.Errorf("the scan in the scan: %q, want %q", got, want)
			}
			if again, gerr := r.Get("ix", k); gerr != nil || string(again) != string(v) {
				t.Errorf("Get in the scan: %q (%v), want %q", again, gerr, v)
			}
			if _, serr := scan(r, "other", "", nil, false); serr != nil {
				return serr
			}
			return err
		})
		if !slices.Equal(outer, keys) {
			t.Errorf("the outer scan: %q, want %q", outer, keys)
		}
		return err
	})
}

// testScanMany: an index that fills many pages, with rows deleted again, by
// prefix in both directions.
func testScanMany(t *testing.T, target Target) {
	b := setUp(t, target)
	var rows []string
	var ops []Op
	for i := range 3000 {
		k := fmt.Sprintf("%02d|%04d", i*7919%40, i)
		ops = append(ops, Put("ix", k, "value of "+k))
		if i%5 != 0 {
			rows = append(rows, k)
		}
	}
	b.change(ops...)
	ops = ops[:0]
	for i := 0; i < 3000; i += 5 {
		ops = append(ops, Delete("ix", fmt.Sprintf("%02d|%04d", i*7919%40, i)))
	}
	b.change(ops...)
	slices.Sort(rows)
	b.view(func(r inventory.Reader) error {
		for i := range 41 {
			prefix := fmt.Sprintf("%02d|", i)
			for _, back := range []bool{false, true} {
				got, err := scan(r, "ix", prefix, nil, back)
				if err != nil {
					return err
				}
				if want := wantScan(rows, prefix, nil, back); !slices.Equal(got, want) {
					t.Errorf("prefix %q, back %v: %d rows, want %d", prefix, back, len(got), len(want))
				}
			}
		}
		return nil
	})
}
