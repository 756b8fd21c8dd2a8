// Package scanner turns what a scanner sends into what a pack says: product,
// lot, serial, dates.
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
// # Doubt
//
// A text that fits several readings is never decided silently. The Code then
// lists all of them as Candidates, best first, and leaves empty what they
// disagree on; see Code for the exact rules.
//
// # Symbols of one label
//
// Many labels carry the product in one symbol and the lot and the expiry in
// another. Join and Joiner put them together, in any order, and never across
// two packs.
package scanner
