package scanner

import (
	"slices"
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// single reads a text without symbology identifier as one symbol.
func single(text string, opts Options) Code {
	trimmed, left := strings.Trim(text, " "), strings.TrimLeft(text, " ")
	switch {
	case gs1.IsLink(trimmed):
		return readLink(trimmed, false, opts)
	case lacksScheme(trimmed):
		c := readLink("https://"+trimmed, false, opts)
		c.Warnings = append(c.Warnings, Warning{"dl_no_scheme", "the web address does not begin with https:// and was read as if it did"})
		if c.Error != nil {
			c.Warnings = nil
		}
		return c
	case hibc.Is(left):
		return readHIBC(left, opts)
	case hibc.IsICCBBA(trimmed):
		return readICCBBA(trimmed, opts)
	case gs1.IsBracketed(trimmed):
		return readBracketed(trimmed, opts)
	}
	if c, ok := bareGTIN(trimmed, opts); ok {
		return c
	}
	if wedge.LooksLikeGS1(trimmed) {
		return elementString(trimmed, false, false, opts)
	}
	return Code{Carrier: CarrierPlain, Raw: text}
}

// lacksScheme reports whether a text is the web address of a trade item but for
// its https://, as some are encoded.
func lacksScheme(text string) bool {
	host, path, ok := strings.Cut(text, "/")
	dot := strings.LastIndexByte(host, '.')
	return ok && dot > 0 && dot < len(host)-1 && strings.Trim(host, hostChars) == "" &&
		(strings.Contains("/"+path, "/01/") || strings.Contains("/"+path, "/gtin/"))
}

const hostChars = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-"

// readBracketed reads element strings with their identifiers in brackets. Small
// letters are taken as they are, since a person may have typed them, and the
// capitals that Caps Lock or haste may have made them of stand beside them.
func readBracketed(text string, opts Options) Code {
	text = wedge.DropSeparators(text)
	els, err := gs1.ParseBracketed(text, opts.Now)
	if err != nil {
		return failed(err, text)
	}
	c := fromElements(CarrierGS1, text, els, opts)
	if wedge.AllSmall(text) {
		if capitals, err := gs1.ParseBracketed(wedge.SwapCase(text), opts.Now); err == nil {
			c.beside(capitals, opts)
		}
	}
	return c
}

// beside lists what a text would say if its small letters were capitals, and
// leaves what was read.
func (c *Code) beside(capitals []gs1.Element, opts Options) {
	k := candidateOf(capitals, opts.Now)
	if slices.ContainsFunc(c.asCandidates(), func(have Candidate) bool { return slices.Equal(have.Elements, k.Elements) }) {
		return
	}
	c.Chosen = c.Chosen || len(c.Candidates) == 0
	c.Candidates = append(slices.Clone(c.asCandidates()), k)
	w := Warning{"caps_lock_suspected", "all letters arrived as small ones, which Caps Lock may have caused; compare them with the print"}
	if !slices.Contains(c.Warnings, w) {
		c.Warnings = append(c.Warnings, w)
	}
}

// orCapitals lists the capitals that a scanner which is set to send small letters
// only may have made small.
func (c *Code) orCapitals(opts Options) {
	for _, k := range c.asCandidates() {
		for i := range k.Elements {
			k.Elements = slices.Clone(k.Elements)
			k.Elements[i].Value = wedge.SwapCase(k.Elements[i].Value)
		}
		if els, err := fromElementList(k.Elements); err == nil && !slices.ContainsFunc(els, func(e gs1.Element) bool { return !e.AI.Accepts(e.Value, opts.Now) }) {
			c.beside(els, opts)
		}
	}
}

// readLink reads a web address. Caps Lock shows where the scheme is in capitals
// and the lot is not; where the whole address is in small letters it may have
// been one in capitals, as QR codes hold them to be smaller.
func readLink(text string, exact bool, opts Options) Code {
	l, err := gs1.ParseLink(text, opts.Now)
	if err != nil {
		return failed(err, text)
	}
	var capitals []gs1.Element
	if !exact && wedge.AllSmall(lotAndSerial(l.Elements)) {
		if s, err := gs1.ParseLink(wedge.SwapCase(text), opts.Now); err == nil {
			capitals = s.Elements
		}
	}
	if capitals != nil && strings.HasPrefix(text, "HTTP") {
		o := wedge.Outcome{Text: text, Readings: [][]gs1.Element{capitals, l.Elements}}
		o.Warnings = []wedge.Warning{{
			Code:    "caps_lock_suspected",
			Message: "the web address begins in capitals and its lot or serial is in small letters, which Caps Lock may have caused; touch the reading that is printed",
		}}
		return fromOutcome(CarrierDigitalLink, o, opts)
	}
	c := fromElements(CarrierDigitalLink, text, l.Elements, opts)
	for _, w := range l.Warnings {
		c.Warnings = append(c.Warnings, Warning{string(w.Code), w.Message})
	}
	if capitals != nil && wedge.AllSmall(text) {
		c.beside(capitals, opts)
	}
	return c
}

func lotAndSerial(els []gs1.Element) string {
	s := ""
	for _, e := range els {
		if code := e.AI.Code(); code == "10" || code == "21" {
			s += e.Value
		}
	}
	return s
}

// bareGTIN reads digits that can be a GTIN: 8, 12, 13 or 14 of them, spaces
// between them allowed as they are printed.
func bareGTIN(text string, opts Options) (Code, bool) {
	digits := strings.ReplaceAll(text, " ", "")
	switch len(digits) {
	case 8, 12, 13, 14:
	default:
		return Code{}, false
	}
	if strings.Trim(digits, "0123456789") != "" {
		return Code{}, false
	}
	els, err := gs1.Parse(digits, opts.Now)
	alternative := err == nil && productionOnly(els)
	_, padErr := gs1.PadGTIN(digits)
	_, upce := gs1.ReadEight(digits)
	switch {
	case padErr != nil && upce == "" && alternative:
		return Code{}, false // an expiry or a lot by itself
	case padErr != nil && upce == "":
		return failed(padErr, text), true
	case !alternative && len(digits) == 8:
		return eightDigits(digits, opts), true
	case !alternative:
		return readDigits(digits, opts, len(digits)), true
	}
	// The second symbol of a label, such as 17271231, can pass for a GTIN.
	o := wedge.Outcome{Text: digits}
	if gtin, err := gs1.PadGTIN(digits); err == nil {
		o.Readings = append(o.Readings, gtinElement(gtin))
	}
	if upce != "" {
		o.Readings = append(o.Readings, gtinElement(upce))
	}
	o.Readings = append(o.Readings, els)
	o.Warnings = []wedge.Warning{{
		Code:    "gtin_or_elements",
		Message: "the digits can be a GTIN, or the second code of a label with a date or a lot; touch the reading that is printed",
	}}
	return fromOutcome(CarrierGS1, o, opts), true
}

// productionOnly reports whether elements are what the second symbol of a label
// carries.
func productionOnly(els []gs1.Element) bool {
	switch els[0].AI.Code() {
	case "10", "11", "17", "21":
		return true
	default:
		return false
	}
}
