package hibc

import (
	"strings"
	"time"
)

// The greatest lengths of ANSI/HIBC 2.6.
const (
	maxPCN    = 18
	maxLot    = 18
	maxSerial = 18
)

// Is reports whether s looks like the text of an HIBC symbol: a plus sign and
// then what opens a primary or a secondary symbol.
func Is(s string) bool {
	s = strings.TrimPrefix(s, "*")
	if len(s) < 3 || s[0] != '+' {
		return false
	}
	return s[1] == '$' || isDigit(s[1]) || isUpper(s[1])
}

// Parse reads the text of one HIBC symbol, which begins with a plus sign. The
// asterisks that are printed around the text are passed over. Nothing else is
// trimmed, because the last character can be a space. now says in which century
// a two-digit year falls. An error is an *Error.
func Parse(s string, now time.Time) (Label, error) {
	if len(s) > 2 && s[0] == '*' && s[len(s)-1] == '*' {
		s = s[1 : len(s)-1]
	}
	switch {
	case !Is(s):
		return Label{}, fault(BadStructure, "this is no HIBC text: a plus sign and a labeler code or a dollar sign should open it; type what is printed")
	case len(s) < 4:
		return Label{}, fault(TooShort, "the HIBC text is too short; it was read only in part, scan it again")
	}
	body, check := s[:len(s)-1], s[len(s)-1]
	want, ok := CheckChar(body)
	if !ok {
		return Label{}, fault(BadCharset, "the text holds a character that HIBC does not have (capitals, digits, - . $ / + %% and space); scan it again")
	}
	if check != want {
		return Label{}, fault(BadCheckChar, "the check character does not fit; scan it again, and if that does not help compare the text with the print")
	}
	p := parser{now: now}
	var err error
	if isUpper(s[1]) {
		err = p.primary(body[1:])
	} else {
		err = p.linked(body[1:])
	}
	if err != nil {
		return Label{}, err
	}
	p.Check = check
	p.add("check", string(check))
	return p.Label, nil
}

type parser struct {
	Label
	now time.Time
}

// primary reads LIC, PCN and UoM, and what a combined symbol adds.
func (p *parser) primary(s string) error {
	data, rest, combined := strings.Cut(s, "/")
	if len(data) < 6 {
		return fault(TooShort, "the primary part is too short for a labeler code, a product number and a packaging level; scan it again")
	}
	n := len(data) - 1
	p.LIC, p.PCN, p.UoM = data[:4], data[4:n], data[n:]
	switch {
	case !alnum(p.LIC) || !alnum(p.PCN):
		return fault(BadCharset, "the labeler code and the product number hold capitals and digits only; compare them with the print")
	case len(p.PCN) > maxPCN:
		return fault(TooLong, "the product number is longer than %d characters; two symbols were probably read as one", maxPCN)
	case !isDigit(p.UoM[0]):
		return fault(BadStructure, "the packaging level is no digit; compare the text with the print")
	}
	p.add("lic", p.LIC)
	p.add("pcn", p.PCN)
	p.add("uom", p.UoM)
	if !combined {
		return nil
	}
	return p.secondary(rest)
}

// linked reads a secondary symbol by itself; its last character is the link.
func (p *parser) linked(s string) error {
	if len(s) < 2 {
		return fault(TooShort, "the secondary text is too short for a link character; scan it again")
	}
	if err := p.secondary(s[:len(s)-1]); err != nil {
		return err
	}
	p.Link = s[len(s)-1]
	p.add("link", string(p.Link))
	return nil
}

// secondary reads the lot or serial, the date and the quantity, and then
// fields with identifiers of their own.
func (p *parser) secondary(s string) error {
	first, supplements := cutSupplement(s)
	if supplement(first) == "" {
		if err := p.first(first); err != nil {
			return err
		}
	} else {
		supplements = s
	}
	for supplements != "" {
		var f string
		f, supplements = cutSupplement(supplements)
		if err := p.supplement(f); err != nil {
			return err
		}
	}
	return nil
}

// cutSupplement cuts s before the next slash that opens a field.
func cutSupplement(s string) (before, after string) {
	for i := 1; i < len(s); i++ {
		if s[i] == '/' && supplement(s[i+1:]) != "" {
			return s[:i], s[i+1:]
		}
	}
	return s, ""
}

// supplement returns the identifier that opens a further field.
func supplement(s string) string {
	for _, id := range [...]string{"16D", "14D"} {
		if len(s) >= 11 && strings.HasPrefix(s, id) && digits(s[3:11]) {
			return id
		}
	}
	if len(s) >= 2 && (s[0] == 'S' || s[0] == 'Q' && isDigit(s[1])) {
		return s[:1]
	}
	return ""
}

func (p *parser) first(s string) error {
	switch {
	case s == "":
		return fault(EmptyValue, "nothing follows the slash; the label was read only in part, scan it again")
	case strings.HasPrefix(s, "$$"):
		s = s[2:]
		serial := strings.HasPrefix(s, "+")
		if serial {
			s = s[1:]
		}
		rest, err := p.quantityAndDate(s)
		if err != nil {
			return err
		}
		if serial {
			return p.serial(rest)
		}
		return p.lot(rest)
	case strings.HasPrefix(s, "$+"):
		return p.serial(s[2:])
	case s[0] == '$':
		return p.lot(s[1:])
	case isDigit(s[0]):
		rest, err := p.date(forms['J'], s, "exp")
		if err != nil {
			return err
		}
		return p.lot(rest)
	default:
		return fault(BadStructure, "what follows the slash is neither a lot nor a date; compare the text with the print")
	}
}

// quantityAndDate reads what "$$" leads in and returns what is left of s.
func (p *parser) quantityAndDate(s string) (string, error) {
	if s == "" {
		return "", nil
	}
	if s[0] == '8' || s[0] == '9' {
		n := 2
		if s[0] == '9' {
			n = 5
		}
		if len(s) < 1+n || !digits(s[1:1+n]) {
			return "", fault(BadStructure, "the quantity is not %d digits long; scan the label again", n)
		}
		p.setQuantity(s[1 : 1+n])
		s = s[1+n:]
		if s == "" {
			return "", nil
		}
	}
	switch flag := s[0]; {
	case flag == '7':
		return s[1:], nil
	case '2' <= flag && flag <= '6':
		return p.date(forms[flag], s[1:], "exp")
	case flag == '0' || flag == '1':
		return p.date(forms[0], s, "exp")
	default:
		return "", fault(BadStructure, "no known date follows \"$$\"; compare the text with the print")
	}
}

func (p *parser) setQuantity(v string) {
	n := 0
	for i := range len(v) {
		n = n*10 + int(v[i]-'0')
	}
	p.Quantity, p.HasQuantity = n, true
	p.add("qty", v)
}

// date reads a date of a form at the start of s and returns what is left.
func (p *parser) date(form, s, name string) (string, error) {
	if len(s) < len(form) {
		return "", fault(TooShort, "the date is too short; the label was read only in part, scan it again")
	}
	d, err := dateOf(form, s[:len(form)], p.now)
	if err != nil {
		return "", err
	}
	at := &p.Expires
	if name == "mfg" {
		at = &p.Made
	}
	if !at.IsZero() && *at != d {
		return "", fault(Repeated, "the label states two different dates, %s and %s; compare it with the print", *at, d)
	}
	*at = d
	p.add(name, d.String())
	return s[len(form):], nil
}

func (p *parser) lot(v string) error { return p.number(&p.Lot, "lot", v, maxLot) }

func (p *parser) serial(v string) error { return p.number(&p.Serial, "serial", v, maxSerial) }

// number takes a lot or a serial. Both may be empty (ANSI/HIBC 2.6, table 2).
func (p *parser) number(at *string, name, v string, most int) error {
	switch {
	case v == "":
		return nil
	case len(v) > most:
		return fault(TooLong, "the %s is longer than %d characters; two symbols were probably read as one", name, most)
	case strings.ContainsAny(v, "/+$ "):
		return fault(BadStructure, "the %s holds a character that separates fields; compare it with the print", name)
	case *at != "" && *at != v:
		return fault(Repeated, "the label states two different values for %s, %q and %q; compare it with the print", name, *at, v)
	}
	p.Odd = p.Odd || !alnum(v)
	*at = v
	p.add(name, v)
	return nil
}

func (p *parser) supplement(s string) error {
	switch id := supplement(s); id {
	case "S":
		return p.serial(s[1:])
	case "Q":
		if len(s) > 6 || !digits(s[1:]) {
			return fault(BadStructure, "the quantity after /Q is no number of up to five digits; compare it with the print")
		}
		p.setQuantity(s[1:])
		return nil
	case "16D", "14D":
		if len(s) != 11 {
			return fault(TooLong, "something follows the date after /%s; compare it with the print", id)
		}
		name := "mfg"
		if id == "14D" {
			name = "exp"
		}
		_, err := p.date(forms['8'], s[3:], name)
		return err
	default:
		return fault(BadStructure, "a field of the label is not known; compare the text with the print")
	}
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }
func isUpper(c byte) bool { return 'A' <= c && c <= 'Z' }

func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// alnum reports whether s consists of capitals and digits.
func alnum(s string) bool {
	for i := range len(s) {
		if !isDigit(s[i]) && !isUpper(s[i]) {
			return false
		}
	}
	return s != ""
}
