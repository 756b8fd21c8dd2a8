package scanner

import (
	"strings"

	"lotbook/scanner/gs1"
)

// gs1Line reads a line of element strings without symbology identifier. Two
// packs that were scanned without anything between them are told apart by the
// second GTIN.
func gs1Line(text string, opts Options) []Code {
	whole := elementString(text, false, false, opts)
	at := secondGTIN(text)
	if at < 0 {
		return []Code{whole}
	}
	if whole.Error == nil && whole.GTIN != "" && !swallowed(whole) {
		return []Code{whole}
	}
	a := elementString(strings.TrimSuffix(text[:at], string(gs1.Separator)), false, false, opts)
	b := elementString(text[at:], false, false, opts)
	if a.Error != nil || b.Error != nil {
		return []Code{whole}
	}
	w := Warning{"two_symbols", "the line holds two GTINs and was read as two labels; scan one after the other if they belong to one pack"}
	a.Warnings, b.Warnings = append(a.Warnings, w), append(b.Warnings, w)
	return []Code{a, b}
}

// secondGTIN finds (01) and a GTIN with a valid check digit after the first
// element of a text, -1 if there is none or more than one.
func secondGTIN(text string) int {
	found := -1
	for i := 16; i+16 <= len(text); i++ {
		if text[i:i+2] == "01" && gs1.HasCheckDigit(text[i+2:i+16]) && strings.Trim(text[i:i+16], "0123456789") == "" {
			if found >= 0 {
				return -1
			}
			found = i
		}
	}
	return found
}

// swallowed reports whether a value of the code, or of a candidate, holds a
// whole GTIN with its identifier, which no maker prints as a lot.
func swallowed(c Code) bool {
	if holdsGTIN(c.Elements) {
		return true
	}
	for _, k := range c.Candidates {
		if holdsGTIN(k.Elements) {
			return true
		}
	}
	return false
}

func holdsGTIN(els []Element) bool {
	for _, e := range els {
		if e.AI != "00" && secondGTIN("################"+e.Value) >= 0 {
			return true
		}
	}
	return false
}
