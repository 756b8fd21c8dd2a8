package wedge

import "strings"

// A Profile says what one scanner does to the text of a symbol. The zero
// Profile knows nothing.
type Profile struct {
	// Separator is what arrives for U+001D: itself, another text, or
	// Dropped. "" is not known.
	Separator string `json:"separator,omitempty"`
	// Prefix and Suffix are what the scanner adds, as it arrives. Carriage
	// return, line feed and tab at the end need not be named.
	Prefix string `json:"prefix,omitempty"`
	Suffix string `json:"suffix,omitempty"`
	// Scanner is the layout that the scanner is set for, Host the
	// computer's. Both are "" when not known.
	Scanner Layout `json:"scanner,omitempty"`
	Host    Layout `json:"host,omitempty"`
	// CapsLock says whether the scanner's text arrived with the case of
	// its letters swapped. It is undone, but not trusted: a text that then
	// has small letters only is in doubt as without a profile.
	CapsLock Caps `json:"capsLock,omitempty"`
}

// Dropped is the Separator of a scanner that types nothing for U+001D.
const Dropped = "dropped"

// Caps says what Caps Lock does.
type Caps string

// The states of Caps. CapsOn swaps the case of letters. CapsShift works on every
// key as Shift does, as on French and Belgian keyboards: digits arrive as
// marks, or marks as digits.
const (
	CapsUnknown Caps = ""
	CapsOff     Caps = "off"
	CapsOn      Caps = "on"
	CapsShift   Caps = "shift"
)

// A Warning is something that was tolerated or assumed.
type Warning struct{ Code, Message string }

// Undo takes off what the profile says the scanner adds, and puts keys and case
// right. It warns where the text contradicts the profile. The separator is left
// as it is.
func (p Profile) Undo(text string) (string, []Warning) {
	var ws []Warning
	contradicted := func(what string) {
		ws = append(ws, Warning{
			"profile_contradicted",
			what + "; check the scanner's set-up with the test sheet",
		})
	}
	if p.Prefix != "" {
		if t, ok := strings.CutPrefix(text, p.Prefix); ok {
			text = t
		} else {
			contradicted("the scanner's profile has a prefix that this text does not begin with")
		}
	}
	if p.Suffix != "" && strings.Trim(p.Suffix, "\r\n\t") != "" {
		if t, ok := strings.CutSuffix(text, p.Suffix); ok {
			text = t
		} else {
			contradicted("the scanner's profile has a suffix that this text does not end with")
		}
	}
	if t, ok := Remap(text, p.Scanner, p.Host, p.CapsLock); ok {
		text = t
	} else {
		contradicted("the text holds a character that the profile's keyboard layout cannot type")
	}
	return text, ws
}
