package reports

import (
	"strings"
	"unicode/utf8"
)

// Visible returns s with what can't be drawn, or would draw something else
// than it is, replaced by what can be seen and traced back:
//
//   - ASCII control characters by their pictures, the block U+2400 of Unicode:
//     the separator of GS1 codes, U+001D, becomes "␝";
//   - a byte that isn't UTF-8 by its hexadecimal value: `\xE9`;
//   - other control characters, characters that turn the direction of text or
//     have no width, and those that XML 1.0 forbids (its production 2, Char)
//     by their code point: `\u202E`.
//
// Joiners (U+200C, U+200D) stay, as names need them. With keepLines a line
// feed, alone or after a carriage return, stays a line feed.
func Visible(s string, keepLines bool) string {
	i := firstHidden(s)
	if i == len(s) {
		return s
	}
	var b strings.Builder
	b.Grow(len(s) + 16)
	b.WriteString(s[:i])
	for i < len(s) {
		if c := s[i]; c < utf8.RuneSelf {
			i++
			switch {
			case c >= ' ' && c != 0x7F:
				b.WriteByte(c)
			case c == 0x7F:
				b.WriteRune('␡')
			case keepLines && c == '\n':
				b.WriteByte('\n')
			case keepLines && c == '\r' && i < len(s) && s[i] == '\n':
			default:
				b.WriteRune('␀' + rune(c))
			}
			continue
		}
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			hexEscape(&b, 'x', uint32(s[i]), 2)
		case hidden(r):
			escapeRune(&b, r)
		default:
			b.WriteString(s[i : i+n])
		}
		i += n
	}
	return b.String()
}

// firstHidden returns where the first thing that Visible replaces stands.
func firstHidden(s string) int {
	for i := 0; i < len(s); {
		if c := s[i]; c < utf8.RuneSelf {
			if c < ' ' || c == 0x7F {
				return i
			}
			i++
			continue
		}
		r, n := utf8.DecodeRuneInString(s[i:])
		if r == utf8.RuneError && n == 1 || hidden(r) {
			return i
		}
		i += n
	}
	return len(s)
}

// hidden is about runes above ASCII.
func hidden(r rune) bool {
	switch {
	case r < 0xA0: // C1 controls
		return true
	case r == 0x00AD, // soft hyphen
		r == 0x061C, r == 0x200B, r == 0x200E, r == 0x200F,
		r >= 0x2028 && r <= 0x202E, // separators, embeddings and overrides
		r >= 0x2060 && r <= 0x206F, // word joiner, isolates
		r == 0xFEFF, r == 0xFFFE, r == 0xFFFF,
		r >= 0xE0000 && r <= 0xE007F: // tags, which mirror ASCII and draw nothing
		return true
	}
	return false
}

func escapeRune(b *strings.Builder, r rune) {
	if r > 0xFFFF {
		hexEscape(b, 'U', uint32(r), 8)
		return
	}
	hexEscape(b, 'u', uint32(r), 4)
}

func hexEscape(b *strings.Builder, mark byte, v uint32, digits int) {
	const hex = "0123456789ABCDEF"
	b.WriteByte('\\')
	b.WriteByte(mark)
	for digits > 0 {
		digits--
		b.WriteByte(hex[v>>(4*digits)&0xF])
	}
}
