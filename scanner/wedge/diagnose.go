package wedge

import (
	"errors"
	"fmt"
	"strings"
)

// A Finding is something that the test sheet showed about a scanner. Code is
// for programs, Message says it to a person and what to do about it.
type Finding struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// The codes of findings.
const (
	FoundNothing       = "as_printed"           // the text arrives as it is printed
	FoundCapsLock      = "caps_lock"            // the case of letters is swapped
	FoundLayout        = "keyboard_layout"      // scanner and computer have different layouts
	FoundPrefix        = "prefix"               // the scanner types something in front
	FoundSuffix        = "suffix"               // or behind
	FoundIdentifier    = "symbology_identifier" // the scanner sends it
	FoundNoIdentifier  = "no_identifier"        // it does not
	FoundSeparator     = "separator"            // the separator arrives
	FoundStandIn       = "separator_stand_in"   // something else arrives for it
	FoundDropped       = "separator_lost"       // nothing arrives for it
	FoundSeparators    = "separator_differs"    // now this, now that
	FoundLinearOnly    = "linear_only"          // code 4 was not scanned
	FoundCaseForced    = "case_forced"          // all letters in one case
	FoundNotUnderstood = "not_understood"       // the text is changed in another way
	FoundMissing       = "not_scanned"          // a code of the sheet is missing
	FoundUneven        = "ends_differ"          // prefix or suffix differs from code to code
)

// ErrSheet says that no profile could be made from the scans of a test sheet;
// the findings say why and what to do.
var ErrSheet = errors.New("the scans of the test sheet do not give a profile")

// Diagnose returns the profile of a scanner from its scans of the test sheet, a
// text for each code, in any order, with or without what ends a line. It makes
// nothing up: what the scans do not show, or contradict one another in, is left
// unknown in the profile, with a finding, or is ErrSheet where no scan could be
// read by such a profile.
func Diagnose(scans []string) (Profile, []Finding, error) {
	var lines []string
	for _, s := range scans {
		if s = strings.Trim(s, "\r\n\t"); s != "" {
			lines = append(lines, s)
		}
	}
	var best *diagnosis
	for _, way := range ways() {
		d := way.of(lines)
		if best == nil || d.seen() > best.seen() {
			best = d
		}
	}
	if best.seen() == 0 || best.missing(1) || best.missing(2) {
		return Profile{}, misunderstood(lines, best), ErrSheet
	}
	return best.profile()
}

// A way is what may become of keys: the layouts that scanner and computer are
// set for, and Caps Lock. Both layouts are US where they agree and it does not
// matter on what.
type way struct {
	scanner, host Layout
	caps          Caps
}

// ways lists the ways, the most common first.
func ways() []way {
	ws := []way{{US, US, CapsOff}, {US, US, CapsOn}}
	for _, l := range Layouts() {
		ws = append(ws, way{l, l, CapsShift})
	}
	for _, s := range Layouts() {
		for _, h := range Layouts() {
			if s != h {
				ws = append(ws, way{s, h, CapsOff}, way{s, h, CapsOn}, way{s, h, CapsShift})
			}
		}
	}
	return ws
}

// types returns what arrives for a text; false if the scanner has no key for it.
func (w way) types(text string) (string, bool) { return Typed(text, w.scanner, w.host, w.caps) }

// reads is the inverse of types.
func (w way) reads(typed string) (string, bool) { return Remap(typed, w.scanner, w.host, w.caps) }

// A diagnosis is what the scans are if keys go one way.
type diagnosis struct {
	way
	found [len(sheet)]*sighting
}

// A sighting is a code of the sheet found in a scan: what arrived before and
// after it and, twice, for the separator.
type sighting struct {
	before, after string
	separators    [2]string
}

func (w way) of(lines []string) *diagnosis {
	d := &diagnosis{way: w}
	for i, c := range sheet {
		parts, ok := w.typesAll(strings.Split(c.Text, gs))
		if !ok {
			continue
		}
		for _, line := range lines {
			if s := sight(parts, line); s != nil {
				d.found[i] = s // the last scan of a code counts
			}
		}
	}
	return d
}

func (w way) typesAll(parts []string) ([]string, bool) {
	for i, part := range parts {
		typed, ok := w.types(part)
		if !ok {
			return nil, false
		}
		parts[i] = typed
	}
	return parts, true
}

// sight looks for the parts of a code's text, as they are typed, in a line.
func sight(parts []string, line string) *sighting {
	s := new(sighting)
	for i, typed := range parts {
		before, after, ok := strings.Cut(line, typed)
		if !ok {
			return nil
		}
		if i == 0 {
			s.before = before
		} else {
			s.separators[i-1] = before
		}
		line = after
	}
	s.after = line
	return s
}

func (d *diagnosis) seen() (n int) {
	for _, s := range d.found {
		if s != nil {
			n++
		}
	}
	return n
}

func (d *diagnosis) missing(number int) bool { return d.found[number-1] == nil }

// profile puts together what the codes that were found say.
func (d *diagnosis) profile() (Profile, []Finding, error) {
	p := Profile{Scanner: d.scanner, Host: d.host, CapsLock: d.caps}
	var fs []Finding
	find := func(code, format string, args ...any) { fs = append(fs, Finding{code, fmt.Sprintf(format, args...)}) }
	if d.missing(3) {
		return Profile{}, []Finding{missingCode(3)}, ErrSheet
	}
	switch d.caps {
	case CapsOn:
		find(FoundCapsLock, "Capital and small letters arrive swapped: Caps Lock is on, or the scanner is set to swap them. Turn it off and scan the sheet again; until then they are swapped back.")
	case CapsShift:
		find(FoundCapsLock, "Digits and marks arrive swapped, and so do capital and small letters: Caps Lock is on and works on all keys. Turn it off and scan the sheet again; until then they are put right.")
	}
	if d.scanner != d.host {
		find(FoundLayout, "The scanner is set for the keyboard layout %s and the computer for %s. Set both to the same and scan the sheet again; until then the keys are put right.", d.scanner, d.host)
	}
	before, sends, even := d.before()
	if !even {
		find(FoundUneven, "What the scanner types in front of a code differs from code to code. Take its prefixes out and scan the sheet again.")
		return Profile{}, fs, ErrSheet
	}
	p.Prefix = before
	if before != "" {
		find(FoundPrefix, "The scanner types %q in front of each code. It is taken off.", before)
	}
	p.Suffix = d.found[0].after
	for _, s := range d.found {
		if s != nil && s.after != p.Suffix {
			find(FoundUneven, "What the scanner types after a code differs from code to code. Take its suffixes out, let it end each scan with Enter, and scan the sheet again.")
			return Profile{}, fs, ErrSheet
		}
	}
	if p.Suffix != "" {
		find(FoundSuffix, "The scanner types %q after each code. It is taken off.", p.Suffix)
	}
	separator, sf := d.separator()
	p.Separator, fs = separator, append(fs, sf)
	if sends {
		find(FoundIdentifier, "The scanner sends the symbology identifier in front of each code. Leave it on: it says for certain what a code is.")
	} else {
		find(FoundNoIdentifier, "The scanner does not send symbology identifiers (AIM ID). Turn them on if its handbook says how: they say for certain what a code is.")
	}
	if d.missing(4) {
		find(FoundLinearOnly, "Code 4 was not scanned, or not read. A scanner that reads no DataMatrix is no use for most packs.")
	}
	if len(fs) == 2 && sends && separator == gs {
		fs = append([]Finding{{FoundNothing, "The scanner types what is printed."}}, fs...)
	}
	return p, fs, nil
}

// before returns what the scanner types in front of every code, apart from the
// symbology identifier, and whether it sends that.
func (d *diagnosis) before() (prefix string, sends, even bool) {
	first := true
	for i, s := range d.found {
		if s == nil {
			continue
		}
		own, has := d.cutIdentifier(s.before, sheet[i].Symbology)
		if !first && (own != prefix || has != sends) {
			return "", false, false
		}
		prefix, sends, first = own, has, false
	}
	return prefix, sends, true
}

// cutIdentifier takes the symbology identifier off the end of what arrived
// before a code.
func (d *diagnosis) cutIdentifier(before, id string) (string, bool) {
	if typed, ok := d.types(id); ok {
		return strings.CutSuffix(before, typed)
	}
	return before, false
}

// separator returns what arrives for U+001D as the profile wants it: after keys
// and case were put right.
func (d *diagnosis) separator() (string, Finding) {
	typed, first := "", true
	for _, s := range d.found[2:] {
		if s == nil {
			continue
		}
		for _, sep := range s.separators {
			if !first && sep != typed {
				return "", Finding{FoundSeparators, "What the scanner sends for the separator differs from code to code. Set it to send GS (ASCII 29) for FNC1 in every symbology, and scan the sheet again."}
			}
			typed, first = sep, false
		}
	}
	sep, ok := d.reads(typed)
	switch {
	case typed == "":
		return Dropped, Finding{FoundDropped, "The scanner sends nothing for the separator, so that many codes can be read in several ways and a person has to choose. Set it to send GS (ASCII 29), or | if that can't be typed, for FNC1."}
	case !ok:
		return "", Finding{FoundSeparators, fmt.Sprintf("The scanner sends %q for the separator, which can't be told apart with the keyboard layouts as they are. Set scanner and computer to the same layout and scan the sheet again.", typed)}
	case sep == gs:
		return gs, Finding{FoundSeparator, "The separator arrives as it is."}
	default:
		return sep, Finding{FoundStandIn, fmt.Sprintf("The scanner sends %q for the separator. It is put right.", typed)}
	}
}

func missingCode(n int) Finding {
	return Finding{FoundMissing, fmt.Sprintf("Code %d was not scanned, or what arrived for it could not be recognised. Scan all four codes once, one after the other.", n)}
}

// misunderstood says why the scans give no profile.
func misunderstood(lines []string, best *diagnosis) []Finding {
	for _, line := range lines {
		for _, forced := range []func(string) string{strings.ToUpper, strings.ToLower} {
			if want := forced(sheet[0].Text); strings.Contains(line, want) {
				return []Finding{{FoundCaseForced, "The scanner sends all letters as capitals or all as small ones, and the lot as it is printed can't be known. Set it to leave the case of letters alone, and scan the sheet again."}}
			}
		}
	}
	if len(lines) < len(sheet)-1 || best.seen() > 0 {
		for n := 1; n <= 3; n++ {
			if best.missing(n) {
				return []Finding{missingCode(n)}
			}
		}
	}
	return []Finding{{FoundNotUnderstood, "What arrived is neither the text of the sheet nor a change of it that is known here. Turn Caps Lock off, set scanner and computer to the same keyboard layout, and scan the sheet again."}}
}
