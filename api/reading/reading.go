package reading

import (
	"slices"
	"strings"

	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/trace"
)

// An Outcome says what is to be done with what was given.
type Outcome string

// The outcomes.
const (
	Ready        Outcome = "ready"         // can be recorded
	NeedsLot     Outcome = "needs_lot"     // the product is known, its lot is not
	NeedsProduct Outcome = "needs_product" // the product is not known
	NeedsChoice  Outcome = "needs_choice"  // it can be read in several ways, or is about several packs
	Unreadable   Outcome = "unreadable"    // nothing in it is the code of a pack
)

// Used and Stopped are what becomes of a Ready scan once it is recorded. They
// are named here so that all clients speak of one list of outcomes.
const (
	Used    Outcome = "used"
	Stopped Outcome = "stopped"
)

// Given is what came in about one pack.
type Given struct {
	// Codes are the symbols in the order read, not yet joined.
	Codes []scanner.Code
	// Choice is which of the choices was taken, from 1; 0 for none.
	Choice int
	// What a person typed. It fills in what the codes leave open; what the
	// codes say stands.
	Product inventory.ProductID
	GTIN    string
	Lot     string
	Serial  string
	Expires inventory.Date
	// NoLot says that the pack has no lot number that could be read: it is
	// then Ready without one.
	NoLot bool
	// How the codes were read; without codes it is trace.Typed.
	How trace.How
	// OnRecord reports whether a lot of a GTIN is on record with an expiry
	// date. Where a label can be read in several ways and just one of them
	// is, that one is taken, with a warning "lot_on_record". It may be nil.
	OnRecord func(gtin, lot string, expires inventory.Date) bool
}

// A Reading is what was made of it.
type Reading struct {
	Outcome Outcome
	// Stock has the product (or its GTIN), lot, serial and dates as far as
	// they are known. Its quantity is left to whoever records it.
	Stock inventory.Stock
	How   trace.How
	// Code is the text as carried; the symbols of one label are joined by a
	// line feed.
	Code string
	// Elements are those of the reading that was taken.
	Elements []scanner.Element
	// Order are the application identifiers of the label, as trace.Scan
	// wants them: nil where anything was in doubt and no person decided.
	Order []string
	// Choices are the ways of reading it, when Outcome is NeedsChoice.
	Choices []scanner.Candidate
	// Others are the further readings when one was taken because of what is
	// known of scanners and packs: a person may correct it.
	Others   []scanner.Candidate
	Warnings []scanner.Warning
	// RunTogether says that one line may hold the codes of two packs. A
	// person has to look: taking one of them would drop the other.
	RunTogether bool
	// Fault says why it is Unreadable.
	Fault *scanner.Fault
}

// Scan returns the scan of a Ready reading for a treatment, one piece of
// whatever the code names.
func (r *Reading) Scan(t trace.TreatmentID) trace.Scan {
	return trace.Scan{Treatment: t, Stock: r.Stock, How: r.How, Code: r.Code, Order: r.Order, Chosen: len(r.Others) > 0, Changed: warns(r.Warnings, "profile_contradicted")}
}

func warns(ws []scanner.Warning, code string) bool {
	return slices.ContainsFunc(ws, func(w scanner.Warning) bool { return w.Code == code })
}

// Of joins the codes of a label and says what can be done with them.
func Of(g Given) Reading {
	r := Reading{How: g.How}
	if r.How == "" || len(g.Codes) == 0 {
		r.How = trace.Typed
	}
	packs, rest := labels(g.Codes)
	r.RunTogether = slices.ContainsFunc(packs, runTogether)
	switch {
	case len(packs) > 1:
		for _, p := range packs {
			r.Choices = append(r.Choices, ways(p)...)
		}
		if len(r.Choices) > 1 {
			for _, p := range packs {
				r.Warnings = append(r.Warnings, p.Warnings...)
			}
			return r.choose(g, scanner.Code{Raw: joinRaw(packs)})
		}
		r.take(packs[0])
	case len(packs) == 1:
		p := packs[0]
		r.Warnings = p.Warnings
		if open := ways(p); len(open) > 1 {
			if i, ok := g.onRecord(open); ok && g.Choice == 0 && !r.RunTogether {
				r.Warnings = append(slices.Clone(p.Warnings), scanner.Warning{
					Code: "lot_on_record", Message: "the separators did not arrive; of the ways of reading it, this one names a lot that is on record",
				})
				g.Choice, r.Others = i+1, open
			}
			r.Choices = open
			return r.choose(g, p)
		}
		r.take(p)
	case len(rest) > 0 && g.Product == "" && g.GTIN == "":
		r.Outcome, r.Fault = Unreadable, faultOf(rest)
		return r
	case len(rest) > 0:
		r.Code = joinRaw(rest)
	}
	r.fill(g)
	return r
}

// onRecord returns which of several readings names a lot on record, if just one
// of them does.
func (g *Given) onRecord(ks []scanner.Candidate) (at int, ok bool) {
	if g.OnRecord == nil {
		return 0, false
	}
	n := 0
	for i, k := range ks {
		if k.Lot != "" && g.OnRecord(k.GTIN, k.Lot, inventory.LastDay(k.Expires)) {
			at, n = i, n+1
		}
	}
	return at, n == 1
}

// choose takes the choice that was made, or asks for one.
func (r *Reading) choose(g Given, c scanner.Code) Reading {
	r.Code = c.Raw
	if g.Choice < 1 || g.Choice > len(r.Choices) {
		r.Outcome = NeedsChoice
		return *r
	}
	k := r.Choices[g.Choice-1]
	r.Stock, r.Elements = stockOf(k), k.Elements
	if r.Others == nil { // otherwise no person chose
		r.Order = orderOf(c.Carrier, c.Raw, k.Elements)
	}
	r.Choices = nil
	r.fill(g)
	return *r
}

// take takes what one label says.
func (r *Reading) take(c scanner.Code) {
	r.Choices = nil
	r.Warnings = c.Warnings
	r.Code, r.Elements = c.Raw, c.Elements
	r.Stock = inventory.Stock{
		Product: codeOf(c.Elements), GTIN: c.GTIN, Lot: c.Lot, Serial: c.Serial, Expires: inventory.LastDay(c.Expires), Made: inventory.LastDay(c.Made),
	}
	if ks := distinct(c.Candidates); len(ks) == 1 {
		// The readings agree on all that a record needs.
		r.Stock, r.Elements = stockOf(ks[0]), ks[0].Elements
	} else if len(ks) > 1 {
		r.Others = ks
	}
	if len(c.Candidates) == 0 {
		r.Order = orderOf(c.Carrier, c.Raw, c.Elements)
	}
}

// orderOf returns the identifiers of a label's one symbol in their order; nil of
// any other label, such as one whose lot stands in a second symbol.
func orderOf(carrier scanner.Carrier, raw string, els []scanner.Element) []string {
	if carrier != scanner.CarrierGS1 || strings.Contains(raw, "\n") {
		return nil
	}
	order := make([]string, len(els))
	for i, e := range els {
		order[i] = e.AI
	}
	return order
}

// fill adds what was typed and decides what is lacking.
func (r *Reading) fill(g Given) {
	s := &r.Stock
	if s.GTIN == "" && s.Product == "" {
		s.Product = g.Product
		if s.Product == "" {
			s.GTIN = g.GTIN
		}
	}
	if s.Lot == "" && g.Lot != "" {
		s.Lot = g.Lot
		r.How, r.Order = trace.Typed, nil
	}
	if s.Serial == "" {
		s.Serial = g.Serial
		if g.Serial != "" {
			r.Order = nil
		}
	}
	if s.Expires == "" {
		s.Expires = g.Expires
	}
	switch {
	case s.GTIN == "" && s.Product == "":
		r.Outcome = NeedsProduct
	case s.Lot == "" && !g.NoLot:
		r.Outcome = NeedsLot
	default:
		r.Outcome = Ready
	}
}

// labels joins codes and parts those that say something about a pack from the
// rest: plain text and what could not be read. A label that stands there twice,
// as in a picture of two packs of one lot, counts once. A code of the product
// alone, beside one of the same product with more, is the other code of that
// label: many carry a linear symbol for the till beside one with the lot. Common
// practice, no source.
func labels(codes []scanner.Code) (packs, rest []scanner.Code) {
	for _, c := range scanner.Join(codes) {
		if c.Error != nil || c.Carrier == scanner.CarrierPlain || len(c.Elements)+len(c.Candidates) == 0 {
			rest = append(rest, c)
			continue
		}
		if !slices.ContainsFunc(packs, func(p scanner.Code) bool { return sameLabel(p, c) }) {
			packs = append(packs, c)
		}
	}
	packs = slices.DeleteFunc(slices.Clone(packs), func(c scanner.Code) bool {
		return productAlone(c) && slices.ContainsFunc(packs, func(p scanner.Code) bool { return p.GTIN == c.GTIN && !productAlone(p) })
	})
	return packs, rest
}

// productAlone reports whether a code names a GTIN and nothing else.
func productAlone(c scanner.Code) bool {
	return c.GTIN != "" && len(c.Candidates) == 0 && len(c.Elements) == 1
}

func sameLabel(a, b scanner.Code) bool {
	return a.GTIN == b.GTIN && a.Lot == b.Lot && a.Expires == b.Expires && a.Serial == b.Serial &&
		len(a.Candidates) == len(b.Candidates) && (a.GTIN != "" || a.Raw == b.Raw)
}

// ways returns the readings of one label among which a person has to choose:
// one if there is nothing to choose.
func ways(c scanner.Code) []scanner.Candidate {
	ks := distinct(c.Candidates)
	if len(ks) < 2 || c.Chosen {
		return []scanner.Candidate{{
			GTIN: c.GTIN, Lot: c.Lot, Serial: c.Serial, Expires: c.Expires, Made: c.Made, Quantity: c.Quantity, Elements: c.Elements,
		}}
	}
	return ks
}

// distinct returns the candidates that differ in what a record keeps.
func distinct(ks []scanner.Candidate) []scanner.Candidate {
	var out []scanner.Candidate
	for _, k := range ks {
		if !slices.ContainsFunc(out, func(o scanner.Candidate) bool {
			return o.GTIN == k.GTIN && o.Lot == k.Lot && o.Expires == k.Expires && o.Serial == k.Serial
		}) {
			out = append(out, k)
		}
	}
	return out
}

// runTogether reports whether a code may be those of two packs in one line.
func runTogether(c scanner.Code) bool {
	return slices.ContainsFunc(c.Warnings, func(w scanner.Warning) bool { return w.Code == "two_symbols" })
}

func stockOf(k scanner.Candidate) inventory.Stock {
	return inventory.Stock{
		Product: codeOf(k.Elements), GTIN: k.GTIN, Lot: k.Lot, Serial: k.Serial, Expires: inventory.LastDay(k.Expires), Made: inventory.LastDay(k.Made),
	}
}

// codeOf returns the code of a pack that another agency than GS1 numbers, "" if
// the elements have none.
func codeOf(els []scanner.Element) inventory.ProductID {
	v := map[string]string{}
	for _, e := range els {
		v[e.AI] = e.Value
	}
	var id inventory.ProductID
	switch {
	case v["lic"] != "":
		id = inventory.HIBCCode(v["lic"], v["pcn"], v["uom"])
	case v["di"] != "":
		id = inventory.ICCBBACode(v["di"])
	}
	if !inventory.ValidCode(string(id)) {
		return ""
	}
	return id
}

// faultOf says why none of the codes is that of a pack.
func faultOf(rest []scanner.Code) *scanner.Fault {
	for _, c := range rest {
		if c.Error != nil {
			return c.Error
		}
	}
	return &scanner.Fault{Code: "not_a_pack", Message: "this text is not the code of a pack; scan another of its codes, or type product and lot"}
}

func joinRaw(codes []scanner.Code) string {
	var raws []string
	for _, c := range codes {
		if c.Raw != "" {
			raws = append(raws, c.Raw)
		}
	}
	return strings.Join(raws, "\n")
}
