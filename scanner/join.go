package scanner

import (
	"slices"
	"strings"
	"time"

	"lotbook/scanner/gs1"
)

// Join puts the symbols of labels together: the product (DI) is often in one
// symbol, lot and expiry (PI) in another, in any order; a logistic unit's SSCC in
// one and its content in another. A second product closes the label before it,
// so nothing is ever joined across two packs. Codes that could not be read, and
// plain text, stay as they are, in their place.
func Join(codes []Code) []Code {
	var j Joiner
	var out []Code
	for _, c := range codes {
		out = append(out, j.Add(c, time.Time{})...)
	}
	return append(out, j.Flush()...)
}

// A Joiner is Join for codes that come one by one. The zero Joiner is ready.
// It is not safe for concurrent use.
type Joiner struct {
	// Within is how long after the last symbol of a label a further one is
	// taken to belong to it; 0 means without limit.
	Within time.Duration

	open   bool
	label  Code
	last   time.Time
	behind []Code // codes that are no part of a label, read after label
}

// Add takes a code that was read at an instant and returns the codes that are
// complete by that, in the order read.
func (j *Joiner) Add(c Code, at time.Time) []Code {
	if part(c) == partNone {
		if !j.open {
			return []Code{c}
		}
		j.behind = append(j.behind, c)
		return nil
	}
	if j.open && (j.Within == 0 || at.Sub(j.last) <= j.Within) {
		if joined, ok := pair(j.label, c); ok {
			j.label, j.last = joined, at
			return nil
		}
	}
	out := j.Flush()
	j.open, j.label, j.last = true, c, at
	return out
}

// Flush closes the open label and returns it, and what was read behind it.
func (j *Joiner) Flush() []Code {
	if !j.open {
		return nil
	}
	out := append([]Code{j.label}, j.behind...)
	*j = Joiner{Within: j.Within}
	return out
}

type labelPart uint8

const (
	partNone labelPart = iota
	partProduct
	partLot
)

// part says what a code contributes to a label.
func part(c Code) labelPart {
	if c.Error != nil || c.Carrier == CarrierPlain || len(c.Elements)+len(c.Candidates) == 0 {
		return partNone
	}
	if c.Carrier == CarrierHIBC || c.Carrier == CarrierICCBBA {
		if field(c, "lic")+field(c, "di")+field(c, "container") != "" {
			return partProduct
		}
		return partLot
	}
	if c.GTIN != "" || slices.ContainsFunc(c.Elements, func(e Element) bool { return isKey(e.AI) }) ||
		slices.ContainsFunc(c.Candidates, func(k Candidate) bool { return k.GTIN != "" }) {
		return partProduct
	}
	return partLot
}

// isKey reports whether an identifier names a thing and not a property of it.
func isKey(ai string) bool {
	a, ok := gs1.Lookup(ai)
	return ok && a.Key()
}

func field(c Code, name string) string {
	for _, e := range c.Elements {
		if e.AI == name {
			return e.Value
		}
	}
	return ""
}

// pair joins a code to a label, if both can be of one label.
func pair(label, c Code) (Code, bool) {
	if part(label) == partProduct && part(c) == partProduct && !unitAndContent(label, c) && !unitAndContent(c, label) {
		return Code{}, false
	}
	if agency(label) != agency(c) {
		return Code{}, false
	}
	if len(label.Candidates) > 0 && len(c.Candidates) > 0 {
		return Code{}, false // two doubts at once are not multiplied
	}
	switch label.Carrier {
	case CarrierHIBC:
		if !linked(label, c) {
			return Code{}, false
		}
		return pairFields(label, c)
	case CarrierICCBBA:
		return pairFields(label, c)
	default:
		return pairGS1(label, c)
	}
}

// agency is the carrier of a code, where a Digital Link is one of GS1's.
func agency(c Code) Carrier {
	if c.Carrier == CarrierDigitalLink {
		return CarrierGS1
	}
	return c.Carrier
}

// unitAndContent reports whether one code is the SSCC of a logistic unit and
// nothing else that names a thing, and the other its content: AI (02) stands
// only on a unit with an AI (00) (GS1 General Specifications 3.3.3).
func unitAndContent(unit, content Code) bool {
	return unit.GTIN == "" && len(unit.Candidates) == 0 && field(unit, "00") != "" &&
		field(content, "02") != "" && field(content, "00") == "" && field(content, "01") == ""
}

// linked reports whether the link character of a secondary HIBC symbol names
// the primary one, or two secondary symbols name the same.
func linked(a, b Code) bool {
	mark := func(c Code) string {
		if part(c) == partProduct {
			return field(c, "check")
		}
		return field(c, "link")
	}
	return mark(a) == mark(b)
}

// pairFields joins the fields of two symbols of HIBC or ICCBBA. Linear symbols of
// ICCBBA hold a field each (ICCBBA ST-017, chapter 5).
func pairFields(a, b Code) (Code, bool) {
	f, ok := a.asCandidates()[0].facts().merge(b.asCandidates()[0].facts())
	if !ok {
		return Code{}, false
	}
	out := merged(a, b)
	out.Elements = slices.Clone(a.Elements)
	for _, e := range b.Elements {
		have := field(out, e.AI)
		switch {
		case have == e.Value && a.Carrier == CarrierICCBBA:
			continue
		case have != "" && a.Carrier == CarrierICCBBA:
			return Code{}, false
		}
		out.Elements = append(out.Elements, e)
	}
	f.into(&out)
	return out, true
}

// pairGS1 joins two messages of element strings, if no element of one
// contradicts the other.
func pairGS1(a, b Code) (Code, bool) {
	out := merged(a, b)
	els, ok := union(a.Elements, b.Elements)
	if !ok {
		return Code{}, false
	}
	out.Elements = els
	if len(a.Candidates)+len(b.Candidates) == 0 {
		f, ok := a.asCandidates()[0].facts().merge(b.asCandidates()[0].facts())
		if !ok {
			return Code{}, false
		}
		f.into(&out)
	} else if !pairCandidates(&out, a, b) {
		return Code{}, false
	}
	out.Warnings = slices.DeleteFunc(out.Warnings, func(w Warning) bool { return w.Code == string(gs1.RequisiteAI) })
	if raw, err := fromElementList(els); err == nil {
		for _, m := range gs1.Missing(raw) {
			out.Warnings = append(out.Warnings, Warning{string(m.Code), m.Message})
		}
	}
	return out, true
}

// pairCandidates joins each candidate of one code with the other code.
func pairCandidates(out *Code, a, b Code) bool {
	doubtful, plain := a, b
	if len(b.Candidates) > 0 {
		doubtful, plain = b, a
	}
	var ks []Candidate
	for _, k := range doubtful.Candidates {
		els, ok := union(plain.Elements, k.Elements)
		f, ok2 := plain.asCandidates()[0].facts().merge(k.facts())
		if !ok || !ok2 {
			continue // this reading contradicts the other symbol
		}
		k.GTIN, k.Lot, k.Serial, k.Expires, k.Made, k.Quantity = f.gtin, f.lot, f.serial, f.expires, f.made, f.quantity
		k.Elements = els
		ks = append(ks, k)
	}
	if len(ks) == 0 {
		return false
	}
	f := ks[0].facts()
	for _, k := range ks[1:] {
		f = f.common(k.facts())
	}
	if out.Chosen = doubtful.Chosen; out.Chosen {
		var ok bool
		if f, ok = plain.asCandidates()[0].facts().merge(facts{
			doubtful.GTIN, doubtful.Lot, doubtful.Serial, doubtful.Expires, doubtful.Made, doubtful.Quantity,
		}); !ok {
			return false
		}
	}
	out.Candidates = ks
	f.into(out)
	return true
}

// merged starts the code of a label from two symbols.
func merged(a, b Code) Code {
	return Code{
		Source: a.Source, Symbology: a.Symbology, Carrier: a.Carrier,
		Raw:      strings.Join([]string{a.Raw, b.Raw}, "\n"),
		Warnings: append(slices.Clone(a.Warnings), b.Warnings...),
	}
}

// union puts elements together; it reports false when they contradict or exclude
// each other. An element that both have stands once.
func union(a, b []Element) ([]Element, bool) {
	out := slices.Clone(a)
	for _, e := range b {
		if !slices.Contains(a, e) {
			out = append(out, e)
		}
	}
	els, err := fromElementList(out)
	return out, err == nil && gs1.Check(els) == nil
}

// fromElementList finds the identifiers of elements again.
func fromElementList(els []Element) ([]gs1.Element, error) {
	out := make([]gs1.Element, 0, len(els))
	for _, e := range els {
		a, ok := gs1.Lookup(e.AI)
		if !ok {
			return nil, &Fault{string(gs1.UnknownAI), "there is no application identifier " + e.AI}
		}
		out = append(out, gs1.Element{AI: a, Value: e.Value})
	}
	return out, nil
}

// merge puts together what two symbols say; it reports false when they
// contradict each other.
func (f facts) merge(g facts) (facts, bool) {
	ok := true
	take := func(a, b string) string {
		if a != "" && b != "" && a != b {
			ok = false
		}
		if a == "" {
			return b
		}
		return a
	}
	f.gtin, f.lot, f.serial = take(f.gtin, g.gtin), take(f.lot, g.lot), take(f.serial, g.serial)
	f.expires, f.made = take(f.expires, g.expires), take(f.made, g.made)
	if f.quantity != 0 && g.quantity != 0 && f.quantity != g.quantity {
		ok = false
	}
	if f.quantity == 0 {
		f.quantity = g.quantity
	}
	return f, ok
}
