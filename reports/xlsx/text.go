package xlsx

import (
	"unicode/utf16"
	"unicode/utf8"
)

// MaxText is how much text a cell holds, in UTF-16 units.
const MaxText = 32767

// cutMark ends a text that was longer than MaxText.
const cutMark = " … [cut here: too long for a cell]"

// fitText returns s, or its start and cutMark.
func fitText(s string) string {
	if len(s) <= MaxText { // never fewer bytes than UTF-16 units
		return s
	}
	if utf16Len(s) <= MaxText {
		return s
	}
	return cutUTF16(s, MaxText-utf8.RuneCountInString(cutMark)) + cutMark
}

func utf16Len(s string) int {
	n := 0
	for _, r := range s {
		n += utf16.RuneLen(r)
	}
	return n
}
