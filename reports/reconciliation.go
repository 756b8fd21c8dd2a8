package reports

import (
	"fmt"

	"lotbook/trace"
)

// Reconciliation is a shift's counted, recorded and expected figures as a
// Workbook. It names treatments, not patients.
func Reconciliation(rec *trace.Reconciliation, by Asked) *Workbook {
	w := by.workbook("Reconciliation of " + rec.Shift.String())
	lines := lineTable(rec)
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "The shift", Facts: []Fact{
				{Label: "Date", Value: DateText(rec.Shift.Date)},
				{Label: "Shift", Value: Integer(int64(rec.Shift.Number))},
				{Label: "From", Value: Instant(rec.From)},
				{Label: "To", Value: Instant(rec.To)},
				{Label: "Treatments compared", Value: Integer(int64(rec.Treatments))},
			}},
			openSection(rec),
			{Title: "How to read it", Text: []string{
				"Counted is opening + in − out − closing count. Recorded is used + wasted in the journal. Expected is what the shift's treatments should have used by the unit's rules.",
				"Recorded below counted means packs used and not written down. Counted below expected means short runs or borrowed stock. What no cause on record accounts for is open.",
			}},
			by.source(rec.AsOf),
		}}},
		{Name: "Counted recorded expected", Table: lines},
		{Name: "Causes", Table: orNone(causeTable(rec), NoneFound())},
	}
	return w
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
		s.Text = append(s.Text, fmt.Sprintf("%s not counted at the end of this shift: what was used of them is not known beyond the record.", plural(uncounted, "line was", "lines were")))
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
				optional(l.Counted), Integer(l.Recorded), Integer(l.Used), Integer(l.Wasted), Integer(l.Expected),
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
					Text(nameOr(l)), Text(string(l.Location)), Text(c.Kind.Title()), Integer(c.Counted), Integer(c.Recorded),
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
