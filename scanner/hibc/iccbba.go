package hibc

import (
	"strings"
	"time"
)

// iccbba lists data structures of ISBT 128 with the number of characters after
// the identifier: those of device identification (ICCBBA ST-017, table 5) and
// others that stand beside them on a label (ICCBBA ST-001, chapter 2.4, by the
// number of each structure).
var iccbba = []struct {
	id   string
	name string
	size int
}{
	{"=/", "di", 16},          // 034
	{"=,", "serial", 6},       // 032
	{"=>", "exp", 6},          // 004
	{"&>", "exp", 10},         // 005, with the time
	{"=]", "exp", 6},          // 026, year and month
	{"=}", "mfg", 6},          // 008
	{"&}", "mfg", 10},         // 009, with the time
	{"&,1", "lot", 18},        // 035
	{"&,2", "supplement", 18}, // 036
	{"=)", "container", 10},   // 017
	{"&)", "lot", 10},         // 018
	{"=-", "container", 10},   // 021
	{"&-", "lot", 10},         // 022
	{"=<", "product", 8},      // 003
	{"=*", "collected", 6},    // 006
	{"&*", "collected", 10},   // 007
	{"=%", "blood", 4},        // 002
	{"&(", "testing", 5},      // 010
	{"=;", "donor", 21},       // 019
	{"=$", "consignment", 16}, // 028
	{compound, "message", 5},  // 023
}

// compound opens a message of several structures: two digits say how many, three
// which of ICCBBA's lists it follows, 000 for none (ICCBBA ST-017, 4.1).
const compound = "=+"

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
	// character is a letter but O or a digit but 0 (ICCBBA ST-017, 3.1).
	if len(s) >= 2 && s[0] == '=' && (isUpper(s[1]) && s[1] != 'O' || '1' <= s[1] && s[1] <= '9') {
		return "din", 1, 15
	}
	return "", 0, 0
}

// ParseICCBBA reads ISBT 128 data structures, one after the other. Lots are
// filled up with zeros on the left in the symbol; Lot is without them and the
// field as carried. An error is an *Error.
func ParseICCBBA(s string, _ time.Time) (Label, error) {
	var l Label
	said, read := -1, 0 // how many structures a message has
	for at := 0; at < len(s); read++ {
		name, id, size := structure(s[at:])
		if name == "" {
			return Label{}, fault(BadICCBBA, "an ISBT 128 identifier should stand at character %d and does not; scan the label again", at+1)
		}
		if len(s) < at+id+size {
			return Label{}, fault(TooShort, "the ISBT 128 field %q is too short; the label was read only in part, scan it again", s[at:at+id])
		}
		v := s[at+id : at+id+size]
		at += id + size
		if name == "message" {
			if at != id+size || !digits(v) {
				return Label{}, fault(BadICCBBA, "the message's header stands in a wrong place or holds no digits; scan the label again")
			}
			said = int(v[0]-'0')*10 + int(v[1]-'0')
			read--
			continue
		}
		if !alnum(v) && name != "container" || strings.ContainsFunc(v, func(r rune) bool { return r <= ' ' || r > '~' }) {
			return Label{}, fault(BadCharset, "the ISBT 128 field %q holds a character that it may not; scan the label again", name)
		}
		if err := l.take(s[at-id-size:at-size], name, v); err != nil {
			return Label{}, err
		}
	}
	switch {
	case len(l.Fields) == 0:
		return Label{}, fault(BadICCBBA, "the text is empty")
	case said >= 0 && said != read:
		return Label{}, fault(TooShort, "the message says that it has %d parts and has %d; the label was read only in part, scan it again", said, read)
	}
	return l, nil
}

func (l *Label) take(id, name, v string) error {
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
	case "exp", "mfg", "collected":
		d, err := isbtDate(id, v)
		if err != nil {
			return err
		}
		switch name {
		case "exp":
			l.Expires = d
		case "mfg":
			l.Made = d
		}
		v = d.String()
	}
	l.add(name, v)
	return nil
}

// isbtDate reads the date of a data structure: cyyjjj, the last three digits of
// the year (0yy for 20yy, 9yy for 19yy; from memory) and the day of the year, with
// hhmm behind it in some; yyyymm in "=]".
func isbtDate(id, v string) (Date, error) {
	if !digits(v) {
		return Date{}, fault(BadDate, "the date %q holds a character that is no digit; compare it with the print", v)
	}
	if id == "=]" {
		return dateOf("YYYYMM", v, time.Time{})
	}
	thousand := "2"
	if v[0] == '9' {
		thousand = "1"
	}
	d, err := dateOf("YYYYJJJ", thousand+v[:6], time.Time{})
	if err != nil || len(v) == 6 {
		return d, err
	}
	d.Hour, d.Minute = int(v[6]-'0')*10+int(v[7]-'0'), int(v[8]-'0')*10+int(v[9]-'0')
	d.HasHour, d.HasMinute = true, true
	if d.Hour > 23 || d.Minute > 59 {
		return Date{}, fault(BadTime, "%s is no time of the day; compare it with the print", v[6:])
	}
	return d, nil
}
