package scanner_test

import (
	"testing"
	"time"

	"lotbook/scanner"
)

func read(t testing.TB, lines ...string) []scanner.Code {
	t.Helper()
	var out []scanner.Code
	for _, l := range lines {
		cs := scanner.Read(l, opts)
		if len(cs) == 0 {
			t.Fatalf("%q: nothing", l)
		}
		out = append(out, cs...)
	}
	return out
}

// The HIBC texts are ours but for their form; the link of each secondary symbol
// is the check character of its primary one (ANSI/HIBC 2.6, 2.2.2.1).
func TestJoin(t *testing.T) {
	const (
		di1, pi1 = "]C10109506000117843", "]C11727123110LOT1"
		di2, pi2 = "]C10109506000134352", "]C11728013110LOT2"
		primary  = "+A123BJC5D6E71G"
		sec      = "+$$52001510X3GD"
	)
	type want struct{ gtin, lot string }
	for name, c := range map[string]struct {
		lines []string
		want  []want
	}{
		"product first":           {[]string{di1, pi1}, []want{{"09506000117843", "LOT1"}}},
		"lot first":               {[]string{pi1, di1}, []want{{"09506000117843", "LOT1"}}},
		"second product closes":   {[]string{di1, di2, pi2}, []want{{"09506000117843", ""}, {"09506000134352", "LOT2"}}},
		"same product twice":      {[]string{di1, di1}, []want{{"09506000117843", ""}, {"09506000117843", ""}}},
		"two packs, lots first":   {[]string{pi1, di1, pi2, di2}, []want{{"09506000117843", "LOT1"}, {"09506000134352", "LOT2"}}},
		"lot in two symbols":      {[]string{di1, "]C117271231", "]C110LOT1"}, []want{{"09506000117843", "LOT1"}}},
		"contradicting lot":       {[]string{di1, pi1, "]C110OTHER"}, []want{{"09506000117843", "LOT1"}, {"", "OTHER"}}},
		"whole label and another": {[]string{"]d2010950600011784310A\x1d", di2}, []want{{"09506000117843", "A"}, {"09506000134352", ""}}},
		"hibc":                    {[]string{primary, sec}, []want{{"", "10X3"}}},
		"hibc, lot first":         {[]string{sec, primary}, []want{{"", "10X3"}}},
		"hibc, another link":      {[]string{primary, "+$3C001LV"}, []want{{"", ""}, {"", "3C001"}}},
		"iccbba":                  {[]string{"=/A9997XYZ100T0479", "=,000012", "=>028031", "&,1000000000000XYZ123"}, []want{{"", "XYZ123"}}},
		"iccbba, lot first":       {[]string{"&,1000000000000XYZ123", "=>028031", "=/A9997XYZ100T0479"}, []want{{"", "XYZ123"}}},
		"iccbba, two products":    {[]string{"=/A9997XYZ100T0479", "=/A9997XYZ100T0480", "&,1000000000000XYZ123"}, []want{{"", ""}, {"", "XYZ123"}}},
		"iccbba, another serial":  {[]string{"=/A9997XYZ100T0479", "=,000012", "=,000013"}, []want{{"", ""}, {"", ""}}},
		"two agencies":            {[]string{di1, sec}, []want{{"09506000117843", ""}, {"", "10X3"}}},
		"EAN-13 and secondary":    {[]string{"]E09506000117843", pi1}, []want{{"09506000117843", "LOT1"}}},
		"plain text between":      {[]string{di1, "HELLO", pi1}, []want{{"09506000117843", "LOT1"}, {"", ""}}},
		"error first":             {[]string{"]C11713", di1, pi1}, []want{{"", ""}, {"09506000117843", "LOT1"}}},
		"exclusive":               {[]string{di1, "]C137" + "5"}, []want{{"09506000117843", ""}, {"", ""}}},
	} {
		got := scanner.Join(read(t, c.lines...))
		if len(got) != len(c.want) {
			t.Errorf("%s: %d codes, want %d: %+v", name, len(got), len(c.want), got)
			continue
		}
		for i, w := range c.want {
			if got[i].GTIN != w.gtin || got[i].Lot != w.lot {
				t.Errorf("%s: code %d is %q %q, want %q %q", name, i, got[i].GTIN, got[i].Lot, w.gtin, w.lot)
			}
		}
	}
}

// The missing partner is found on the other symbol, so the warning goes.
func TestJoinWarnings(t *testing.T) {
	cs := read(t, "]C11727123110LOT1", "]C10109506000117843")
	if len(cs[0].Warnings) == 0 {
		t.Fatal("no warning about the missing GTIN")
	}
	j := scanner.Join(cs)
	if len(j) != 1 || len(j[0].Warnings) != 0 {
		t.Errorf("%+v", j)
	}
}

// A lot that is in doubt stays in doubt when its product is found.
func TestJoinDoubt(t *testing.T) {
	cs := read(t, "]C10109506000117843", "1727123110LOT4221SN7")
	j := scanner.Join(cs)
	if len(j) != 1 || j[0].GTIN != "09506000117843" || j[0].Lot != "" || len(j[0].Candidates) < 2 {
		t.Fatalf("%+v", j)
	}
	for _, k := range j[0].Candidates {
		if k.GTIN != "09506000117843" || k.Expires != "2027-12-31" || k.Elements[0].AI != "01" {
			t.Errorf("candidate %+v", k)
		}
	}
}

func TestJoinerWithin(t *testing.T) {
	cs := read(t, "]C10109506000117843", "]C110LOT1")
	j := scanner.Joiner{Within: 5 * time.Second}
	if out := j.Add(cs[0], now); len(out) != 0 {
		t.Fatalf("%+v", out)
	}
	if out := j.Add(cs[1], now.Add(6*time.Second)); len(out) != 1 || out[0].Lot != "" {
		t.Fatalf("joined after its time: %+v", out)
	}
	if out := j.Flush(); len(out) != 1 || out[0].Lot != "LOT1" || out[0].GTIN != "" {
		t.Fatalf("%+v", out)
	}
	if out := j.Flush(); len(out) != 0 {
		t.Fatalf("%+v", out)
	}
}
