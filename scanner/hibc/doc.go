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
// # ICCBBA
//
// ISBT 128 puts fields one after the other, each led by a two-character
// identifier: =/ product, =, serial, => expiry, =} date made, &,1 lot. They are
// recognised, named and checked for length; the product codes are not looked
// up.
//
// Lower-case letters are no HIBC. What a keyboard did to a text is undone
// before it comes here (package wedge).
package hibc
