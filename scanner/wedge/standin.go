package wedge

import (
	"slices"
	"strings"
	"unicode/utf8"

	"lotbook/scanner/gs1"
)

const gs = string(gs1.Separator)

// tokens are the texts of more than one character that stand for U+001D in the
// field: scanner and terminal settings, caret and escape notations.
var tokens = []string{
	"<GS>", "{GS}", "[GS]", "(GS)", "<FNC1>", "{FNC1}", "[FNC1]", "<0x1D>", "[0x1D]", "<GROUP SEPARATOR>",
	`\x1d`, `\u001d`, `\u{1d}`, `\035`, `\gs`, `\f1`, `\f`, "^]", "&#29;", "&#x1D;", "%1D", "~d029", "~1",
}

// A spelling is a text with U+001D put for what may stand for it. It is certain
// when no value can hold all of that.
type spelling struct {
	text, standIn string
	certain       bool
}

// spellings lists what a text is if a token stands for the separator, or the
// characters in it that no value can hold.
func spellings(text string) []spelling {
	var out []spelling
	for _, t := range tokens {
		if n := foldReplace(text, t); n != text {
			out = append(out, spelling{n, t, !legal(t)})
		}
	}
	if run := foreignRun(text); run != "" {
		out = append(out, spelling{strings.ReplaceAll(text, run, gs), run, true})
	}
	return out
}

// bare takes off what stands around a text and no value can hold; in front only
// before the number of a trade item or a shipping unit, as other things than
// GS1's begin with such characters too.
func bare(text string) string {
	outside := func(r rune) bool { return !inValue(r) && r != gs1.Separator }
	text = strings.TrimRightFunc(text, outside)
	if rest := strings.TrimLeftFunc(text, outside); strings.HasPrefix(rest, "01") || strings.HasPrefix(rest, "00") {
		return rest
	}
	return text
}

func inValue(r rune) bool { return r < 128 && gs1.InSet82(byte(r)) }

// foreignRun returns the characters that no GS1 value can hold and that stand
// between others in text, where they are the same in each place; else "".
func foreignRun(text string) string {
	one, run, between := "", 0, false
	for i, r := range text + "0" {
		if !inValue(r) && r != gs1.Separator {
			continue
		}
		if run < i {
			if s := text[run:i]; one != "" && one != s {
				return ""
			} else {
				one, between = s, between || run > 0
			}
		}
		run = i + utf8.RuneLen(r)
	}
	if !between {
		return ""
	}
	return one
}

// foldReplace replaces a token in either case with the separator.
func foldReplace(text, token string) string {
	if !strings.ContainsAny(text, token[:1]) {
		return text
	}
	var b strings.Builder
	last := 0
	for i := 0; i+len(token) <= len(text); {
		if strings.EqualFold(text[i:i+len(token)], token) {
			b.WriteString(text[last:i])
			b.WriteString(gs)
			i += len(token)
			last = i
			continue
		}
		i++
	}
	if last == 0 {
		return text
	}
	b.WriteString(text[last:])
	return b.String()
}

// legal reports whether a value such as a lot could hold all of s.
func legal(s string) bool {
	for i := range len(s) {
		if !gs1.InSet82(s[i]) {
			return false
		}
	}
	return true
}

// quiet are the marks that values may hold and that scanners are nevertheless
// set up to send for U+001D.
var quiet = []string{"/", "_", "%", "&", "*", "+", ":", ";", "<", "=", ">", "?", "!", ","}

// rare are those that are seldom sent for it, or that too many lots hold. The
// digits are what is typed for Alt and the number of the character, on a
// computer that does not know Alt.
var rare = []string{"-", ".", "'", `"`, "(", ")", "0029", "029"}

// heldIn returns those of some stand-ins that a text holds.
func heldIn(text string, standIns []string) []string {
	var out []string
	for _, q := range standIns {
		if strings.Contains(text, q) {
			out = append(out, q)
		}
	}
	return out
}

// LooksLikeGS1 reports whether a text begins with an application identifier,
// after whatever may stand for a leading separator.
func LooksLikeGS1(text string) bool {
	text = bare(text)
	if _, ok := gs1.Leading(strings.TrimPrefix(text, gs)); ok {
		return true
	}
	return slices.ContainsFunc(spellings(text), func(s spelling) bool {
		_, ok := gs1.Leading(strings.TrimPrefix(s.text, gs))
		return ok
	})
}

// DropSeparators takes separators, also spelled ones, out of a text in which
// each identifier stands in brackets, where they have nothing to say.
func DropSeparators(text string) string {
	for _, t := range append([]string{gs}, tokens...) {
		text = strings.ReplaceAll(text, t+"(", "(")
		text = strings.TrimSuffix(text, t)
	}
	return text
}
