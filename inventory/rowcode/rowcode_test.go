package rowcode_test

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory/rowcode"
)

// Keys compare as what they hold: the promise that every index rests on.
func TestKeysSortAsWhatTheyHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type part struct {
			s string
			n int64
		}
		gen := rapid.Custom(func(t *rapid.T) part {
			return part{rapid.StringMatching(`[A-Z0-9 /\x01\xff]{0,4}`).Draw(t, "s"), rapid.Int64().Draw(t, "n")}
		})
		a, b := gen.Draw(t, "a"), gen.Draw(t, "b")
		key := func(p part) []byte {
			return rowcode.AppendTime(rowcode.AppendText(nil, p.s), time.Unix(0, p.n))
		}
		want := 0
		switch {
		case a.s < b.s, a.s == b.s && a.n < b.n:
			want = -1
		case a.s > b.s, a.s == b.s && a.n > b.n:
			want = 1
		}
		if got := bytes.Compare(key(a), key(b)); got != want {
			t.Fatalf("%v and %v compare as %d, want %d", a, b, got, want)
		}
		k := rowcode.ReadKey(key(a))
		if s, at := k.Text(), k.Time(); s != a.s || at.UnixNano() != a.n || k.Err() != nil {
			t.Fatalf("read %q %v %v, want %v", s, at, k.Err(), a)
		}
	})
}

func TestValuesComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "s")
		i := rapid.Int64().Draw(t, "i")
		u := rapid.Uint64().Draw(t, "u")
		f := rapid.Bool().Draw(t, "f")
		var at time.Time
		if rapid.Bool().Draw(t, "has time") {
			at = time.Unix(0, rapid.Int64().Draw(t, "ns")).UTC()
		}
		e := rowcode.NewEnc(7, 16)
		e.Text(s)
		e.Int(i)
		e.Uint(u)
		e.Flag(f)
		e.Time(at)
		cut := rapid.IntRange(0, len(e.Bytes())-1).Draw(t, "cut")
		for _, dec := range []func(byte, []byte) *rowcode.Dec{rowcode.NewDec, rowcode.NewTextDec} {
			d := dec(7, e.Bytes())
			if gs, gi, gu, gf, gt := d.Text(), d.Int(), d.Uint(), d.Flag(), d.Time(); gs != s || gi != i || gu != u || gf != f || !gt.Equal(at) || d.Err() != nil {
				t.Fatalf("got %q %d %d %v %v (%v)", gs, gi, gu, gf, gt, d.Err())
			}
			d = dec(7, e.Bytes()[:cut])
			d.Text()
			d.Int()
			d.Uint()
			d.Flag()
			d.Time()
			if d.Text() != "" || !errors.Is(d.Err(), rowcode.ErrValue) {
				t.Fatalf("a value cut at %d of %d was read", cut, len(e.Bytes()))
			}
		}
	})
}
