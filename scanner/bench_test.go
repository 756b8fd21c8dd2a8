package scanner_test

import (
	"fmt"
	"strings"
	"testing"

	"lotbook/scanner"
	"lotbook/scanner/gs1"
)

// udi is a device label of five identifiers, two of them of variable length.
const udi = "0109506000117843112612311728123110A213B1\x1d211234567"

// BenchmarkParseUDI is the parser by itself: split and check every value.
func BenchmarkParseUDI(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := gs1.Parse(udi, now); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkAppendUDI is the parser into memory that the caller provides.
func BenchmarkAppendUDI(b *testing.B) {
	b.ReportAllocs()
	els := make([]gs1.Element, 0, 8)
	for b.Loop() {
		var err error
		if els, err = gs1.Append(els[:0], udi, now); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkReadUDI is all of it: from a scanned line to a Code with GTIN, lot,
// serial and dates.
func BenchmarkReadUDI(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if cs := scanner.Read("]d2"+udi, opts); cs[0].Error != nil {
			b.Fatal(cs[0].Error)
		}
	}
}

// BenchmarkAppendReadUDI is the same into memory that is used again.
func BenchmarkAppendReadUDI(b *testing.B) {
	b.ReportAllocs()
	var cs []scanner.Code
	for b.Loop() {
		if cs = scanner.AppendRead(cs[:0], "]d2"+udi, opts); cs[0].Error != nil {
			b.Fatal(cs[0].Error)
		}
	}
}

func BenchmarkFromSymbolUDI(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if c := scanner.FromSymbol("]d2", udi, opts); c.Error != nil {
			b.Fatal(c.Error)
		}
	}
}

// BenchmarkReadLostSeparator searches the readings of a line without separator.
func BenchmarkReadLostSeparator(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if cs := scanner.Read("01095060001178431728123110LOT4221SN7", opts); len(cs[0].Candidates) < 2 {
			b.Fatalf("%+v", cs)
		}
	}
}

// BenchmarkLength shows what a text costs by its length, whatever it is made of.
// Up to 200 bytes, more than a label carries, other layouts and a second code are
// looked for, up to 400 lost separators, with bounds of their own (maxMended,
// maxSearch, maxWork): no text costs more than some milliseconds. From there on
// ns/byte stays the same or falls, up to MaxLength; longer texts are refused.
func BenchmarkLength(b *testing.B) {
	for _, kind := range []struct{ name, unit string }{
		{"digits", "0109506000117843"},
		{"lost separators", "10A21B17271231"},
		{"another layout", "à&à)(àçàè&&"},
		{"hibc", "+A123BJC5D6E71G"},
		{"separators", "21A\x1d"},
		{"letters", "LOT"},
		{"brackets", "(01)09506000117843(10)A"},
		{"link", "https://a.b/01/09506000117843"},
	} {
		for _, n := range []int{50, 100, 200, 400, 1000, 4096} {
			text := strings.Repeat(kind.unit, n/len(kind.unit)+1)[:n]
			b.Run(fmt.Sprintf("%s/%d", kind.name, n), func(b *testing.B) {
				for b.Loop() {
					scanner.Read(text, opts)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/byte")
			})
		}
	}
}
