package v1

import (
	"bytes"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"

	"lotbook/api/problem"
)

// characters refuses a body that encoding/json would read with other characters
// than were sent: it puts U+FFFD in the place of bytes that are not UTF-8 and of
// half a surrogate pair, and a lot number would be recorded that no pack has.
// JSON is UTF-8 (RFC 8259, section 8.1), without lone surrogates in it (RFC
// 7493, section 2.1).
func characters(body []byte) error {
	for at := 0; at < len(body); {
		r, n := utf8.DecodeRune(body[at:])
		if r == utf8.RuneError && n == 1 {
			return problem.Bad("malformed", "", "Send the JSON as UTF-8.", "The body is not UTF-8, at byte %d.", at+1)
		}
		at += n
	}
	if at := loneSurrogate(body); at >= 0 {
		return problem.Bad("malformed", "", "Send the character itself, or both halves of it.", "The body has half a character, at byte %d.", at+1)
	}
	return nil
}

// loneSurrogate returns where an escape stands that is half of a surrogate pair
// without the other half, -1 if there is none. A backslash stands in strings
// only, and always before what it escapes.
func loneSurrogate(body []byte) int {
	for at := 0; ; {
		i := bytes.IndexByte(body[at:], '\\')
		if i < 0 {
			return -1
		}
		at += i
		high, ok := escaped(body[at:])
		if !ok {
			at += min(2, len(body)-at)
			continue
		}
		if !utf16.IsSurrogate(high) {
			at += 6
			continue
		}
		low, ok := escaped(body[at+6:])
		if !ok || utf16.DecodeRune(high, low) == utf8.RuneError {
			return at
		}
		at += 12
	}
}

// escaped reads \uXXXX at the beginning of a text.
func escaped(b []byte) (rune, bool) {
	if len(b) < 6 || b[0] != '\\' || b[1] != 'u' {
		return 0, false
	}
	n, err := strconv.ParseUint(string(b[2:6]), 16, 16)
	return rune(n), err == nil
}
