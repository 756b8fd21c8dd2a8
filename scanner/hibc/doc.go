// Package hibc reads the labels of the other two issuing agencies that US and
// European device rules accept: HIBC (ANSI/HIBC 2.6) and ICCBBA (ISBT 128).
//
// # HIBC
//
// A primary symbol names the product: a plus sign, a labeler code (LIC: a
// letter and three more characters), the product number (PCN, 1 to 18), one
// digit for the packaging level and a check character:
//
//   - A123 BJC5D6E7 1 G
//
// A secondary symbol names the lot or serial, and the expiry. Its check
// character is preceded by a link character, which repeats the check character
// of the primary symbol that it belongs to:
//
//   - $$ 5 20015 10X3 G D     Julian date 2020-015, lot 10X3, link G, check D
//
// A combined symbol holds both, with a slash between and one check character.
// Further fields follow with a slash and an identifier: /S serial, /16D date
// made, /14D expiry, /Q quantity.
//
// The check character (the sum of all characters modulo 43) can itself be a
// slash, a plus, a dollar sign or a space, and so can the link. So a text is
// never split at slashes and never trimmed before its check character is
// taken: the grammar says where it stands.
//
// # Dates of HIBC
//
// After "$$" a flag says how the expiry is written: none (or 0, 1) MMYY, 2 MMDDYY,
// 3 YYMMDD, 4 YYMMDDHH, 5 YYJJJ, 6 YYJJJHH, 7 no date; JJJ is the day of the
// year. 8 and two digits, or 9 and five, state a quantity before that. Digits
// right after the plus sign or the slash are YYJJJ. /16D and /14D have YYYYMMDD.
//
// # ICCBBA
//
// ISBT 128 puts data structures one after the other, each led by a two- or
// three-character identifier and of a fixed length: =/ product, =, serial,
// => expiry, =} date made, &,1 lot, and = alone a donation number. A matrix
// symbol holds them in one message, which =+ and the number of its parts may
// open; linear symbols hold one each, and package scanner joins them. Others of
// ST-001 are named and passed over. The codes of products are not looked up.
//
// Lower-case letters are no HIBC. What a keyboard did to a text is undone
// before it comes here (package wedge).
package hibc
