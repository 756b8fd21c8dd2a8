package journal_test

import (
	"bytes"
	"encoding/hex"
	"errors"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory/journal"
)

// goldenBytes are the canonical bytes of golden, put together by hand from the
// table beside AppendCanonical. goldenSum is what coreutils' sha256sum prints
// for them (echo ... | xxd -r -p | sha256sum).
const (
	goldenBytes = "01" +
		"0000000000000002" + // seq
		"1911e170cbc38d15" + // 2027-03-31T06:00:00.123456789Z
		"1911e138e34a6000" + // 2027-03-31T05:56:00Z
		"0001" + "0003" + // part 1 of 3
		"00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff" + // prev
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" + // digest: SHA-256 of nothing
		"00000002" + "7537" + // actor u7
		"0000000e" + "73746f636b2e7265636569766564" + // stock.received
		"00000003" + "6b2d31" + // key k-1
		"00000007" + "7b2261223a317d" // {"a":1}
	goldenSum = "30d0aa678172a07b31b54eee02ebeacb054f0c96dde6e27751328df39427485a"
)

func golden() journal.Entry {
	prev, _ := journal.ParseHash("00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff")
	// FIPS 180-4's hash of the empty message.
	digest, _ := journal.ParseHash("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
	return journal.Entry{
		Seq: 2, Recorded: time.Date(2027, 3, 31, 6, 0, 0, 123456789, time.UTC),
		Happened: time.Date(2027, 3, 31, 5, 56, 0, 0, time.UTC), Part: 1, Parts: 3,
		Prev: prev, Digest: digest, Actor: "u7", Kind: "stock.received", Key: "k-1", Body: []byte(`{"a":1}`),
	}
}

func TestCanonicalGolden(t *testing.T) {
	e := golden()
	got := e.AppendCanonical(nil)
	if hex.EncodeToString(got) != goldenBytes {
		t.Errorf("canonical bytes\n%x, want\n%s", got, goldenBytes)
	}
	if sum := journal.Sum(got).String(); sum != goldenSum {
		t.Errorf("sum %s, want %s", sum, goldenSum)
	}
	if n := e.CanonicalLen(); n != len(got) {
		t.Errorf("CanonicalLen %d, want %d", n, len(got))
	}
	back, err := journal.Parse(got)
	if err != nil {
		t.Fatal(err)
	}
	same(t, back, e)
	if want := []byte("before"); !bytes.Equal(e.AppendCanonical(want[:6:6])[:6], want) {
		t.Error("AppendCanonical does not append")
	}
}

type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

func same(t fataler, got, want journal.Entry) {
	t.Helper()
	if got.Seq != want.Seq || !got.Recorded.Equal(want.Recorded) || !got.Happened.Equal(want.Happened) ||
		got.Actor != want.Actor || got.Kind != want.Kind || got.Key != want.Key || got.Digest != want.Digest ||
		got.Part != want.Part || got.Parts != want.Parts || got.Prev != want.Prev || !bytes.Equal(got.Body, want.Body) {
		t.Fatalf("entry %+v, want %+v", got, want)
	}
}

func TestParseRefuses(t *testing.T) {
	good, err := hex.DecodeString(goldenBytes)
	if err != nil {
		t.Fatal(err)
	}
	for n := range len(good) {
		if _, err := journal.Parse(good[:n]); !errors.Is(err, journal.ErrMalformed) {
			t.Errorf("the first %d of %d bytes: error %v, want ErrMalformed", n, len(good), err)
		}
	}
	for name, b := range map[string][]byte{
		"a byte too many": append(bytes.Clone(good), 0),
		"version 0":       append([]byte{0}, good[1:]...),
		"version 2":       append([]byte{2}, good[1:]...),
		"a huge length":   append(bytes.Clone(good[:93]), 0xff, 0xff, 0xff, 0xff, 1),
	} {
		if _, err := journal.Parse(b); !errors.Is(err, journal.ErrMalformed) {
			t.Errorf("%s: error %v, want ErrMalformed", name, err)
		}
	}
}

func TestHashText(t *testing.T) {
	h := journal.Sum(nil)
	// FIPS 180-4's hash of the empty message.
	if s := h.String(); s != "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" {
		t.Errorf("String: %s", s)
	}
	back, err := journal.ParseHash(h.String())
	if err != nil || back != h {
		t.Errorf("ParseHash: %v, %v", back, err)
	}
	for _, s := range []string{"", "e3", h.String() + "00", "zz" + h.String()[2:]} {
		if _, err := journal.ParseHash(s); err == nil {
			t.Errorf("ParseHash(%q) gave no error", s)
		}
	}
}

func TestRepresentable(t *testing.T) {
	for _, c := range []struct {
		t    time.Time
		want bool
	}{
		{time.Date(2027, 3, 31, 0, 0, 0, 1, time.UTC), true},
		{time.Date(1678, 1, 1, 0, 0, 0, 0, time.UTC), true},
		{time.Date(2262, 4, 11, 0, 0, 0, 0, time.UTC), true},
		{time.Date(2263, 1, 1, 0, 0, 0, 0, time.UTC), false},
		{time.Date(1600, 1, 1, 0, 0, 0, 0, time.UTC), false},
		{time.Time{}, false},
	} {
		if got := journal.Representable(c.t); got != c.want {
			t.Errorf("Representable(%v) is %v", c.t, got)
		}
	}
}

// someEntry draws any entry that can be written.
var someEntry = rapid.Custom(func(t *rapid.T) journal.Entry {
	hash := rapid.Custom(func(t *rapid.T) journal.Hash {
		return journal.Hash(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "hash"))
	})
	text := rapid.StringN(0, 20, -1)
	return journal.Entry{
		Seq:      rapid.Uint64().Draw(t, "seq"),
		Recorded: time.Unix(0, rapid.Int64().Draw(t, "recorded")).UTC(),
		Happened: time.Unix(0, rapid.Int64().Draw(t, "happened")).UTC(),
		Part:     rapid.IntRange(0, 65535).Draw(t, "part"), Parts: rapid.IntRange(0, 65535).Draw(t, "parts"),
		Prev: hash.Draw(t, "prev"), Digest: hash.Draw(t, "digest"),
		Actor: text.Draw(t, "actor"), Kind: text.Draw(t, "kind"), Key: text.Draw(t, "key"),
		Body: rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "body"),
	}
})

// TestCanonicalProperty: what was written is read back, and no other bytes are
// the same entry.
func TestCanonicalProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := someEntry.Draw(t, "entry")
		b := e.AppendCanonical(nil)
		if len(b) != e.CanonicalLen() {
			t.Fatalf("%d bytes, CanonicalLen says %d", len(b), e.CanonicalLen())
		}
		back, err := journal.Parse(b)
		if err != nil {
			t.Fatal(err)
		}
		same(t, back, e)
		i := rapid.IntRange(0, len(b)*8-1).Draw(t, "bit")
		b[i/8] ^= 1 << (i % 8)
		other, err := journal.Parse(b)
		if err != nil {
			return
		}
		if !bytes.Equal(other.AppendCanonical(nil), b) {
			t.Fatal("Parse took bytes that AppendCanonical does not write")
		}
	})
}

// FuzzParse: Parse takes exactly what AppendCanonical writes.
func FuzzParse(f *testing.F) {
	good, err := hex.DecodeString(goldenBytes)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := journal.Parse(b)
		if err == nil && !bytes.Equal(e.AppendCanonical(nil), b) {
			t.Errorf("%x is read, and written as %x", b, e.AppendCanonical(nil))
		}
	})
}
