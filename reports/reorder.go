package reports

import (
	"fmt"
	"math"
	"strings"

	"lotbook/inventory"
	"lotbook/trace"
)

const notKnown = "not known"

// Reorder is what to order as a Workbook: a line a product, the terms of every
// figure, and the planned use by day.
func Reorder(p *trace.Proposal, by Asked) *Workbook {
	w := by.workbook("What to order on " + string(p.Plan.Today))
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "Worked out for", Facts: []Fact{
				{Label: "Today", Value: DateText(p.Plan.Today)},
				{Label: "Service level (%)", Value: Decimal(p.ServiceLevel, 1), Places: 1, Note: "the chance that stock lasts until what is ordered at the next review is there"},
				{Label: "Days to the next review", Value: Integer(p.ReviewDays)},
				{Label: "Treatments planned until", Value: planUntil(p.Plan), Note: repeated(p.Plan)},
				{Label: "Planned treatments without a prescription", Value: Integer(int64(p.Plan.Unprescribed)), Note: "what they use is not known and not in the figures"},
				{Label: "Days of record", Value: Integer(int64(p.Record.Days)), Note: fmt.Sprintf("%d treatments planned, %d not done, %d not planned", p.Record.Planned, p.Record.NotDone, p.Record.Unplanned)},
			}},
			openReorder(p),
			{Title: "How to read it", Text: []string{
				"Order up to = use in lead time and review + safety stock; the order is that level less what is usable and on order, in whole packs, within the limits of storage and shelf life. Below the reorder point an order should not wait for the next review.",
				"It is worked out from what is written down and does not order anything. The sheet of terms shows how each figure came about.",
			}},
			by.source(p.AsOf),
		}}},
		{Name: "To order", Table: orNone(reorderTable(p), Mark("no products"))},
		{Name: "Terms", Table: orNone(termTable(p), NoneFound())},
		{Name: "Planned use", Table: orNone(dayTable(p), NoneFound())},
	}
	return w
}

func planUntil(p *trace.Plan) Cell {
	if p.Until == "" {
		return Mark("none planned")
	}
	return DateText(p.Until)
}

func repeated(p *trace.Plan) string {
	if p.Until == "" {
		return ""
	}
	return fmt.Sprintf("after it, the week from %s is taken to repeat", p.Repeated)
}

func openReorder(p *trace.Proposal) Section {
	s := Section{Title: "What is not known", Caution: true}
	for i := range p.Lines {
		if l := &p.Lines[i]; l.Quantity == nil {
			s.Text = append(s.Text, l.Name+": "+strings.Join(l.NotKnown, "; "))
		}
	}
	for _, c := range inventory.Categories() {
		if n := p.Plan.Unnamed[c]; n > 0 {
			s.Text = append(s.Text, fmt.Sprintf("%s: needed by %s, and neither the prescription nor the unit names a product.", c.Title(), plural(n, "planned treatment", "planned treatments")))
		}
	}
	if len(s.Text) == 0 {
		s.Caution = false
		s.Text = []string{"Nothing: every product has a figure."}
	}
	return s
}

// tenths is a figure to one decimal, or the mark for one that is not known.
func tenths(x *float64) Cell {
	if x == nil {
		return Mark(notKnown)
	}
	return Decimal(int64(math.Round(*x*10)), 1)
}

// known is a figure, or the mark for one that is not known.
func known(n *int64) Cell {
	if n == nil {
		return Mark(notKnown)
	}
	return Integer(*n)
}

func reorderTable(p *trace.Proposal) *Table {
	t := &Table{Frozen: 1, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Id", Kind: KindText},
		{Header: "Kind", Kind: KindText},
		{Header: "Supplier", Kind: KindText},
		{Header: "Order (packs)", Kind: KindInteger},
		{Header: "Pack", Kind: KindText},
		{Header: "Order (pieces)", Kind: KindInteger},
		{Header: "Order at once", Kind: KindFlag},
		{Header: "Usable", Kind: KindInteger},
		{Header: "Will expire unused", Kind: KindInteger},
		{Header: "On order", Kind: KindInteger},
		{Header: "Held", Kind: KindInteger},
		{Header: "Expired", Kind: KindInteger},
		{Header: "Days of cover", Kind: KindDecimal, Places: 1},
		{Header: "Short on", Kind: KindDate},
		{Header: "Reorder point", Kind: KindInteger},
		{Header: "Safety stock", Kind: KindInteger},
		{Header: "Order up to", Kind: KindInteger},
		{Header: "Economic order quantity", Kind: KindDecimal, Places: 1},
		{Header: "Lead time (days)", Kind: KindDecimal, Places: 1},
		{Header: "Not known", Kind: KindText, Wrap: true, Width: 50},
		{Header: "Notes", Kind: KindText, Wrap: true, Width: 50},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range p.Lines {
			l := &p.Lines[i]
			pack, at, lead, eoq := Blank(), Mark(notKnown), Mark(notKnown), Blank()
			if l.Pack != nil {
				pack = Text(fmt.Sprintf("%s of %d", l.Pack.Level, l.Pack.Holds))
			}
			if l.Quantity != nil {
				at = Flag(l.Now)
			}
			if l.LeadTime != nil {
				lead = tenths(&l.LeadTime.Days)
			}
			if l.EOQ != nil {
				eoq = tenths(l.EOQ)
			}
			packs := known(l.Packs)
			if l.Packs == nil && l.Quantity != nil {
				packs = Blank()
			}
			s := &l.Stock
			row := []Cell{
				Text(l.Name), Text(string(l.Product)), Text(l.Category.Title()), Text(l.Supplier), packs, pack, known(l.Quantity), at,
				Integer(s.Usable), Integer(s.Expiring), Integer(s.OnOrder), Integer(s.Held), Integer(s.Expired),
				tenths(l.CoverDays), DateText(l.ShortOn), known(l.ReorderPoint), known(l.Safety), known(l.OrderUpTo), eoq, lead,
				Text(strings.Join(l.NotKnown, "\n")), Text(strings.Join(l.Notes, "\n")),
			}
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

func termTable(p *trace.Proposal) *Table {
	t := &Table{Frozen: 1, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Figure", Kind: KindText},
		{Header: "Value", Kind: KindText},
		{Header: "How", Kind: KindText, Wrap: true, Width: 90},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range p.Lines {
			l := &p.Lines[i]
			var terms []inventory.Term
			if l.Forecast != nil {
				terms = append(terms, l.Forecast.Terms...)
			}
			for _, x := range append(terms, l.Terms...) {
				if !yield([]Cell{Text(l.Name), Text(x.What), Text(x.Value), Text(x.How)}, nil) {
					return
				}
			}
		}
	}
	return t
}

func dayTable(p *trace.Proposal) *Table {
	t := &Table{Frozen: 1, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Day", Kind: KindDate},
		{Header: "Planned (pieces)", Kind: KindInteger},
		{Header: "As on", Kind: KindDate},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range p.Lines {
			for _, d := range p.Lines[i].Days {
				if !yield([]Cell{Text(p.Lines[i].Name), DateText(d.Date), Integer(d.Planned), DateText(d.Repeats)}, nil) {
					return
				}
			}
		}
	}
	return t
}
