package hibc

import (
	"strings"
	"time"
)

// iccbba lists the data structures that carry device identification, with the
// number of characters after the identifier (FDA, UDI formats by issuing
// agency, version 1.3; ISBT 128 Standard Technical Specification).
var iccbba = []struct {
	id   string
	name string
	size int
}{
	{"=/", "di", 16},
	{"=,", "serial", 6},
	{"=>", "exp", 6},
	{"=}", "mfg", 6},
	{"&,1", "lot", 18},
	{"=)", "container", 10},
	{"&)", "lot", 10},
}

// IsICCBBA reports whether s begins like an ISBT 128 data structure that this
// package knows.
func IsICCBBA(s string) bool {
	name, _, _ := structure(s)
	return name != ""
}

// structure returns the data structure that s begins with: its name, the
// length of its identifier and of its data.
func structure(s string) (name string, id, size int) {
	for _, d := range iccbba {
		if strings.HasPrefix(s, d.id) {
			return d.name, len(d.id), d.size
		}
	}
	// A donation identification number: an equals sign, and its first data
	// character is a letter or a digit other than 0.
	if len(s) >= 2 && s[0] == '=' && (isUpper(s[1]) || '1' <= s[1] && s[1] <= '9') {
		return "din", 1, 15
	}
	return "", 0, 0
}

// ParseICCBBA reads ISBT 128 data structures, one after the other. Lots are
// filled up with zeros on the left in the symbol; Lot is without them and the
// field as carried. An error is an *Error.
func ParseICCBBA(s string, _ time.Time) (Label, error) {
	var l Label
	for at := 0; at < len(s); {
		name, id, size := structure(s[at:])
		if name == "" {
			return Label{}, fault(BadICCBBA, "an ISBT 128 identifier should stand at character %d and does not; scan the label again", at+1)
		}
		if len(s) < at+id+size {
			return Label{}, fault(TooShort, "the ISBT 128 field %q is too short; the label was read only in part, scan it again", s[at:at+id])
		}
		v := s[at+id : at+id+size]
		at += id + size
		if !alnum(v) && name != "container" || strings.ContainsFunc(v, func(r rune) bool { return r <= ' ' || r > '~' }) {
			return Label{}, fault(BadCharset, "the ISBT 128 field %q holds a character that it may not; scan the label again", name)
		}
		if err := l.take(name, v); err != nil {
			return Label{}, err
		}
	}
	if len(l.Fields) == 0 {
		return Label{}, fault(BadICCBBA, "the text is empty")
	}
	return l, nil
}

func (l *Label) take(name, v string) error {
	for _, f := range l.Fields {
		if f.Name == name {
			return fault(Repeated, "the label states %s twice; two labels were read as one, scan them one by one", name)
		}
	}
	switch name {
	case "di", "container":
		l.DI = v
	case "serial":
		l.Serial = v
	case "lot":
		l.Lot = strings.TrimLeft(v, "0")
		if l.Lot == "" {
			l.Lot = v
		}
	case "exp", "mfg":
		d, err := isbtDate(v)
		if err != nil {
			return err
		}
		if name == "exp" {
			l.Expires = d
		} else {
			l.Made = d
		}
		v = d.String()
	}
	l.add(name, v)
	return nil
}

// isbtDate reads cyyjjj: the last three digits of the year (0yy for 20yy, 9yy
// for 19yy; from memory) and the day of the year.
func isbtDate(v string) (Date, error) {
	if !digits(v) {
		return Date{}, fault(BadDate, "the date %q holds a character that is no digit; compare it with the print", v)
	}
	year := 2000
	if v[0] == '9' {
		year = 1000
	}
	d, err := dateOf("YYYYJJJ", string([]byte{byte('0' + year/1000), v[0], v[1], v[2], v[3], v[4], v[5]}), time.Time{})
	return d, err
}
