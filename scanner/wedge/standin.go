package wedge

import (
	"strings"

	"lotbook/scanner/gs1"
)

const gs = string(gs1.Separator)

// tokens are the texts of more than one character that stand for U+001D in the
// field: scanner and terminal settings, caret and escape notations.
var tokens = []string{
	"<GS>", "{GS}", "[GS]", "(GS)", "<FNC1>", "{FNC1}", "[FNC1]", "<0x1D>", "[0x1D]", "<GROUP SEPARATOR>",
	`\x1d`, `\u001d`, `\u{1d}`, `\035`, `\gs`, `\f1`, "^]", "&#29;", "&#x1D;", "%1D", "~d029",
}

// expand puts U+001D for each token in text. certain holds the text with only
// those tokens replaced that no value can hold; all has every token replaced.
// Where there is none, both are the text itself.
func expand(text string) (certain, all string, found []string) {
	certain, all = text, text
	for _, t := range tokens {
		n := foldReplace(all, t)
		if n == all {
			continue
		}
		found = append(found, t)
		all = n
		if !legal(t) {
			certain = foldReplace(certain, t)
		}
	}
	return certain, all, found
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

// foreign returns the one character that no GS1 value can hold and that text
// holds, and "" if there is none or more than one.
func foreign(text string) string {
	var one string
	for _, r := range text {
		if r == gs1.Separator || r < 128 && gs1.InSet82(byte(r)) {
			continue
		}
		s := string(r)
		if one != "" && one != s {
			return ""
		}
		one = s
	}
	return one
}

// quiet are the marks that values may hold and that scanners are nevertheless
// set up to send for U+001D. The hyphen and the full stop are not among them:
// too many lots hold them.
const quiet = "/_%&*+:;<=>?!,"

// quietIn returns the marks of quiet that text holds.
func quietIn(text string) []byte {
	var out []byte
	for i := range len(quiet) {
		if strings.IndexByte(text, quiet[i]) >= 0 {
			out = append(out, quiet[i])
		}
	}
	return out
}

// LooksLikeGS1 reports whether a text begins with an application identifier,
// after whatever may stand for a leading separator.
func LooksLikeGS1(text string) bool {
	_, all, _ := expand(text)
	_, ok := gs1.Leading(strings.TrimPrefix(all, gs))
	if !ok {
		if f := foreign(text); f != "" {
			_, ok = gs1.Leading(strings.TrimPrefix(text, f))
		}
	}
	return ok
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
