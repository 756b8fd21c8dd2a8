package gs1

import (
	"fmt"
	"strings"
	"time"
)

// A Link is what a GS1 Digital Link URI says.
type Link struct {
	// Elements are the key, its qualifiers and then the parameters, in the
	// order carried.
	Elements []Element
	// Warnings are the forms met in the field that the standard does not
	// allow and that have one meaning all the same.
	Warnings []Warning
}

// words are the names that early versions of the Digital Link standard (1.0,
// 1.1) allowed in place of an identifier.
const words = " gtin=01 itip=8006 cpid=8010 cpsn=8011 cpv=22 lot=10 ser=21 gln=414 party=417 glnx=254" +
	" gsrn=8018 gsrnp=8017 srin=8019 gcn=255 gdti=253 giai=8004 ginc=401 gmn=8013 grai=8003 gsin=402 sscc=00 refno=8020 "

// uriChars are the characters of RFC 3986.
const uriChars = upper + lower + digits + "-._~:/?#[]@!$&'()*+,;=%"

// IsLink reports whether s begins like a web address.
func IsLink(s string) bool { return scheme(s) > 0 }

func scheme(s string) int {
	for _, p := range [...]string{"https://", "http://"} {
		if len(s) >= len(p) && strings.EqualFold(s[:len(p)], p) {
			return len(p)
		}
	}
	return 0
}

// ParseLink reads an uncompressed Digital Link URI (GS1 Digital Link Standard:
// URI Syntax 1.6). The path is read from the right for a primary key; a plus
// sign is data in the path and a space in a parameter; parameters that are no
// numbers are none of GS1's and are passed over. An error is an *Error.
func ParseLink(s string, now time.Time) (Link, error) {
	p := linkParser{year: now.Year()}
	err := p.parse(s)
	if err != nil {
		return Link{}, err
	}
	return Link{Elements: p.els, Warnings: p.warnings}, nil
}

type linkParser struct {
	year     int
	els      []Element
	path     int // how many of els stand in the path
	warnings []Warning
}

func linkError(code Code, ai, reason string) *Error {
	return &Error{Code: code, AI: ai, Offset: -1, Reason: reason}
}

func (l *linkParser) warn(code Code, ai, format string, args ...any) {
	l.warnings = append(l.warnings, Warning{Code: code, AI: ai, Message: fmt.Sprintf(format, args...)})
}

func (l *linkParser) parse(s string) error {
	if strings.ContainsFunc(s, func(r rune) bool { return !strings.ContainsRune(uriChars, r) }) {
		return linkError(LinkBadURI, "", "the web address holds a character that none may hold; scan it again")
	}
	n := scheme(s)
	if n == 0 {
		return linkError(LinkBadURI, "", "this is no web address: it begins with neither http:// nor https://")
	}
	rest := s[n:]
	rest, _, _ = strings.Cut(rest, "#")
	rest, query, _ := strings.Cut(rest, "?")
	domain, path, ok := strings.Cut(rest, "/")
	if !ok || domain == "" {
		return noKey()
	}
	if strings.ContainsAny(domain, "_~?#@!$&'()*+,;=%") {
		return linkError(LinkBadURI, "", "the web address has no valid host name; scan it again")
	}
	if err := l.parsePath(path); err != nil {
		return err
	}
	if err := l.parseQuery(query); err != nil {
		return err
	}
	for _, e := range l.els {
		if p := e.AI.valid(e.Value, l.year); p != fine {
			return p.at(e.AI, -1)
		}
	}
	return Check(l.els)
}

func noKey() error {
	return linkError(LinkNoKey, "", "the web address names no product, so it is no GS1 Digital Link, or a compressed one, which is not read; scan the other code of the label or type what is printed")
}

// identifier looks up a path segment that may be a number or a word.
func identifier(segment string) (a *AI, word bool) {
	if a, ok := Lookup(segment); ok {
		return a, false
	}
	if segment == "" || strings.ContainsAny(segment, "= ") {
		return nil, false
	}
	_, code, ok := strings.Cut(words, " "+strings.ToLower(segment)+"=")
	if !ok {
		return nil, false
	}
	code, _, _ = strings.Cut(code, " ")
	a, _ = Lookup(code)
	return a, true
}

func (l *linkParser) parsePath(path string) error {
	if strings.HasSuffix(path, "/") {
		path = path[:len(path)-1]
		defer l.warn(LinkTrailingSlash, "", "the web address ends with a slash that does not belong there")
	}
	key := keyStart(path)
	if key < 0 {
		return noKey()
	}
	for rest := path[key:]; rest != ""; {
		var name, value string
		name, rest, _ = strings.Cut(rest, "/")
		value, rest, _ = strings.Cut(rest, "/")
		a, word := identifier(name)
		if word {
			l.warn(LinkWord, a.code, "the web address says %q where the standard wants the number %s", name, a.code)
		}
		if err := l.add(a, value, false); err != nil {
			return err
		}
	}
	l.path = len(l.els)
	if !l.els[0].AI.allows(l.els[1:l.path]) {
		return linkError(LinkPathOrder, l.els[0].AI.code,
			"the parts of the web address do not stand in an order that the standard allows; type what is printed")
	}
	return nil
}

// keyStart finds where the rightmost primary key of a path begins, with every
// pair of segments after it led by an identifier.
func keyStart(path string) int {
	end := len(path)
	for {
		slash := strings.LastIndexByte(path[:end], '/')
		if slash < 0 {
			return -1
		}
		start := strings.LastIndexByte(path[:slash], '/') + 1
		a, _ := identifier(path[start:slash])
		switch {
		case a == nil:
			return -1
		case a.key:
			return start
		case start == 0:
			return -1
		}
		end = start - 1
	}
}

// allows reports whether qualifiers follow a key in an order of the table.
func (a *AI) allows(qualifiers []Element) bool {
	if len(qualifiers) == 0 {
		return true
	}
	for _, seq := range a.qualifiers {
		n := 0
		for _, q := range seq {
			if n < len(qualifiers) && qualifiers[n].AI.index == q {
				n++
			}
		}
		if n == len(qualifiers) {
			return true
		}
	}
	return false
}

func (a *AI) qualifies(q *AI) bool {
	for _, seq := range a.qualifiers {
		for _, i := range seq {
			if i == q.index {
				return true
			}
		}
	}
	return false
}

func (l *linkParser) parseQuery(query string) error {
	for rest := query; rest != ""; {
		var param string
		param, rest, _ = strings.Cut(rest, "&")
		name, value, ok := strings.Cut(param, "=")
		if !ok || !allDigits(name) {
			l.passedOver(name)
			continue
		}
		a, known := Lookup(name)
		if !known {
			return linkError(LinkUnknownParam, "", "the parameter "+clip(name)+" is a number and yet no application identifier; type what is printed")
		}
		for _, e := range l.els {
			if e.AI == a {
				return linkError(LinkDuplicate, a.code, a.title+" stands in the web address twice; type what is printed")
			}
		}
		key := l.els[0].AI
		switch {
		case key.qualifies(a):
			l.warn(LinkParamInQuery, a.code, "%s stands among the parameters and belongs into the path", a.title)
		case !a.query:
			return linkError(LinkNotAttribute, a.code, a.title+" may not stand among the parameters of a web address; type what is printed")
		}
		if err := l.add(a, value, true); err != nil {
			return err
		}
	}
	return nil
}

// passedOver warns of parameters that look as if they meant a lot or a date.
func (l *linkParser) passedOver(name string) {
	if a, ok := Leading(name); ok {
		l.warn(LinkParamIgnored, a.code, "the parameter %q begins with a number of GS1's and has no value, so it was not taken; compare the reading with the print", clip(name))
		return
	}
	switch strings.ToLower(name) {
	case "lot", "batch", "ser", "serial", "exp", "expiry":
		l.warn(LinkParamIgnored, "", "the parameter %q is none of GS1's and was not taken; compare the reading with the print", name)
	}
}

func (l *linkParser) add(a *AI, raw string, query bool) error {
	if raw == "" {
		return emptyValue.at(a, -1)
	}
	v, sound := unescape(raw, query)
	if !sound {
		l.warn(LinkBadPercent, a.code, "a %% in the value is not followed by two hexadecimal digits and was read as itself")
	}
	if strings.IndexByte(v, 0) >= 0 {
		return notSet82.at(a, -1)
	}
	if a.code == "01" && allDigits(v) && (len(v) == 8 || len(v) == 12 || len(v) == 13) {
		l.warn(LinkShortGTIN, a.code, "the GTIN in the web address has %d digits instead of 14 and was filled up with zeros", len(v))
		v = "000000"[:14-len(v)] + v
	}
	switch {
	case len(v) < a.min:
		return tooShort.at(a, -1)
	case len(v) > a.max:
		return tooLong.at(a, -1)
	case len(l.els) == MaxElements:
		return tooMany.at(a, -1)
	}
	l.els = append(l.els, Element{AI: a, Value: v})
	return nil
}

// unescape undoes percent-encoding. A percent sign without two hexadecimal
// digits stands for itself, and sound is false.
func unescape(s string, query bool) (_ string, sound bool) {
	sound = true
	if !strings.Contains(s, "%") && (!query || !strings.Contains(s, "+")) {
		return s, true
	}
	b := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '%' && i+2 < len(s) && hex(s[i+1]) >= 0 && hex(s[i+2]) >= 0:
			b = append(b, byte(hex(s[i+1])<<4|hex(s[i+2])))
			i += 2
		case c == '%':
			sound = false
			b = append(b, c)
		case c == '+' && query:
			b = append(b, ' ')
		default:
			b = append(b, c)
		}
	}
	return string(b), sound
}

// clip shortens text from a symbol for use in a sentence.
func clip(s string) string {
	if len(s) > 24 {
		return s[:24] + "…"
	}
	return s
}
