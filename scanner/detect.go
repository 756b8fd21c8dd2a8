package scanner

import (
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// readPiece reads what is meant to be one symbol.
func readPiece(text string, opts Options) []Code {
	cs := identify(text, opts)
	if good(cs) {
		return cs
	}
	if mended := mend(text, opts); mended != nil {
		return mended
	}
	return cs
}

// good reports whether codes were read for certain to be codes.
func good(cs []Code) bool {
	for _, c := range cs {
		if c.Error != nil || c.Carrier == CarrierPlain {
			return false
		}
	}
	return len(cs) > 0
}

// identify reads a text by its symbology identifier, or by what it looks like.
func identify(text string, opts Options) []Code {
	id, rest := cutSymbology(strings.TrimLeft(text, " "))
	if id == "" {
		return detect(text, opts)
	}
	switch {
	case id == "]E0" && capital(rest, opts):
		// Caps Lock turns ]e0 into ]E0.
		c := interpret("]e0", wedge.SwapCase(rest), false, opts)
		c.warn(capsLock)
		return []Code{c}
	case id == "]e0" && len(rest) == 13 && gs1.HasCheckDigit(rest):
		if els, err := gs1.Parse(rest, opts.Now); err != nil || !productionOnly(els) {
			c := interpret("]E0", rest, false, opts)
			c.warn(capsLock)
			return []Code{c}
		}
	}
	if classOf(id) == classOther {
		if hibc.Is(rest) {
			cs := splitHIBC(rest, opts)
			for i := range cs {
				cs[i].Symbology = id
			}
			return cs
		}
		rest = strings.TrimRight(rest, " ")
	}
	return []Code{interpret(id, rest, false, opts)}
}

// capsLock is what is said when Caps Lock was undone.
var capsLock = []wedge.Warning{{
	Code:    "caps_lock",
	Message: "Caps Lock was on: the case of all letters arrived swapped and was put right; switch it off",
}}

// capital reports whether a text behind ]E0 is no EAN-13 but an element string.
func capital(rest string, opts Options) bool {
	if len(rest) <= 13 {
		return false
	}
	_, err := wedge.ReadGS1(wedge.SwapCase(rest), wedge.Context{Now: opts.Now, Profile: opts.Profile, Identified: true})
	return err == nil
}

// detect reads a text without symbology identifier.
func detect(text string, opts Options) []Code {
	trimmed := strings.Trim(text, " ")
	switch {
	case gs1.IsLink(trimmed):
		return []Code{readLink(trimmed, false, opts)}
	case hibc.Is(strings.TrimLeft(text, " ")):
		return splitHIBC(strings.TrimLeft(text, " "), opts)
	case hibc.IsICCBBA(trimmed):
		return []Code{readICCBBA(trimmed, opts)}
	case gs1.IsBracketed(trimmed):
		return []Code{readBracketed(trimmed, opts)}
	}
	if c, ok := bareGTIN(trimmed, opts); ok {
		return []Code{c}
	}
	if wedge.LooksLikeGS1(trimmed) {
		return gs1Line(trimmed, opts)
	}
	return []Code{{Carrier: CarrierPlain, Raw: text}}
}

func readBracketed(text string, opts Options) Code {
	els, err := gs1.ParseBracketed(wedge.DropSeparators(text), opts.Now)
	if err != nil {
		return failed(err, text)
	}
	return fromElements(CarrierGS1, text, els, opts)
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

// readLink reads a web address. Caps Lock shows where the scheme is in capitals
// and the lot is not.
func readLink(text string, exact bool, opts Options) Code {
	l, err := gs1.ParseLink(text, opts.Now)
	if err != nil {
		return failed(err, text)
	}
	if !exact && opts.Profile.CapsLock == wedge.CapsUnknown && strings.HasPrefix(text, "HTTP") && wedge.AllSmall(lotAndSerial(l.Elements)) {
		if s, err := gs1.ParseLink(wedge.SwapCase(text), opts.Now); err == nil {
			o := wedge.Outcome{Text: text, Readings: [][]gs1.Element{s.Elements, l.Elements}}
			o.Warnings = []wedge.Warning{{
				Code:    "caps_lock_suspected",
				Message: "the web address begins in capitals and its lot or serial is in small letters, which Caps Lock may have caused; touch the reading that is printed",
			}}
			return fromOutcome(CarrierDigitalLink, o, opts)
		}
	}
	c := fromElements(CarrierDigitalLink, text, l.Elements, opts)
	for _, w := range l.Warnings {
		c.Warnings = append(c.Warnings, Warning{string(w.Code), w.Message})
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

// splitHIBC reads a line of one HIBC symbol or of two run together.
func splitHIBC(text string, opts Options) []Code {
	whole := readHIBC(text, opts)
	if whole.Error == nil {
		return []Code{whole}
	}
	var pairs [][]Code
	for i := 4; i < len(text) && len(text) <= maxMended; i++ {
		if text[i] != '+' || !hibc.Is(text[i:]) {
			continue
		}
		a, b := readHIBC(text[:i], opts), readHIBC(text[i:], opts)
		if a.Error == nil && b.Error == nil {
			pairs = append(pairs, []Code{a, b})
		}
	}
	if len(pairs) != 1 {
		return []Code{whole}
	}
	return pairs[0]
}
