package csv

import (
	"strings"

	"lotbook/reports"
)

// guarded are what a guarded text begins with: what spreadsheet programs take
// for the start of a formula (OWASP, "CSV Injection"), the full-width forms
// that some of them take as well, and the guard itself. OWASP's tab, line feed
// and carriage return don't come this far, as they are made visible.
var guarded = [...]string{"=", "+", "-", "@", "＝", "＋", "－", "＠", "'"}

// Guard returns s so that it does not begin like a formula: with an apostrophe
// before it where it would.
func Guard(s string) string {
	if needsGuard(s) {
		return "'" + s
	}
	return s
}

// Unguard returns what was given to [Guard].
func Unguard(s string) string { return strings.TrimPrefix(s, "'") }

func needsGuard(s string) bool {
	for _, g := range guarded {
		if strings.HasPrefix(s, g) {
			return true
		}
	}
	return false
}

// appendText appends a field of text, visible, guarded and in quotes.
func appendText(b []byte, s string) []byte {
	s = reports.Visible(s, false)
	b = append(b, '"')
	if needsGuard(s) {
		b = append(b, '\'')
	}
	for i := range len(s) {
		if s[i] == '"' {
			b = append(b, '"')
		}
		b = append(b, s[i])
	}
	return append(b, '"')
}

// appendMark appends a word in parentheses, in quotes only if it has to be. The
// parenthesis keeps it from beginning like a formula.
func appendMark(b []byte, s string) []byte {
	s = "(" + reports.Visible(s, false) + ")"
	if strings.ContainsAny(s, `",`) {
		return appendText(b, s)
	}
	return append(b, s...)
}
