// Package rowcode writes the keys and values of derived rows.
//
// Keys sort as bytes in the order of what they hold: a text ends with a zero
// byte, a time and a number are eight bytes big endian, so that a scan by
// prefix walks one lot, or one lot at one time, in order:
//
//	key := rowcode.AppendTime(rowcode.AppendText(nil, product, lot), when)
//
// Values are compact: lengths and numbers as varints, one field after the
// other. A value begins with a byte that says which form it has, so that a
// form can grow. Decoding a row costs some 100 ns where the same as JSON costs
// several thousand, and an answer that lists 10,000 rows is made of that.
package rowcode
