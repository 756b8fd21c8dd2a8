package intake

import (
	"strings"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// NoticeLines are the products and lots of a field notice, in as many rows as it
// takes: see LinesOf. They are no list that the unit keeps, so they are not among
// Forms.
var NoticeLines = List[notice.Line]{
	Form: Form{
		Name: "notice", Title: "Field notice", Command: "lotbook notice write --data DIR --list FILE --reference … --issuer … --received …",
		Columns: []Column{
			{Name: "product", Label: true, What: "The GTIN as printed, or the product's id; empty if nobody can tell yet which product it is.", Example: "EXAMPLE-DLZ-18"},
			{Name: "printed", What: "How the notice names the product; needed where product is empty.", Example: "Dialyzer 1.8 m²"},
			{Name: "lots", Label: true, What: "Lot numbers exactly as printed, with semicolons between.", Example: "26A0114; 26A0115"},
			{Name: "from", Label: true, What: "The first lot number of a range, with to; instead of lots."},
			{Name: "to", Label: true, What: "The last lot number of the range."},
			{Name: "pattern", What: "The form of the lot numbers, instead of lots: * any characters, ? one, # a digit."},
			{Name: "all_lots", What: "yes where every lot is meant, or all of those made, expiring or received in a time."},
			{Name: "no_lot", What: "yes where pieces without a lot number are meant."},
			{Name: "made_from", What: "The first day of production that is meant, as 2027-03-31."},
			{Name: "made_to", What: "The last one."},
			{Name: "expires_from", What: "The first expiry date that is meant."},
			{Name: "expires_to", What: "The last one."},
			{Name: "received_from", What: "The first day of delivery that is meant."},
			{Name: "received_to", What: "The last one."},
			{Name: "serials", Label: true, What: "Serial numbers, if only some pieces are meant, with semicolons between."},
			{Name: "serial_from", Label: true, What: "The first serial number of a range."},
			{Name: "serial_to", Label: true, What: "The last one."},
		},
	},
	read: readNoticeLine,
}

func readNoticeLine(r *reader) notice.Line {
	s := inventory.ScopeLine{
		Lots: r.labels("lots"), From: r.label("from"), To: r.label("to"), Pattern: r.text("pattern"),
		Made: r.window("made"), Expires: r.window("expires"), Received: r.window("received"),
		Serials: r.labels("serials"), SerialFrom: r.label("serial_from"), SerialTo: r.label("serial_to"),
	}
	kinds := 0
	for _, k := range []struct {
		kind  inventory.ScopeKind
		given bool
	}{
		{inventory.ScopeLots, len(s.Lots) > 0},
		{inventory.ScopeRange, s.From != "" || s.To != ""},
		{inventory.ScopePattern, s.Pattern != ""},
		{inventory.ScopeAll, r.flag("all_lots")},
		{inventory.ScopeNoLot, r.flag("no_lot")},
	} {
		if k.given {
			s.Kind = k.kind
			kinds++
		}
	}
	l := notice.Line{Product: r.productNumber("product"), Printed: r.text("printed"), Scope: inventory.Scope{s}}
	if l.Product == "" && l.Printed == "" {
		r.fail("product", "Give the product, or copy how the notice names it into printed.", "there is no product")
	}
	const hint = "Fill in one of lots, from and to, pattern, all_lots or no_lot; use a row of its own for each."
	switch {
	case len(r.problems) > 0:
	case kinds == 0:
		r.fail("lots", hint, "it is not said which lots are meant")
	case kinds > 1:
		r.fail("lots", hint, "lots are given in %d ways", kinds)
	default:
		if err := (inventory.Scope{s}).Check(); err != nil {
			r.refused(err)
		}
	}
	return l
}

// labels reads a list of texts with semicolons or line breaks between, none of
// which a spreadsheet must have taken for a number.
func (r *reader) labels(column string) []string {
	var list []string
	for part := range strings.FieldsFuncSeq(r.label(column), func(c rune) bool { return c == ';' || c == '\n' || c == '\r' }) {
		if part = strings.TrimSpace(part); part != "" {
			list = append(list, part)
		}
	}
	return list
}

// window reads the two columns of a time.
func (r *reader) window(name string) inventory.Window {
	return inventory.Window{From: r.date(name + "_from"), To: r.date(name + "_to")}
}

// productNumber reads a product's id, or a GTIN as 14 digits.
func (r *reader) productNumber(column string) inventory.ProductID {
	s := r.text(column)
	digits := strings.ReplaceAll(s, " ", "")
	if len(digits) < 8 || len(digits) > 14 || strings.Trim(digits, "0123456789") != "" {
		return inventory.ProductID(s)
	}
	if padded := strings.Repeat("0", 14-len(digits)) + digits; inventory.ValidGTIN14(padded) {
		return inventory.ProductID(padded)
	}
	return inventory.ProductID(s)
}

// LinesOf puts rows of one product together, in the order in which each product
// comes first. Rows that only list lots become one line. It also returns which
// row began each line.
func LinesOf(rows []notice.Line) (out []notice.Line, begun []int) {
	at := map[[2]string]int{}
	for n, row := range rows {
		key := [2]string{string(row.Product), row.Printed}
		i, ok := at[key]
		if !ok {
			at[key] = len(out)
			out, begun = append(out, row), append(begun, n)
			continue
		}
		l := &out[i]
		for _, s := range row.Scope {
			if n := len(l.Scope); plainList(&s) && plainList(&l.Scope[n-1]) {
				l.Scope[n-1].Lots = append(l.Scope[n-1].Lots, s.Lots...)
				continue
			}
			l.Scope = append(l.Scope, s)
		}
	}
	return out, begun
}

// plainList reports whether a line lists lots and narrows them by nothing.
func plainList(s *inventory.ScopeLine) bool {
	return s.Kind == inventory.ScopeLots && !s.Made.Set() && !s.Expires.Set() && !s.Received.Set() && len(s.Serials) == 0 && s.SerialFrom == ""
}
