package scanner

import (
	"slices"
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/wedge"
)

// maxPrefix is how many characters are looked past at the start of a text for
// a product.
const maxPrefix = 12

// A front is a text put right where its start did not arrive as it was read.
type front struct {
	text    string
	warning Warning
}

// fronts lists what a text may have been if its start is not as it was read: a
// keyboard loses the first key that wakes it, and a scanner may be set up to
// type something in front. Only a text that then begins with a product and its
// check digit, or a symbology identifier, is listed; certain says that the text
// is valid as it stands.
func fronts(text string, certain bool) []front {
	lost := Warning{"first_lost", "the first character of the code did not arrive and was filled in; compare the reading with the print"}
	prefix := Warning{"prefix_removed", "something stands in front of the code and was passed over; test the scanner with the test sheet, so that it is known"}
	var out []front
	if misplacedIdentifier(text) {
		return nil // keys are in other places, here and in the rest
	}
	id, _ := cutSymbology("]" + text)
	if id != "" {
		out = append(out, front{"]" + text, lost})
	}
	if digitsArrived("0" + text) {
		out = append(out, front{"0" + text, lost})
	}
	for i := 1; i <= min(maxPrefix, len(text)) && text[i-1] != ']'; i++ { // what stands there is no identifier in the wrong case
		if i > 2 && !certain && strings.ContainsAny(text[:i], "0123456789") {
			break // that is more than a prefix
		}
		rest := text[i:]
		_, after := cutSymbology(rest)
		bare := id == "" && i <= 3 && isTail(text, i) && (certain || strings.Trim(text[:i], "0123456789") == text[:i])
		if begins(rest) || bare || after != rest && (begins(after) || classOf(rest[:3]) != classGS1) {
			out = append(out, front{rest, prefix})
			break
		}
	}
	return out
}

// begins reports whether a text begins with a trade item's or a shipping unit's
// number and its check digit.
func begins(text string) bool {
	return digitsArrived(text) || len(text) >= 20 && text[:2] == "00" && gs1.HasCheckDigit(text[2:20])
}

// fronted adds to what a text says as it stands what it says if its start is
// damaged. A text that names a product as it stands is believed.
func fronted(text string, whole Code, opts Options) Code {
	certain := good([]Code{whole})
	if opts.Profile != (wedge.Profile{}) || len(text) > maxMended || !certain && twoGTINs(text) {
		return whole
	}
	if serial := strings.HasPrefix(text, "00") && digitsArrived(text[1:]); !serial && (proves(whole) || begins(text)) {
		return whole
	}
	var found []Code
	for _, f := range fronts(text, certain) {
		cs := identify(f.text, opts)
		if len(cs) != 1 || !good(cs) || !proves(cs[0]) && cs[0].Symbology == "" ||
			slices.ContainsFunc(found, func(have Code) bool { return slices.Equal(have.Elements, cs[0].Elements) }) ||
			slices.ContainsFunc(whole.asCandidates(), func(k Candidate) bool { return k.GTIN == cs[0].GTIN && k.GTIN != "" }) {
			continue
		}
		cs[0].Warnings = append(cs[0].Warnings, f.warning)
		found = append(found, cs[0])
	}
	if len(found) > 0 && len(text) > 1 && dates(text[1:], opts) {
		// Or it is the second symbol of a label, behind a character.
		if c := single(text[1:], opts); good([]Code{c}) {
			found = append(found, c)
		}
	}
	switch {
	case len(found) == 0:
		return whole
	case len(found) == 1 && !certain:
		return found[0]
	}
	if certain {
		found = append(found, whole)
	}
	return doubt(text, found, startDamaged)
}

var startDamaged = Warning{
	"start_damaged",
	"the start of the code seems to be missing, or something stands in front of it; touch the reading that is printed, or scan again",
}

// proves reports whether a code names a trade item, or begins with another thing
// whose number has a check digit, in every way of reading it.
func proves(c Code) bool {
	switch {
	case c.Error != nil || c.Carrier == CarrierPlain:
		return false
	case c.Carrier != CarrierGS1:
		return true
	}
	return !slices.ContainsFunc(c.asCandidates(), func(k Candidate) bool {
		return k.GTIN == "" && (len(k.Elements) == 0 || !checked(k.Elements[0]))
	})
}

// checked reports whether an element is a key with a check digit.
func checked(e Element) bool {
	switch e.AI {
	case "00", "253", "255", "402", "410", "411", "412", "413", "414", "415", "416", "417", "8003", "8013", "8017", "8018":
		return true
	default:
		return false
	}
}

// doubt lists the ways of reading a text that several codes are, best first.
func doubt(text string, codes []Code, why Warning) Code {
	c := Code{Raw: text, Carrier: codes[0].Carrier}
	c.Warnings = []Warning{why}
	for _, one := range codes {
		for _, k := range one.asCandidates() {
			c.addCandidate(k)
		}
		for _, w := range one.Warnings {
			if cutOff(w) && !slices.Contains(c.Warnings, w) {
				c.Warnings = append(c.Warnings, w)
			}
		}
	}
	c.settleOpen()
	return c
}

// addCandidate lists a reading if it is not listed.
func (c *Code) addCandidate(k Candidate) {
	if !slices.ContainsFunc(c.Candidates, func(have Candidate) bool { return slices.Equal(have.Elements, k.Elements) }) {
		c.Candidates = append(c.Candidates, k)
	}
}
