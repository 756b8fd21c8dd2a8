package reports

import (
	"fmt"
	"slices"
	"strings"

	"lotbook/trace"
)

// Reconciliation is a shift's counted, recorded and expected figures as a
// Workbook. It names treatments, not patients.
func Reconciliation(rec *trace.Reconciliation, by Asked) *Workbook {
	w := by.workbook("Reconciliation of " + spanText(rec))
	lines := lineTable(rec)
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: slices.Concat([]Section{
			{Title: "What is compared", Facts: []Fact{
				{Label: "Date", Value: DateText(rec.Shift.Date)},
				{Label: "Shift", Value: Integer(int64(rec.Shift.Number))},
				{Label: "Last date", Value: DateText(rec.Until.Date)},
				{Label: "Last shift", Value: Integer(int64(rec.Until.Number))},
				{Label: "From", Value: Instant(rec.From)},
				{Label: "To", Value: Instant(rec.To)},
				{Label: "Treatments compared", Value: Integer(int64(rec.Treatments))},
			}},
		}, beingCounted(rec.Withheld), []Section{
			openSection(rec),
			{Title: "How to read it", Text: []string{
				"Counted is opening + in − out − closing count. Recorded is used + wasted in the journal. Expected is what the shift's treatments should have used by the unit's rules.",
				"Recorded below counted means packs used and not written down. Counted below expected means short runs or borrowed stock. What no cause accounts for is open.",
				"Expected is by the real lengths of runs, planned by those that were planned. A likely cause is not on record: it follows from two counts.",
			}},
			by.source(rec.AsOf),
		})}},
		{Name: "Counted recorded expected", Table: lines},
		{Name: "Products", Table: productTable(rec)},
		{Name: "Causes", Table: orNone(causeTable(rec), NoneFound())},
	}
	return w
}

// spanText names the shift or the shifts.
func spanText(rec *trace.Reconciliation) string {
	if rec.Until == rec.Shift {
		return rec.Shift.String()
	}
	return rec.Shift.String() + " to " + rec.Until.String()
}

func openSection(rec *trace.Reconciliation) Section {
	s := Section{Title: "What is open"}
	uncounted := 0
	t := Table{Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Location", Kind: KindText},
		{Header: "Counted − recorded, open", Kind: KindInteger},
		{Header: "Recorded − expected, open", Kind: KindInteger},
	}}
	var rows [][]Cell
	for i := range rec.Lines {
		l := &rec.Lines[i]
		if l.Counted == nil {
			uncounted++
		}
		if (l.OpenCountedLessRecorded != nil && *l.OpenCountedLessRecorded != 0) || l.OpenRecordedLessExpected != 0 {
			rows = append(rows, []Cell{Text(nameOr(l)), Text(string(l.Location)), optional(l.OpenCountedLessRecorded), Integer(l.OpenRecordedLessExpected)})
		}
	}
	if len(rows) == 0 {
		s.Text = append(s.Text, "Nothing: every difference has a cause on record.")
	} else {
		t.Rows = RowsOf(rows...)
		s.Table = &t
	}
	if uncounted > 0 {
		s.Text = append(s.Text, fmt.Sprintf("%s not counted at the end of what is compared: what was used of them is not known beyond the record.", plural(uncounted, "line was", "lines were")))
	}
	return s
}

func nameOr(l *trace.Line) string {
	if l.Name != "" {
		return l.Name
	}
	return string(l.Product)
}

// optional is a figure, or the mark for one that nobody counted.
func optional(n *int64) Cell {
	if n == nil {
		return Mark("not counted")
	}
	return Integer(*n)
}

func lineTable(rec *trace.Reconciliation) *Table {
	t := &Table{
		Frozen: 2,
		Columns: []Column{
			{Header: "Product", Kind: KindText},
			{Header: "Location", Kind: KindText},
			{Header: "Kind", Kind: KindText},
			{Header: "From", Kind: KindInstant},
			{Header: "To", Kind: KindInstant},
			{Header: "Opening", Kind: KindInteger},
			{Header: "Opening counted", Kind: KindFlag},
			{Header: "In", Kind: KindInteger},
			{Header: "Out", Kind: KindInteger},
			{Header: "Closing count", Kind: KindInteger},
			{Header: "Counted", Kind: KindInteger},
			{Header: "Recorded", Kind: KindInteger},
			{Header: "Used", Kind: KindInteger},
			{Header: "Wasted", Kind: KindInteger},
			{Header: "Expected", Kind: KindInteger},
			{Header: "Planned", Kind: KindInteger},
			{Header: "Counted − recorded", Kind: KindInteger},
			{Header: "of it open", Kind: KindInteger},
			{Header: "Recorded − expected", Kind: KindInteger},
			{Header: "of that open", Kind: KindInteger},
		},
	}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range rec.Lines {
			l := &rec.Lines[i]
			row := []Cell{
				Text(nameOr(l)), Text(string(l.Location)), Text(l.Category.Title()), Instant(l.From), Instant(l.To),
				Integer(l.Opening), Flag(l.OpeningCounted), Integer(l.In), Integer(l.Out), optional(l.Closing),
				optional(l.Counted), Integer(l.Recorded), Integer(l.Used), Integer(l.Wasted), Integer(l.Expected), Integer(l.Planned),
				optional(l.CountedLessRecorded), optional(l.OpenCountedLessRecorded),
				Integer(l.RecordedLessExpected), Integer(l.OpenRecordedLessExpected),
			}
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

func causeTable(rec *trace.Reconciliation) *Table {
	t := &Table{Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Location", Kind: KindText},
		{Header: "Cause", Kind: KindText},
		{Header: "Likely only", Kind: KindFlag},
		{Header: "Counted − recorded", Kind: KindInteger},
		{Header: "Recorded − expected", Kind: KindInteger},
		{Header: "Treatment", Kind: KindText},
		{Header: "Entry", Kind: KindText},
		{Header: "What is on record", Kind: KindText, Width: 60},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range rec.Lines {
			l := &rec.Lines[i]
			for _, c := range l.Causes {
				row := []Cell{
					Text(nameOr(l)), Text(string(l.Location)), Text(c.Kind.Title()), Flag(c.Likely), Integer(c.Counted), Integer(c.Recorded),
					Text(string(c.Treatment)), entryCell(c.Entry), Text(c.Text),
				}
				if !yield(row, nil) {
					return
				}
			}
		}
	}
	return t
}

// productColumns are those of a product over all places.
var productColumns = []Column{
	{Header: "Product", Kind: KindText},
	{Header: "Kind", Kind: KindText},
	{Header: "Counted", Kind: KindInteger},
	{Header: "Recorded", Kind: KindInteger},
	{Header: "Expected", Kind: KindInteger},
	{Header: "Planned", Kind: KindInteger},
	{Header: "Counted − recorded", Kind: KindInteger},
	{Header: "of it open", Kind: KindInteger},
	{Header: "Recorded − expected", Kind: KindInteger},
	{Header: "of that open", Kind: KindInteger},
	{Header: "Not counted at", Kind: KindText},
}

func productCells(t *trace.Total) []Cell {
	name := t.Name
	if name == "" {
		name = string(t.Product)
	}
	var places []string
	for _, l := range t.NotCounted {
		places = append(places, string(l))
	}
	return []Cell{
		Text(name), Text(t.Category.Title()), optional(t.Counted), Integer(t.Recorded), Integer(t.Expected), Integer(t.Planned),
		optional(t.CountedLessRecorded), optional(t.OpenCountedLessRecorded), Integer(t.RecordedLessExpected), Integer(t.OpenRecordedLessExpected),
		Text(strings.Join(places, ", ")),
	}
}

func productTable(rec *trace.Reconciliation) *Table {
	t := &Table{Frozen: 1, Columns: productColumns}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range rec.Products {
			if !yield(productCells(&rec.Products[i]), nil) {
				return
			}
		}
	}
	return t
}

// Weeks is what each of several weeks counted, recorded and expected, product by
// product over all places, as a Workbook.
func Weeks(weeks []*trace.Reconciliation, by Asked) *Workbook {
	w := by.workbook("Reconciliation by week")
	from, to := weeks[0], weeks[len(weeks)-1]
	table := &Table{Frozen: 2, Columns: append([]Column{{Header: "From", Kind: KindDate}, {Header: "To", Kind: KindDate}}, productColumns...)}
	table.Rows = func(yield func([]Cell, error) bool) {
		for _, rec := range weeks {
			for i := range rec.Products {
				if !yield(append([]Cell{DateText(rec.Shift.Date), DateText(rec.Until.Date)}, productCells(&rec.Products[i])...), nil) {
					return
				}
			}
		}
	}
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "What is compared", Facts: []Fact{
				{Label: "Weeks", Value: Integer(int64(len(weeks)))},
				{Label: "First day", Value: DateText(from.Shift.Date)},
				{Label: "Last day", Value: DateText(to.Until.Date)},
			}},
			{Title: "How to read it", Text: []string{
				"Counted is between the counts that open and close the week at each place; a place that no count closed is named, and left out of what is counted.",
				"What was carried from one place to another without an entry falls out of these figures where both were counted.",
			}},
			by.source(to.AsOf),
		}}},
		{Name: "By week and product", Table: orNone(table, NoneFound())},
	}
	return w
}
