package reports

import (
	"fmt"
	"strings"

	"lotbook/trace"
)

// Problems is the problems with products as a Workbook for the unit itself: it
// has patients' numbers. who says what a user is called.
func Problems(p *trace.ProblemTable, who func(string) string, by Asked) *Workbook {
	l := p.List
	w := by.workbook("Problems with products")
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "What was found", Facts: []Fact{
				{Label: "Problems", Value: Integer(int64(len(l.Problems))), Note: "those that were struck out are not among them"},
				{Label: "Without a product", Value: Integer(int64(l.WithoutProduct)), Note: "nobody recorded on what they were seen"},
				{Label: "Brought together within days", Value: Integer(int64(l.WithinDays)), Note: fmt.Sprintf("from %d problems on; the unit's settings", l.AtLeast)},
			}},
			togetherSection("Several problems of one lot", l.OfLots),
			togetherSection("Several problems of one product, over its lots", l.OfProducts),
			{Title: "How to read it", Text: []string{
				"That several problems were recorded of one lot does not say that the lot is at fault, and that none were does not say that there were none: it says what people wrote down. How many pieces were used is not taken into account.",
			}},
			by.source(l.AsOf),
		}}},
		{Name: "Problems", Table: orNone(problemTable(p.Rows, &p.Settings, who), NoneFound())},
	}
	return w
}

func togetherSection(title string, list []trace.Together) Section {
	s := Section{Title: title}
	if len(list) == 0 {
		s.Text = []string{"None."}
		return s
	}
	t := &Table{Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Problems", Kind: KindInteger},
		{Header: "Lots", Kind: KindInteger},
		{Header: "Treatments", Kind: KindInteger},
		{Header: "First", Kind: KindInstant},
		{Header: "Last", Kind: KindInstant},
		{Header: "Which", Kind: KindText, Wrap: true},
	}}
	var rows [][]Cell
	for i := range list {
		g := &list[i]
		lot := Text(g.Lot)
		if g.Lot == "" {
			lot = Mark("all")
		}
		rows = append(rows, []Cell{Text(orID(g.Name, string(g.Product))), lot, Integer(int64(g.Count)), Integer(int64(g.Lots)), Integer(int64(g.Treatments)), Instant(g.First), Instant(g.Last), Text(trace.JoinProblems(g.Problems))})
	}
	t.Rows = RowsOf(rows...)
	s.Table = t
	return s
}

func orID(name, id string) string {
	if name == "" {
		return id
	}
	return name
}

func problemTable(rows []trace.ProblemRow, set *trace.ProblemSettings, who func(string) string) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Problem", Kind: KindText},
		{Header: "Seen at", Kind: KindInstant},
		{Header: "Kind", Kind: KindText},
		{Header: "Product", Kind: KindText, Width: 28},
		{Header: "Lot", Kind: KindText},
		{Header: "Serial", Kind: KindText},
		{Header: "Expires", Kind: KindDate},
		{Header: "What was seen", Kind: KindText, Width: 28},
		{Header: "In words", Kind: KindText, Wrap: true, Width: 50},
		{Header: "Done for the patient", Kind: KindText, Wrap: true, Width: 40},
		{Header: "Outcome as recorded", Kind: KindText, Width: 28},
		{Header: "Item", Kind: KindText},
		{Header: "Where it is", Kind: KindText, Width: 24},
		{Header: "Patient", Kind: KindText},
		{Header: "Treatment", Kind: KindText},
		{Header: "Machine", Kind: KindText},
		{Header: "Station", Kind: KindText},
		{Header: "Pictures", Kind: KindInteger},
		{Header: "Reported by", Kind: KindText, Width: 24},
		{Header: "Entry", Kind: KindText},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range rows {
			if !yield(problemRow(&rows[i], set, who), nil) {
				return
			}
		}
	}
	return t
}

func problemRow(p *trace.ProblemRow, set *trace.ProblemSettings, who func(string) string) []Cell {
	var seen, outcomes, words, done []string
	for _, c := range p.Seen {
		seen = append(seen, set.SeenText(c))
	}
	for _, o := range p.Outcomes {
		outcomes = append(outcomes, o.Title())
	}
	for i := range p.Parts {
		if q := &p.Parts[i]; q.Struck == 0 {
			words, done = said(words, q.Words), said(done, q.Done)
		}
	}
	kind := NotRecorded()
	if p.Category != "" {
		kind = Text(p.Category.Title())
	}
	return []Cell{
		Text(string(p.ID)), Instant(p.At), kind, orNot(orID(p.Name, string(p.Product))), orNot(p.Lot), Text(p.Serial), dateCell(p.Expires),
		orNot(strings.Join(seen, "; ")), Text(strings.Join(words, "\n")), Text(strings.Join(done, "\n")), orNot(strings.Join(outcomes, "; ")),
		orNot(p.Kept.Title()), Text(p.KeptWhere), Text(string(p.Patient)), Text(string(p.Treatment)), Text(string(p.Machine)), Text(string(p.Station)),
		Integer(int64(len(p.Standing()))), Text(who(p.By)), entryCell(p.Entry),
	}
}

func said(list []string, s string) []string {
	if s == "" {
		return list
	}
	return append(list, s)
}

// orNot is text, or the mark for what was never recorded.
func orNot(s string) Cell {
	if s == "" {
		return NotRecorded()
	}
	return Text(s)
}

// ProblemDraft is the draft of a report as a Workbook. No patient is named in
// it.
func ProblemDraft(d *trace.ProblemDraft, by Asked) *Workbook {
	w := by.workbook("Draft of a report, problem " + string(d.Problem))
	secs := []Section{
		{Title: "Read this first", Text: d.Before, Caution: true},
		{Title: "When, and to whom", Text: d.Deadlines},
	}
	for _, block := range trace.DraftBlocks() {
		s := Section{Title: block.Title}
		for i := range d.Fields {
			f := &d.Fields[i]
			if !strings.HasPrefix(f.Rule, block.Rule) {
				continue
			}
			note := f.Rule
			if f.Source != "" {
				note += "; from " + f.Source
			}
			if f.Hint != "" {
				note += ". " + f.Hint
			}
			s.Facts = append(s.Facts, Fact{Label: f.Label, Value: orNot(f.Value), Note: note})
		}
		secs = append(secs, s)
	}
	secs = append(secs, Section{Title: "To mind", Text: d.Notes}, by.source(d.AsOf))
	w.Sheets = []Sheet{{Name: "Draft", Summary: &Summary{Sections: secs}}}
	return w
}
