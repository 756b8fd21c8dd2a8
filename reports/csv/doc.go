// Package csv writes a [reports.Table] as comma-separated values, RFC 4180,
// in UTF-8. It is for programs; what a person opens should be the workbook of
// [lotbook/reports/xlsx], as this format has no way to say what a field is.
//
// # Fields
//
//   - Text, headers too, always stands in quotes, so that a program that can
//     read quoted fields as text keeps the leading zeros of a GTIN. It is
//     guarded, see below.
//   - Everything else stands without quotes: whole numbers and decimals with a
//     point, no separator between thousands, exact; dates as 2027-03-31;
//     instants as RFC 3339 in the zone given, with its offset; durations in
//     minutes; yes or no; a blank as nothing.
//   - A mark, a word in place of a value, stands in parentheses: (not
//     recorded). It has quotes only if it holds a comma or a quote.
//
// # The guard
//
// A program that opens such a file may take text that begins with = + - @ for
// a formula, whatever its quotes. A text that begins with one of these, with a
// full-width form of one, or with an apostrophe, therefore gets an apostrophe
// before it:
//
//	=1+1   ->  "'=1+1"
//	'a     ->  "''a"
//
// Nothing else begins with an apostrophe, so that [Unguard] gives back every
// text exactly: a lot number stays what it was. This holds where the file is
// read as what it is, with commas between fields. A program that is told to
// part fields at another character can make fields begin anywhere, and no
// guard helps.
//
// Control characters and bytes that aren't UTF-8 are drawn as
// [reports.Visible] does, line breaks included, so that a record is a line.
package csv
