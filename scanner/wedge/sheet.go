package wedge

// The test sheet. Four codes whose texts are known show what a scanner does to
// text: whatever differs was done on the way.
//
//	1  Code 128         letters in both cases, and digits    Caps Lock, layout
//	2  Code 128         the marks that all layouts have      layout
//	3  GS1-128          three values with separators between separator, symbology identifier
//	4  GS1 DataMatrix   the same with other values           the same for the other kind of symbol
//
// What stands before and after the text in all of them is the scanner's prefix
// and suffix. Codes 3 and 4 are both needed because scanners have settings of
// their own for each symbology; a scanner that reads only linear symbols does
// without 4. The marks of code 2 are on keys of their own, alone or with Shift,
// in every layout that is known here, so that no scanner has to type them with
// AltGr, which no other computer would understand.

// A SheetCode is one code of the test sheet.
type SheetCode struct {
	// Number is printed beside it, from 1.
	Number int
	// Symbology is the AIM identifier of the symbol: ]C0, ]C1 or ]d2.
	Symbology string
	// Text is what the symbol holds, with each separator as U+001D and
	// without the FNC1 in front.
	Text string
}

// sheet has GTINs of the range that GS1 keeps for documentation (0950…).
var sheet = [...]SheetCode{
	{1, "]C0", "1aQwZymAqWzYM09"},
	{2, "]C0", `3!"%&/()=?'+*-_.:,;2`},
	{3, "]C1", "0109506000117843" + "10Lb3W" + gs + "21Qy7" + gs + "240Z5"},
	{4, "]d2", "0109506000134352" + "10Lb4M" + gs + "21Az8" + gs + "240Y6"},
}

// SheetCodes returns the four codes of the test sheet.
func SheetCodes() []SheetCode { return append([]SheetCode(nil), sheet[:]...) }
