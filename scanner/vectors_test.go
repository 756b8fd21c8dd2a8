package scanner_test

import (
	"bufio"
	"encoding/json"
	"os"
	"slices"
	"testing"
	"time"

	"lotbook/scanner"
)

// now is the date by which the cases of testdata/codes.jsonl were computed.
var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

var opts = scanner.Options{Now: now, Source: "-"}

// A vector is one case of testdata/codes.jsonl. Its expected values come from
// GS1's C syntax engine 1.4.1 and other reference libraries; each line names
// its own source.
type vector struct {
	ID, Kind, Input, Error, GTIN, Source string
	Expect, Dates                        map[string]string
	Warn                                 []string
}

func vectors(t testing.TB) []vector {
	t.Helper()
	f, err := os.Open("testdata/codes.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []vector
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		var v vector
		if err := json.Unmarshal(sc.Bytes(), &v); err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	if sc.Err() != nil || len(out) != 80 {
		t.Fatalf("%d cases, %v", len(out), sc.Err())
	}
	return out
}

func TestVectors(t *testing.T) {
	for _, v := range vectors(t) {
		t.Run(v.ID+" "+v.Kind, func(t *testing.T) {
			cs := scanner.Read(v.Input, opts)
			if len(cs) != 1 {
				t.Fatalf("%q: %d codes", v.Input, len(cs))
			}
			v.check(t, cs[0])
		})
	}
}

func (v vector) check(t *testing.T, c scanner.Code) {
	t.Helper()
	if v.Error != "" {
		if c.Error == nil || c.Error.Code != v.Error {
			t.Fatalf("%q: error %v, want %s", v.Input, c.Error, v.Error)
		}
		if len(c.Elements)+len(c.Candidates) > 0 || c.GTIN+c.Lot+c.Serial+c.Expires != "" {
			t.Errorf("%q: something was guessed: %+v", v.Input, c)
		}
		return
	}
	if c.Error != nil {
		t.Fatalf("%q: %v", v.Input, c.Error)
	}
	got := map[string]string{}
	for _, e := range c.Elements {
		got[e.AI] = e.Value
	}
	if len(got) != len(v.Expect) {
		t.Errorf("%q: elements %v, want %v", v.Input, got, v.Expect)
	}
	for ai, want := range v.Expect {
		if got[ai] != want {
			t.Errorf("%q: %s is %q, want %q", v.Input, ai, got[ai], want)
		}
	}
	members := map[string]string{"01": c.GTIN, "10": c.Lot, "21": c.Serial, "lot": c.Lot, "serial": c.Serial, "exp": c.Expires, "mfg": c.Made}
	for name, got := range members {
		if want, ok := v.Expect[name]; ok && got != want {
			t.Errorf("%q: member for %s is %q, want %q", v.Input, name, got, want)
		}
	}
	dates := map[string]string{"17": c.Expires, "11": c.Made, "7003": c.Expires}
	for ai, want := range v.Dates {
		if dates[ai] != want {
			t.Errorf("%q: date of %s is %q, want %q", v.Input, ai, dates[ai], want)
		}
	}
	if v.GTIN != "" && c.GTIN != v.GTIN {
		t.Errorf("%q: GTIN %q, want %q", v.Input, c.GTIN, v.GTIN)
	}
	for _, w := range v.Warn {
		if !slices.ContainsFunc(c.Warnings, func(have scanner.Warning) bool { return have.Code == w }) {
			t.Errorf("%q: no warning %s in %v", v.Input, w, c.Warnings)
		}
	}
}
