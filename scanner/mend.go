package scanner

import (
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

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
	if !mendable(text, opts) || labelAndMore(text, opts) {
		return nil
	}
	found := remapped(text, opts)
	switch {
	case len(found) == 0:
		return nil
	case len(found) == 1:
		return found[0].codes
	default:
		return undecided(text, found)
	}
}

// labelAndMore reports whether a text is an HIBC label as it stands, and behind
// it a number of a trade item, or an element string that begins with a date. One
// check character among 43 is right by chance with other keys; two codes in one
// line are likelier than that.
func labelAndMore(text string, opts Options) bool {
	if !hibc.Is(text) {
		return false
	}
	for i := 8; i < len(text)-7; i++ {
		rest := text[i:]
		if !gs1.HasCheckDigit(rest) || len(rest) > 14 {
			if !dates(rest, opts) {
				continue
			}
			if _, err := gs1.Parse(rest, opts.Now); err != nil {
				continue
			}
		}
		if _, err := hibc.Parse(text[:i], opts.Now); err == nil {
			return true
		}
	}
	return false
}

// mendable reports whether the keys of a text may have been misplaced. Where
// something that no keyboard makes by chance arrived as it is, they were not.
func mendable(text string, opts Options) bool {
	t := strings.TrimLeft(text, " ")
	id, _ := cutSymbology(t)
	switch {
	case opts.Profile != (wedge.Profile{}), len(text) > maxMended: // a profile has put the keys right
		return false
	case id != "", gs1.IsLink(t), gs1.IsBracketed(t), hibc.Is(t) && !misplacedIdentifier(t):
		return false
	default:
		return !digitsArrived(t) || foreign(t)
	}
}

// misplacedIdentifier reports whether a text begins as a symbology identifier
// does but for the bracket, which is on another key, and the case.
func misplacedIdentifier(text string) bool {
	_, n := utf8.DecodeRuneInString(text)
	if len(text) < n+2 || n == 0 || text[0] == ']' {
		return false
	}
	id := "]" + text[n:n+2]
	return knownSymbology(id) || knownSymbology(wedge.SwapCase(id))
}

// foreign reports whether a text holds what no GS1 value may hold.
func foreign(text string) bool {
	return strings.ContainsFunc(text, func(r rune) bool { return r > '~' || r > ' ' && !gs1.InSet82(byte(r)) })
}

// A remapping is what a text says with the keys of another layout, and the text
// that they give.
type remapping struct {
	text  string
	codes []Code
}

// remapped returns what a text says with the keys of other layouts and Caps Lock
// undone. Where a reading has a symbology identifier, those without are dropped:
// a wrong layout hardly makes one up.
func remapped(text string, opts Options) []remapping {
	if text == "" {
		return nil
	}
	r := remapper{text: text, opts: opts, tried: map[string]bool{text: true}}
	if r.add("", "", wedge.CapsOn); len(r.found) > 0 && certainly(r.found[0].codes[0]) {
		return r.found // Caps Lock by itself is the most common
	}
	r.all(wedge.CapsOff)
	r.all(wedge.CapsShift)
	if len(r.found) == 0 || misplacedIdentifier(text) && r.found[0].codes[0].Symbology == "" {
		r.all(wedge.CapsOn) // unless the case of letters shows it, it can't be seen
	}
	if r.failed {
		// Then what no value holds, in another text, is hardly a separator.
		r.found = slices.DeleteFunc(r.found, func(m remapping) bool { return slices.ContainsFunc(m.codes, standsIn) })
	}
	return identified(r.found)
}

// standsIn reports whether something was taken for the separator in a code.
func standsIn(c Code) bool {
	return slices.ContainsFunc(c.Warnings, func(w Warning) bool { return w.Code == "separator_stand_in" })
}

// certainly reports whether Caps Lock alone explains a text: its symbology
// identifier or the check character of HIBC, which has no small letters.
func certainly(c Code) bool {
	return c.Symbology != "" || c.Carrier == CarrierHIBC && !misplacedIdentifier(c.Raw)
}

type remapper struct {
	text  string
	opts  Options
	tried map[string]bool
	found []remapping
	// only is a part of the text that must become something that a value can
	// hold; it is what a text stands and falls with, and is looked at first.
	only string
	// failed is set when a remapped text holds nothing but what values may
	// hold, begins as a code does, and can't be read.
	failed bool
	// trusted is set where the text is a code as it stands.
	trusted bool
}

// all tries every two layouts.
func (r *remapper) all(caps wedge.Caps) {
	for _, scanner := range wedge.Layouts() {
		for _, host := range wedge.Layouts() {
			if scanner != host || caps == wedge.CapsShift {
				r.add(scanner, host, caps)
			}
		}
	}
}

func (r *remapper) add(scanner, host wedge.Layout, caps wedge.Caps) {
	_, n := utf8.DecodeRuneInString(r.text)
	if t, ok := wedge.Remap(r.text[:n], scanner, host, caps); !ok || !strings.ContainsAny(t[:1], "]+*=&(hH0123456789 \x1d") {
		return // it begins as nothing does that could prove itself
	}
	if t, ok := wedge.Remap(r.only, scanner, host, caps); !ok || foreign(t) {
		return
	}
	t, ok := wedge.Remap(r.text, scanner, host, caps)
	if !ok || r.tried[t] {
		return
	}
	r.tried[t] = true
	if !r.trusted && !promising(t) {
		return
	}
	o := r.opts
	o.remapped, o.swapped = true, caps != wedge.CapsOff
	var cs []Code
	for _, piece := range wedge.Symbols(t, knownSymbology) {
		cs = append(cs, identify(piece, o)...)
	}
	r.failed = r.failed || !good(cs) && !foreign(t)
	if !good(cs) || !r.trusted && slices.ContainsFunc(cs, func(c Code) bool { return !proven(c) }) ||
		slices.ContainsFunc(r.found, func(have remapping) bool { return sameReading(have.codes, cs) }) {
		return
	}
	for i := range cs {
		cs[i].warn(remapWarnings(scanner, host, caps))
	}
	r.found = append(r.found, remapping{t, cs})
}

// capsLock is what is said when Caps Lock was undone.
var capsLock = []wedge.Warning{{
	Code:    "caps_lock",
	Message: "Caps Lock was on: the case of all letters arrived swapped and was put right; switch it off",
}}

func remapWarnings(scanner, host wedge.Layout, caps wedge.Caps) (ws []wedge.Warning) {
	if scanner != host {
		ws = []wedge.Warning{{
			Code: "keyboard_layout",
			Message: "the scanner is set for the keyboard layout " + string(scanner) + " and the computer for " + string(host) +
				"; the keys were put right, set both to the same",
		}}
	}
	if caps != wedge.CapsOff {
		ws = append(ws, capsLock...)
	}
	return ws
}

// proven reports whether a code could hardly have come about by chance.
func proven(c Code) bool {
	switch {
	case c.Symbology != "", c.GTIN != "":
		return true
	case c.Carrier == CarrierICCBBA:
		return field(c, "di") != ""
	case c.Carrier == CarrierHIBC:
		return field(c, "lic") != "" || strings.HasPrefix(c.Raw, "+$")
	default:
		return c.Carrier != CarrierGS1 || len(c.Elements) > 0 && c.Elements[0].AI == "00"
	}
}

// digitsArrived reports whether a text begins with a GTIN and its identifier.
// Then digits arrived as digits.
func digitsArrived(text string) bool {
	t := strings.Trim(text, " \x1d")
	return len(t) >= 16 && t[:2] == "01" && gs1.HasCheckDigit(t[2:16])
}

// promising reports whether a text begins with something that can prove itself;
// the others need not be read.
func promising(text string) bool {
	t := strings.Trim(text, " \x1d")
	id, _ := cutSymbology(t)
	return id != "" || begins(t) || gs1.IsLink(t) || gs1.IsBracketed(t) || hibc.Is(t) || hibc.IsICCBBA(t) ||
		len(t) <= 14 && gs1.HasCheckDigit(t)
}

// identified keeps the readings with a symbology identifier, if there are any.
func identified(found []remapping) []remapping {
	var out []remapping
	for _, m := range found {
		if m.codes[0].Symbology != "" {
			out = append(out, m)
		}
	}
	if out == nil {
		return found
	}
	return out
}

func sameReading(a, b []Code) bool {
	return slices.EqualFunc(a, b, func(a, b Code) bool {
		return a.Symbology == b.Symbology && reflect.DeepEqual(a.Elements, b.Elements) && reflect.DeepEqual(a.Candidates, b.Candidates)
	})
}

// undecided lists what different keyboard layouts make of a text. One in which
// lot and serial are not in small letters only is taken, if there is just one:
// they are printed in capitals nearly always.
func undecided(text string, found []remapping) []Code {
	var codes, capital []Code
	for _, m := range found {
		if len(m.codes) != 1 {
			return []Code{{Raw: text, Error: &Fault{
				"keyboard_layout",
				"the keyboard layouts of scanner and computer differ, and the text can be read in several ways; check the scanner with the test sheet",
			}}}
		}
		c := m.codes[0]
		codes = append(codes, c)
		if len(c.Candidates) > 0 || !wedge.AllSmall(c.Lot+c.Serial) {
			capital = append(capital, c)
		}
	}
	if len(capital) == 1 && len(capital[0].Candidates) == 0 {
		return []Code{capital[0].with(codes)}
	}
	return []Code{doubt(text, codes, layoutDoubt)}
}

var layoutDoubt = Warning{
	"keyboard_layout",
	"the keyboard layouts of scanner and computer differ, and the text can be read in several ways; touch the reading that is printed",
}

// with lists other ways of reading a text behind the one that was taken.
func (c Code) with(others []Code) Code {
	c.Candidates = slices.Clone(c.asCandidates())
	for i := range others {
		for _, k := range others[i].asCandidates() {
			c.addCandidate(k)
		}
	}
	if c.Chosen = len(c.Candidates) > 1; !c.Chosen {
		c.Candidates = nil
	}
	return c
}

// relaid adds, to what a text says because a character in it was taken for the
// separator, what it says if a wrong keyboard layout made that character of one
// that lots hold: a hyphen is ß on a German keyboard.
func relaid(text string, c Code, opts Options) Code {
	if !standsIn(c) || !mendable(text, opts) {
		return c
	}
	r := remapper{text: text, opts: opts, tried: map[string]bool{text: true}, trusted: true}
	for _, char := range text {
		if foreign(string(char)) {
			r.only = string(char)
		}
	}
	if r.only == "" {
		return c
	}
	r.all(wedge.CapsOff)
	var others []Code
	letter := r.only > "~"
	for _, m := range r.found {
		if _, to := foreignPair(text, m.text); len(m.codes) == 1 && strings.ContainsRune("-/._", to) {
			others = append(others, m.codes[0])
		}
	}
	switch {
	case len(others) == 0:
		return c
	case letter:
		return doubt(text, append(others, c), Warning{
			"keyboard_layout",
			"the text holds a letter that no GS1 value can hold: it stands for the separator, or the keyboard layouts of scanner and computer differ; touch the reading that is printed",
		})
	}
	return c.with(others)
}

// foreignPair returns the first character of a text that no GS1 value can hold
// and what a remapped text has in its place.
func foreignPair(text, remapped string) (from, to rune) {
	meant := []rune(remapped)
	for i, r := range []rune(text) {
		if i < len(meant) && (r > '~' || !gs1.InSet82(byte(r)) && r > ' ') {
			return r, meant[i]
		}
	}
	return 0, 0
}

func (c *Code) asCandidates() []Candidate {
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
