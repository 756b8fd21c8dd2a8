package scanner

import (
	"reflect"
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// maxMended is the longest text, in bytes, that is tried with other layouts; no
// linear symbol and few others hold more.
const maxMended = 200

// mend tries to undo Caps Lock and a wrong keyboard layout on a text that could
// not be read as it is. Only a reading that proves itself counts: by a
// symbology identifier, by a GTIN or another key with its check digit, or by
// an HIBC check character. nil means that nothing was found.
func mend(text string, opts Options) []Code {
	if opts.Profile.Scanner != opts.Profile.Host {
		return nil // the profile has put the keys right already
	}
	if len(text) > maxMended || digitsArrived(text) {
		return nil
	}
	if id, _ := cutSymbology(strings.TrimLeft(text, " ")); id != "" {
		return nil // the identifier arrived as it is, so the rest did
	}
	var found [][]Code
	add := func(t string, ws ...wedge.Warning) bool {
		if !promising(t) {
			return false
		}
		var cs []Code
		for _, piece := range wedge.Symbols(t, knownSymbology) {
			cs = append(cs, identify(piece, opts)...)
		}
		if !good(cs) || !proven(cs) {
			return false
		}
		for _, have := range found {
			if sameReading(have, cs) {
				return true
			}
		}
		for i := range cs {
			cs[i].warn(ws)
		}
		found = append(found, cs)
		return true
	}
	add(wedge.SwapCase(text), capsLock...)
	if len(found) == 1 && found[0][0].Symbology != "" {
		return found[0]
	}
	for _, scanner := range wedge.Layouts() {
		for _, host := range wedge.Layouts() {
			t, ok := wedge.Translate(text, scanner, host)
			if !ok || t == text {
				continue
			}
			w := wedge.Warning{
				Code: "keyboard_layout",
				Message: "the scanner is set for the keyboard layout " + string(scanner) + " and the computer for " + string(host) +
					"; the keys were put right, set both to the same",
			}
			if add(t, w) {
				continue
			}
			add(wedge.SwapCase(t), append([]wedge.Warning{w}, capsLock...)...)
		}
	}
	found = identified(found)
	switch {
	case len(found) == 0:
		return nil
	case len(found) == 1:
		return found[0]
	default:
		return undecided(text, found)
	}
}

// proven reports whether codes could hardly have come about by chance.
func proven(cs []Code) bool {
	for _, c := range cs {
		switch {
		case c.Carrier != CarrierGS1, c.GTIN != "", c.Symbology != "":
		case len(c.Elements) > 0 && c.Elements[0].AI == "00":
		default:
			return false
		}
	}
	return true
}

// digitsArrived reports whether a text begins with a GTIN and its identifier.
// Then digits arrived as digits, and what is wrong with the rest is no layout.
func digitsArrived(text string) bool {
	t := strings.Trim(text, " \x1d")
	return len(t) >= 16 && t[:2] == "01" && gs1.HasCheckDigit(t[2:16])
}

// promising reports whether a text begins with something that can prove itself;
// the others need not be read.
func promising(text string) bool {
	t := strings.Trim(text, " \x1d")
	id, _ := cutSymbology(t)
	return id != "" || digitsArrived(t) || gs1.IsLink(t) || gs1.IsBracketed(t) || hibc.Is(t) || hibc.IsICCBBA(t) ||
		len(t) >= 20 && t[:2] == "00" && gs1.HasCheckDigit(t[2:20]) ||
		len(t) <= 14 && gs1.HasCheckDigit(t)
}

// identified keeps the readings with a symbology identifier, if there are any:
// a wrong layout hardly makes one up.
func identified(found [][]Code) [][]Code {
	var out [][]Code
	for _, cs := range found {
		if cs[0].Symbology != "" {
			out = append(out, cs)
		}
	}
	if out == nil {
		return found
	}
	return out
}

func sameReading(a, b []Code) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].Symbology != b[i].Symbology || !reflect.DeepEqual(a[i].Elements, b[i].Elements) ||
			!reflect.DeepEqual(a[i].Candidates, b[i].Candidates) {
			return false
		}
	}
	return true
}

// undecided lists what different keyboard layouts make of a text.
func undecided(text string, found [][]Code) []Code {
	c := Code{Raw: text, Carrier: found[0][0].Carrier}
	for _, cs := range found {
		if len(cs) != 1 || cs[0].Carrier != c.Carrier {
			return []Code{{Raw: text, Error: &Fault{
				"keyboard_layout",
				"the keyboard layouts of scanner and computer differ, and the text can be read in several ways; check the scanner with the test sheet",
			}}}
		}
		c.Candidates = append(c.Candidates, cs[0].asCandidates()...)
	}
	c.settleOpen()
	c.Warnings = []Warning{{
		"keyboard_layout",
		"the keyboard layouts of scanner and computer differ, and the text can be read in several ways; touch the reading that is printed",
	}}
	return []Code{c}
}

func (c Code) asCandidates() []Candidate {
	if len(c.Candidates) > 0 {
		return c.Candidates
	}
	return []Candidate{{
		GTIN: c.GTIN, Lot: c.Lot, Serial: c.Serial, Expires: c.Expires, Made: c.Made,
		Quantity: c.Quantity, Elements: c.Elements,
	}}
}

func (k Candidate) facts() facts {
	return facts{k.GTIN, k.Lot, k.Serial, k.Expires, k.Made, k.Quantity}
}
