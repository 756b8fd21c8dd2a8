package wedge

import "lotbook/scanner/gs1"

// AllSmall reports whether text has letters and all of them are small. Lots
// and serials are printed in capitals nearly always, so small letters may come
// from Caps Lock.
func AllSmall(text string) bool {
	small := false
	for i := range len(text) {
		switch c := text[i]; {
		case 'a' <= c && c <= 'z':
			small = true
		case 'A' <= c && c <= 'Z':
			return false
		}
	}
	return small
}

// caseKnown reports whether the case of letters is certain. A profile does not
// make it so: it says how Caps Lock was when the test sheet was scanned, and
// anybody can press it since.
func (c Context) caseKnown() bool { return c.Identified && !c.Swapped }

// cases returns the text, and before it the text with the case of its letters
// swapped if they may have been swapped on the way.
func (c Context) cases(text string) []string {
	if c.caseKnown() || !AllSmall(text) {
		return []string{text}
	}
	return []string{SwapCase(text), text}
}

const capsDoubt = "all letters arrived as small ones, which Caps Lock may have caused; touch the reading that is printed on the label"

// cased puts a certain reading in doubt if its letters may have been swapped.
func (c Context) cased(o Outcome) Outcome {
	if c.caseKnown() || !AllSmall(o.Text) {
		return o
	}
	swapped := make([]gs1.Element, len(o.Elements))
	for i, e := range o.Elements {
		swapped[i] = gs1.Element{AI: e.AI, Value: SwapCase(e.Value)}
		if !e.AI.Accepts(swapped[i].Value, c.Now) {
			return o
		}
	}
	o.Readings = [][]gs1.Element{swapped, o.Elements}
	o.Elements = nil
	o.warn("caps_lock_suspected", capsDoubt)
	return o
}
