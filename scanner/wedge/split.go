package wedge

import "strings"

// Lines cuts a text where a scanner ended a symbol: carriage return, line feed
// and tab. Empty pieces are dropped; spaces stay, because an HIBC check
// character can be one.
func Lines(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == '\r' || r == '\n' || r == '\t' })
}

// Symbols cuts a line that holds several symbols before each symbology
// identifier that known accepts. Identifiers are three characters: a closing
// square bracket, a letter and a digit (ISO/IEC 15424).
func Symbols(line string, known func(id string) bool) []string {
	var out []string
	start := 0
	for i := 1; i+3 <= len(line); i++ {
		if line[i] == ']' && known(line[i:i+3]) {
			out = append(out, line[start:i])
			start = i
		}
	}
	return append(out, line[start:])
}
