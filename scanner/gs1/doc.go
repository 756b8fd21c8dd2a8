// Package gs1 reads what GS1 symbols say: element strings, the same in
// brackets, and Digital Link URIs.
//
// # Element strings
//
// A GS1 symbol carries pairs of an application identifier (AI) and a value, run
// together: 01 09506000117843 17 271231 10 LOT42. The digits of the identifier
// say how the value is built. For some the length is predefined by the first
// two digits, and the next identifier follows at once; every other value ends
// at a separator (FNC1 in the symbol, U+001D as transmitted) or at the end. A
// fixed length is not the same as a predefined one: AI (7003) always has ten
// digits and needs a separator all the same.
//
//	els, err := gs1.Parse("01095060001178431727123110LOT42", time.Now())
//
// The elements come in the order carried and with repeats, because a map would
// lose both. Parse checks everything that the table says of a value (lengths,
// character sets, check digits, dates, country, currency and package codes)
// and the exclusions between identifiers. A missing partner (an expiry without
// a GTIN) is no error, because it often stands in the label's other symbol:
// Missing lists them.
//
// The same with each identifier in brackets, (01)09506000117843(10)LOT42, is what
// is printed below a symbol and typed by people; ParseBracketed reads that. The
// brackets are never in the symbol.
//
// # GTINs
//
// A GTIN names a product in one of its packs. It has 8, 12, 13 or 14 digits and
// is compared with zeros in front as one of 14 (PadGTIN). The first of the 14 is
// 0 for the base pack and 1 to 8 for packs of it, each level a number of its own.
// The last is a check digit: the others are multiplied by 3, 1, 3, … from the
// right, and it fills the sum up to a multiple of ten (CheckDigit). So one wrong
// digit is always seen, and one number of ten fits by chance. Eight digits can be
// an EAN-8, or a UPC-E that stands for twelve (ReadEight). A US National Drug Code
// is inside a GTIN that begins, after the first digit, with 03 (NDC10).
//
// # Digital Links
//
// A QR code may hold a web address instead: https://id.gs1.org/01/09520123456788
// /10/LOT42?17=271231. The path holds a primary key and its qualifiers in a fixed
// order (22, 10, 21 behind a GTIN), the query the other elements; whatever stands
// before the key is anybody's. ParseLink reads the path from the right, undoes
// percent-encoding, and takes forms that are met and not allowed (words such as
// /gtin/ and /lot/, short GTINs, a lot in the query) with a warning.
//
// # Dates
//
// Years have two digits. Which century is meant depends on today (51 to 99
// years ahead are in the last century, 50 to 99 behind in the next), so every
// function that reads dates takes the time as an argument. Day 00 means the
// last day of the month; it is no longer allowed on regulated healthcare items
// (GSCN 21-040) and still on shelves. In the identifiers whose rule is yymmdd
// and not yymmd0, such as (7003), it is an error.
//
// # The table
//
// table_gen.go is generated (go generate) from testdata/ai-table.tsv, which is
// derived from the GS1 Barcode Syntax Dictionary, release 2026-01-27
// (Apache-2.0, © GS1 AISBL and others). A test generates it again and compares.
//
// # What is not checked
//
//   - Whether a company prefix is assigned, and how long it is: that is GS1's
//     own register. Four digits at its place are what is asked for.
//   - National reimbursement numbers (710 to 717), NATO stock numbers (7001),
//     IMEI and eSIM numbers (8040 to 8043): length and characters only.
//   - Code lists that the table does not name a rule for, such as the aquatic
//     species of (7008) or the production methods of (7010).
//   - The order of the two dates of (7007).
//   - That a key signed by (8030) is one with a serial component.
//   - The length of an IBAN by country; its check digits are checked.
//   - A Digital Link in compressed form is reported as one without a key.
package gs1
