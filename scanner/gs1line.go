package scanner

import (
	"slices"
	"strings"

	"lotbook/scanner/gs1"
)

// gs1Line reads a line of element strings without symbology identifier. Two
// packs that were scanned with nothing between them show by a second GTIN.
func gs1Line(text string, opts Options) []Code {
	whole := elementString(text, false, false, opts)
	var splits [][2]Code
	for _, at := range secondGTINs(text) {
		if whole.Error == nil && !open(whole) {
			continue
		}
		a := elementString(strings.TrimSuffix(text[:at], string(gs1.Separator)), false, false, opts)
		b := elementString(text[at:], false, false, opts)
		if a.Error == nil && b.Error == nil {
			splits = append(splits, [2]Code{a, b})
		}
	}
	switch {
	case len(splits) == 0:
		return []Code{whole}
	case whole.Error != nil && len(splits) == 1:
		a, b := splits[0][0], splits[0][1]
		w := Warning{"two_symbols", "the line holds two GTINs and was read as two labels; scan one after the other if they belong to one pack"}
		a.Warnings, b.Warnings = append(a.Warnings, w), append(b.Warnings, w)
		return []Code{a, b}
	case whole.Error != nil:
		return []Code{{Raw: text, Error: &Fault{"two_symbols", "the line holds several labels that were run together; scan them one by one"}}}
	}
	// One label or two: the readings of the first label join the others.
	ks := whole.asCandidates()
	for _, s := range splits {
		for _, k := range s[0].asCandidates() {
			if !slices.ContainsFunc(ks, func(have Candidate) bool { return slices.Equal(have.Elements, k.Elements) }) {
				ks = append(ks, k)
			}
		}
	}
	c := Code{Raw: whole.Raw, Carrier: whole.Carrier, Warnings: whole.Warnings, Candidates: ks}
	c.Warnings = append(c.Warnings, Warning{"two_symbols", "the line may hold two labels that were run together; touch the reading that is printed, and if there were two packs scan the second again"})
	c.settleOpen()
	return []Code{c}
}

// open reports whether a value without predefined length was read, which may
// have taken in what follows it.
func open(c Code) bool {
	return len(c.Candidates) > 0 || slices.ContainsFunc(c.Elements, func(e Element) bool {
		a, ok := gs1.Lookup(e.AI)
		return ok && !a.Predefined()
	})
}

// settleOpen fills the members of a code from what its candidates agree on.
func (c *Code) settleOpen() {
	f := c.Candidates[0].facts()
	c.Elements = slices.Clone(c.Candidates[0].Elements)
	for _, k := range c.Candidates[1:] {
		f = f.common(k.facts())
		c.Elements = slices.DeleteFunc(c.Elements, func(e Element) bool { return !slices.Contains(k.Elements, e) })
	}
	f.into(c)
}

// maxSplits bounds the work on a line that is all zeros and ones.
const maxSplits = 8

// secondGTINs finds where (01) and a GTIN with a valid check digit stand after
// the first element of a text.
func secondGTINs(text string) []int {
	var found []int
	for i := 16; i+16 <= min(len(text), maxMended) && len(found) < maxSplits; i++ {
		if text[i:i+2] == "01" && gs1.HasCheckDigit(text[i+2:i+16]) {
			found = append(found, i)
		}
	}
	return found
}
