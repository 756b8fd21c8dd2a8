package scanner_test

import (
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
