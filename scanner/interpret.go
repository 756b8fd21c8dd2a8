package scanner

import (
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// interpret reads a text by its symbology. exact is set when separators and
// case are certain, because the text did not pass a keyboard.
func interpret(symbology, text string, exact bool, opts Options) Code {
	var c Code
	switch classOf(symbology) {
	case classGS1:
		c = elementString(text, exact, true, opts)
		if !exact && c.Error == nil && wedge.AllSmall(c.Raw) && wedge.AllSmall(symbology) {
			c.orCapitals(opts)
		}
	case classEAN13:
		c = readDigits(text, opts, 13, 12, 8)
	case classEAN13AddOn:
		main := text
		if len(text) == 15 || len(text) == 18 {
			main = text[:13]
		}
		c = readDigits(main, opts, 13)
	case classEAN8:
		c = readDigits(text, opts, 8)
	case classITF:
		c = readDigits(text, opts, 14)
	default:
		c = readOther(symbology, text, exact || !opts.swapped, opts)
	}
	c.Symbology = symbology
	return c
}

// elementString reads GS1 element strings.
func elementString(text string, exact, identified bool, opts Options) Code {
	if exact {
		text = strings.TrimPrefix(text, string(gs1.Separator))
		els, err := gs1.Parse(text, opts.Now)
		if err != nil {
			return failed(err, text)
		}
		return fromElements(CarrierGS1, text, els, opts)
	}
	o, err := wedge.ReadGS1(text, wedge.Context{Now: opts.Now, Profile: opts.Profile, Known: opts.Known, Identified: identified, Swapped: opts.swapped})
	if err != nil {
		return failed(err, text)
	}
	return fromOutcome(CarrierGS1, o, opts)
}

func fromElements(carrier Carrier, raw string, els []gs1.Element, opts Options) Code {
	c := Code{Carrier: carrier, Raw: raw, Elements: elementsOf(els), Warnings: gs1Warnings(els, opts.Now)}
	f := factsOf(els, opts.Now)
	f.into(&c)
	return c
}

// fromOutcome turns what the keyboard reader found into a Code.
func fromOutcome(carrier Carrier, o wedge.Outcome, opts Options) Code {
	var c Code
	switch {
	case len(o.Readings) < 2 || o.Chosen:
		c = fromElements(carrier, o.Text, o.Elements, opts)
	default:
		els := o.Elements
		if els == nil {
			els = agreed(o.Readings)
		}
		c = Code{Carrier: carrier, Raw: o.Text, Elements: elementsOf(els)}
		f := factsOf(o.Readings[0], opts.Now)
		for _, r := range o.Readings[1:] {
			f = f.common(factsOf(r, opts.Now))
		}
		f.into(&c)
	}
	c.Chosen = o.Chosen
	for _, r := range o.Readings {
		c.Candidates = append(c.Candidates, candidateOf(r, opts.Now))
	}
	c.warn(o.Warnings)
	return c
}

// readDigits reads the digits of a GTIN. lengths are the numbers of digits that
// the symbology may transmit.
func readDigits(text string, opts Options, lengths ...int) Code {
	digits := strings.Trim(text, " ")
	ok := false
	for _, n := range lengths {
		ok = ok || len(digits) == n
	}
	if !ok {
		return Code{Raw: text, Error: &Fault{
			string(gs1.BadLength),
			"the symbol should hold the digits of one GTIN and holds another number of characters; scan it again",
		}}
	}
	if len(digits) == 8 && len(lengths) > 1 {
		return eightDigits(digits, opts)
	}
	gtin, err := gs1.PadGTIN(digits)
	if err != nil {
		return failed(err, text)
	}
	return fromGTIN(gtin, digits, opts)
}

func gtinElement(gtin string) []gs1.Element {
	a, _ := gs1.Lookup("01")
	return []gs1.Element{{AI: a, Value: gtin}}
}

func fromGTIN(gtin, raw string, opts Options) Code {
	return fromElements(CarrierGS1, raw, gtinElement(gtin), opts)
}

// eightDigits reads eight digits that can be an EAN-8 or a UPC-E.
func eightDigits(digits string, opts Options) Code {
	ean8, upce := gs1.ReadEight(digits)
	switch {
	case ean8 == "" && upce == "":
		_, err := gs1.PadGTIN(digits)
		return failed(err, digits)
	case upce == "":
		return fromGTIN(ean8, digits, opts)
	case ean8 == "":
		return fromGTIN(upce, digits, opts)
	}
	o := wedge.Outcome{Text: digits, Readings: [][]gs1.Element{gtinElement(ean8), gtinElement(upce)}}
	o.Warnings = []wedge.Warning{{
		Code:    "ean8_or_upce",
		Message: "the eight digits are valid both as an EAN-8 and as a UPC-E; touch the number that the product has",
	}}
	return fromOutcome(CarrierGS1, o, opts)
}

// readOther reads what stands in a symbol that holds no element strings.
func readOther(symbology, text string, exact bool, opts Options) Code {
	switch {
	case gs1.IsLink(text):
		return readLink(text, exact, opts)
	case hibc.Is(text):
		return readHIBC(text, opts)
	case hibc.IsICCBBA(text):
		return readICCBBA(text, opts)
	}
	if symbology == "]I0" || symbology == "]I3" {
		if gtin, err := gs1.PadGTIN(text); err == nil && len(text) == 14 {
			c := fromGTIN(gtin, text, opts)
			c.Warnings = append(c.Warnings, Warning{"itf_unchecked", "the scanner did not say that it checked the digits of this ITF symbol; compare them with the print"})
			return c
		}
	}
	c := Code{Carrier: CarrierPlain, Raw: text}
	if _, err := gs1.Parse(text, opts.Now); err == nil || gs1.IsBracketed(text) {
		c.Warnings = []Warning{{"not_gs1_symbol", "the text looks like GS1 data, but the symbol does not say that it is; type what is printed if it belongs to the pack"}}
	}
	return c
}

func readICCBBA(text string, opts Options) Code {
	l, err := hibc.ParseICCBBA(strings.TrimRight(text, " "), opts.Now)
	if err != nil {
		return failed(err, text)
	}
	return fromLabel(CarrierICCBBA, text, l)
}

// readHIBC reads one HIBC text. The last character may be a space, so the text
// is tried as it is first.
func readHIBC(text string, opts Options) Code {
	l, err := hibc.Parse(text, opts.Now)
	if err != nil {
		if t := strings.TrimRight(text, " "); t != text {
			if l2, err2 := hibc.Parse(t, opts.Now); err2 == nil {
				l, err, text = l2, nil, t
			}
		}
	}
	if err != nil {
		return failed(err, text)
	}
	return fromLabel(CarrierHIBC, text, l)
}

func fromLabel(carrier Carrier, raw string, l hibc.Label) Code {
	c := Code{
		Carrier: carrier, Raw: raw, Lot: l.Lot, Serial: l.Serial,
		Expires: l.Expires.String(), Made: l.Made.String(), Quantity: l.Quantity,
	}
	for _, f := range l.Fields {
		c.Elements = append(c.Elements, Element{AI: f.Name, Title: fieldTitle(f.Name), Value: f.Value})
	}
	if l.Odd {
		c.Warnings = append(c.Warnings, Warning{"hibc_characters", "the lot or serial holds a character that HIBC does not provide for; compare it with the print"})
	}
	return c
}

func fieldTitle(name string) string {
	switch name {
	case "lic":
		return "LABELER"
	case "pcn":
		return "PRODUCT No."
	case "uom":
		return "PACKAGING LEVEL"
	case "lot":
		return "LOT"
	case "serial":
		return "SERIAL"
	case "exp":
		return "EXPIRY"
	case "mfg":
		return "DATE MADE"
	case "qty":
		return "QUANTITY"
	case "link":
		return "LINK CHARACTER"
	case "check":
		return "CHECK CHARACTER"
	case "di":
		return "PRODUCT CODE"
	case "din":
		return "DONATION No."
	case "container":
		return "CONTAINER"
	case "product":
		return "BLOOD PRODUCT"
	case "supplement":
		return "SUPPLEMENT No."
	case "collected":
		return "DATE COLLECTED"
	case "blood":
		return "BLOOD GROUP"
	case "testing":
		return "TESTING"
	case "donor":
		return "DONOR No."
	case "consignment":
		return "CONSIGNMENT"
	default:
		return ""
	}
}
