// Package scanner turns what a scanner sends into what a pack says: product,
// lot, serial, dates.
//
//	codes := scanner.Read(line, scanner.Options{Now: time.Now()})
//	for _, label := range scanner.Join(codes) {
//		fmt.Println(label.GTIN, label.Lot, label.Expires)
//	}
//
// Text comes in two ways, and they differ in how far it can be trusted:
//
//   - Read takes a line that a keyboard scanner or a person typed. Keyboards
//     lose separators, swap the case of letters and the places of keys.
//   - FromSymbol takes the exact text of a symbol that was decoded from a
//     picture (package picture).
//
// Both return a Code. Its grammar is one of the Carriers: GS1 element strings
// (package gs1), GS1 Digital Links, HIBC and ICCBBA (package hibc), or plain text
// that no grammar claims.
//
// # How a line is read
//
// A symbology identifier (]d2) says what a text is, and that its first
// characters arrived. Without one the grammar is seen from how the text begins.
// What then may have gone wrong is looked at in this order; each leaves a Warning:
//
//  1. The separators: wedge.ReadGS1 puts them where they must be, or lists where
//     they may be.
//  2. Two symbols in one line with nothing between them (together.go).
//  3. Caps Lock and keyboard layouts, where the text can't be read as it is, or a
//     letter in it was taken for a separator (mend.go).
//  4. The start: its first character lost, or something in front (front.go).
//
// Something is put right alone only where it proves itself: by an identifier, by
// a GTIN with its check digit at the start, by a check character of HIBC, or
// because no value may hold a character. One GTIN of ten fits by chance, so
// whatever else fits as well is listed beside it.
//
// # Doubt
//
// A text that fits several readings is never decided silently. The Code then
// lists all of them as Candidates, best first, and leaves empty what they
// disagree on; or it has taken the first, says so (Chosen) and why (Warnings).
// TestAdverse and the tests of mangle_test.go hold this: they mangle symbols
// of all kinds in every way above, and a reading that is wrong without a word
// fails them. What no reader of text can see is told in package wedge.
//
// # Symbols of one label
//
// Many labels carry the product in one symbol and the lot and the expiry in
// another. Join and Joiner put them together, in any order, and never across
// two packs.
//
// # Bounds
//
// A text longer than MaxLength is refused. No text costs more than some
// milliseconds (BenchmarkLength); one with its identifier and separators costs
// half a microsecond with AppendRead.
package scanner
