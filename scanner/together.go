package scanner

import (
	"slices"
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
)

// detect reads a text without symbology identifier: one symbol, or two that
// were scanned with nothing between them.
func detect(text string, opts Options) []Code {
	whole := single(text, opts)
	certain := good([]Code{whole})
	splits := splitsOf(text, whole, opts)
	if !certain && twoGTINs(text) && (len(splits) != 1 || splits[0].a.GTIN != splits[0].b.GTIN) {
		return []Code{runTogether(text)}
	}
	weak := slices.ContainsFunc(splits, func(s split) bool { return s.weak })
	switch {
	case len(splits) == 0, !certain && !slices.ContainsFunc(splits, func(s split) bool { return !s.weak }):
		return []Code{whole}
	case !certain && len(splits) == 1 && !weak:
		a, b := splits[0].a, splits[0].b
		w := Warning{twoSymbols, "the line holds two codes that were run together, and was read as both; scan one after the other if they belong to one pack"}
		a.Warnings, b.Warnings = append(a.Warnings, w), append(b.Warnings, w)
		return []Code{a, b}
	case !certain:
		return []Code{runTogether(text)}
	}
	return []Code{oneOrTwo(whole, splits)}
}

// twoSymbols is the code of a warning, and of an error, that a line holds more
// than one symbol.
const twoSymbols = "two_symbols"

func runTogether(text string) Code {
	return Code{Raw: text, Error: &Fault{twoSymbols, "the line holds several labels that were run together; scan them one by one"}}
}

// twoGTINs reports whether a text is two numbers of trade items.
func twoGTINs(text string) bool {
	for i := 12; i <= 14 && i < len(text); i++ {
		if gs1.HasCheckDigit(text[:i]) && isTail(text, i) {
			return true
		}
	}
	return false
}

// oneOrTwo adds to what a line says as one label what its first label says if it
// holds two.
func oneOrTwo(whole Code, splits []split) Code {
	ways, rest := whole.asCandidates(), []Candidate(nil)
	sure := true
	for _, s := range splits {
		rest = append(rest, s.ways()...)
		sure = sure && s.tail
	}
	c := whole
	c.Candidates = nil
	if !proves(whole) {
		ways, rest = rest, ways
	}
	for _, k := range append(ways, rest...) {
		c.addCandidate(k)
	}
	if sure && proves(whole) {
		// Long numbers end in a check digit that fits one time in ten.
		c.Warnings = append(slices.Clone(c.Warnings), Warning{"gtin_at_end", "the last digits are a GTIN of their own, perhaps that of a second code that was run together with this one; compare the reading with the print"})
		if c.Chosen = whole.Chosen || len(whole.Candidates) == 0; !c.Chosen {
			c.settleOpen()
		}
		return c
	}
	c.Warnings = slices.DeleteFunc(slices.Clone(c.Warnings), func(w Warning) bool { return w.Code == "separator_known" })
	c.Warnings = append(c.Warnings, Warning{twoSymbols, "the line may hold two labels that were run together; touch the reading that is printed, and if there were two packs scan the second again"})
	c.settleOpen()
	return c
}

// A split is a line cut into two symbols that can both be read. tail is set
// where nothing but a check digit speaks for the second, weak where so little
// does that it only keeps others from being taken.
type split struct {
	a, b       Code
	tail, weak bool
}

// ways lists what the label says if the line is cut there: both symbols if they
// are of one label, else the first.
func (s split) ways() []Candidate {
	if s.a.GTIN != "" && s.a.GTIN == s.b.GTIN && len(s.a.Elements) == 1 {
		return append(s.b.asCandidates(), s.a.asCandidates()...) // the product, and then its whole label
	}
	ways := s.a.asCandidates()
	if joined := Join([]Code{s.a, s.b}); len(joined) == 1 {
		ways = append(joined[0].asCandidates(), ways...)
	}
	return ways
}

// maxSplits bounds the work on a line that is all zeros and ones.
const maxSplits = 8

// splitsOf finds where a text that says whole can be cut into two symbols.
func splitsOf(text string, whole Code, opts Options) []split {
	certain := good([]Code{whole})
	tested := opts.Profile.Separator != "" // such a scanner ends what it types
	cut := slices.ContainsFunc(whole.Warnings, cutOff)
	opts.Known = nil // it is asked about the product of the whole line
	switch {
	case len(text) > maxMended:
		return nil
	case certain && whole.Carrier == CarrierGS1 && !open(whole) && !repeated(whole) && proves(whole), certain && whole.Carrier == CarrierICCBBA:
		return nil // every value has the length that it must have
	}
	var out []split
	for i := 8; i < len(text) && len(out) < maxSplits; i++ {
		kind := boundary(text, i, opts)
		switch {
		case kind == noBoundary, kind != atLead && (tested || known(whole) || cut), kind == atHead && proves(whole), hibc.Is(text) && kind != atLead && kind != atDate && !certain:
			continue
		}
		a, b := single(strings.TrimSuffix(text[:i], string(gs1.Separator)), opts), single(text[i:], opts)
		switch {
		case !good([]Code{a}) || !good([]Code{b}), !certain && !proves(a) && !proves(b), i == 8 && !certain, i < 16 && begins(text): // inside of a number with a check digit
			continue
		case !certain && a.GTIN != b.GTIN && kind == atHead && !dates(text[i:], opts), kind == atDate && a.Carrier == b.Carrier && !contradict(a, b) && !arrived(text[:i], a, b):
			continue
		}
		weak := !certain && (kind == atDate || kind == atTail && a.GTIN != b.GTIN)
		out = append(out, split{a, b, kind == atTail && a.GTIN != b.GTIN, weak})
	}
	return out
}

// The kinds of places where a second symbol may begin, the surest first.
type boundaryKind uint8

const (
	noBoundary boundaryKind = iota
	atLead                  // something leads in a symbol
	atHead                  // a GTIN stands before it
	atTail                  // a GTIN stands from there to the end
	atDate                  // an expiry or a date made stands there
)

func boundary(text string, at int, opts Options) boundaryKind {
	switch {
	case leads(text[at:]):
		return atLead
	case at >= 12 && at <= 14 && gs1.HasCheckDigit(text[:at]):
		return atHead
	case isTail(text, at):
		return atTail
	case dates(text[at:], opts):
		return atDate
	default:
		return noBoundary
	}
}

// cutOff says that there are more readings than are listed.
func cutOff(w Warning) bool { return w.Code == "readings_cut" }

// known reports whether a reading was chosen by what is known of the product.
func known(c Code) bool {
	return slices.ContainsFunc(c.Warnings, func(w Warning) bool { return w.Code == "separator_known" })
}

// leads reports whether a text begins as only a symbol does.
func leads(text string) bool {
	switch text[0] {
	case '0':
		return digitsArrived(text)
	case '+':
		return hibc.Is(text)
	case '=', '&':
		return hibc.IsICCBBA(text)
	case '(':
		return strings.HasPrefix(text, "(01)") || strings.HasPrefix(text, "(00)")
	default:
		return gs1.IsLink(text)
	}
}

// dates reports whether a text begins with an expiry or a date made, as the
// second symbol of a label does.
func dates(text string, opts Options) bool {
	a, ok := gs1.Leading(text)
	return ok && (a.Code() == "17" || a.Code() == "11") && len(text) >= 8 && a.Accepts(text[2:8], opts.Now)
}

// arrived reports whether separators arrive, and b, of more than one element,
// stands where a value of no fixed length would go on: it is hardly a part of
// that value.
func arrived(before string, a, b Code) bool {
	if strings.LastIndexByte(before, gs1.Separator) < 1 || len(a.Elements) == 0 || len(b.Elements) < 2 {
		return false
	}
	last, ok := gs1.Lookup(a.Elements[len(a.Elements)-1].AI)
	return ok && !last.Predefined()
}

// contradict reports whether two codes can't be of one label as they are most
// likely read.
func contradict(a, b Code) bool {
	x, y := a.asCandidates()[0], b.asCandidates()[0]
	_, ok := union(x.Elements, y.Elements)
	return !ok || repeats(x, y)
}

func repeats(x, y Candidate) bool {
	return slices.ContainsFunc(x.Elements, func(e Element) bool { return slices.Contains(y.Elements, e) })
}

// isTail reports whether the text ends, from a place on, with the digits of an
// EAN-13, a UPC-A or an ITF-14.
func isTail(text string, at int) bool {
	n := len(text) - at
	return n >= 12 && n <= 14 && gs1.HasCheckDigit(text[at:])
}

// repeated reports whether an element stands in a code twice.
func repeated(c Code) bool {
	for i, e := range c.Elements {
		if slices.Contains(c.Elements[:i], e) {
			return true
		}
	}
	return false
}

// open reports whether a value without predefined length was read, which may
// have taken in what follows it.
func open(c Code) bool {
	return len(c.Candidates) > 0 || slices.ContainsFunc(c.Elements, func(e Element) bool {
		a, ok := gs1.Lookup(e.AI)
		return ok && !a.Predefined()
	})
}

// settleOpen fills the members of a code from what its candidates agree on.
func (c *Code) settleOpen() {
	f := c.Candidates[0].facts()
	c.Elements = slices.Clone(c.Candidates[0].Elements)
	for _, k := range c.Candidates[1:] {
		f = f.common(k.facts())
		c.Elements = slices.DeleteFunc(c.Elements, func(e Element) bool { return !slices.Contains(k.Elements, e) })
	}
	f.into(c)
	c.Chosen = false
}
