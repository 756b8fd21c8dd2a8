package reports

import (
	"context"
	"errors"
	"fmt"

	"lotbook/inventory"
	"lotbook/trace"
)

// Exposures is the answer to "which patients received this lot" as a Workbook
// for the unit itself: it names patients. The confirmed rows are read from the
// book as they are drawn.
func Exposures(ctx context.Context, b *trace.Book, a *trace.LotAnswer, by Asked) *Workbook {
	w := by.workbook("Who received lot " + a.Lot)
	none := NoneFound()
	if !a.OnRecord && len(a.Holders) == 0 {
		none = Mark("not on record")
	}
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: exposureSummary(a, &by)}},
		{Name: "Exposures", Table: orNone(exposureTable(ctx, b, a), none)},
		{Name: "Machines", Table: orNone(machineTable(a), none)},
		{Name: "Stations", Table: orNone(stationTable(a), none)},
		{Name: "Stock", Table: orNone(stockTable(a.Left), none)},
		{Name: "Count differences", Table: orNone(differenceTable(a), none)},
	}
	if len(a.Holders) > 0 {
		w.Sheets = append(w.Sheets, Sheet{Name: "Kits and batches", Table: holderTable(a)})
	}
	if len(a.Homes) > 0 {
		w.Sheets = append(w.Sheets, Sheet{Name: "Home patients", Table: homeTable(a.Homes)})
	}
	if len(a.Units) > 0 {
		w.Sheets = append(w.Sheets, Sheet{Name: "Other units", Table: unitTable(a)})
	}
	if !a.First.IsZero() {
		w.Sheets = append(w.Sheets, Sheet{Name: "Record", Table: orNone(weekTable(a), NoneFound())}, Sheet{Name: "Left out", Table: orNone(leftOutTable(ctx, b, a), NoneFound())})
	}
	if len(a.StruckOut) > 0 {
		w.Sheets = append(w.Sheets, Sheet{Name: "Struck out", Table: struckTable(a)})
	}
	return w
}

func exposureSummary(a *trace.LotAnswer, by *Asked) []Section {
	secs := []Section{lotSection(a)}
	if !a.OnRecord && len(a.Holders) == 0 {
		text := "No entry of this unit names this lot. That is not proof that it never was here: see the similar lots, and compare the number with the notice."
		return append(secs, Section{Title: "Not on record", Text: []string{text}, Caution: true}, by.source(a.AsOf))
	}
	if len(a.Limits) > 0 {
		secs = append(secs, Section{Title: "What this answer can't tell", Text: a.Limits, Caution: true})
	}
	grades := Section{Title: "Treatments, patients and machines by grade", Table: gradeTable(a.Counts)}
	grades.Text = []string{fmt.Sprintf("%s lack a record of this kind in the time when the lot may have been in the unit. A treatment, a patient or a machine counts once, under its surest grade.", plural(a.Gaps, "treatment", "treatments"))}
	for _, x := range a.Excluded {
		grades.Text = append(grades.Text, fmt.Sprintf("%s of these not listed: %s.", plural(x.Treatments, "treatment", "treatments"), x.Reason))
	}
	secs = append(secs, grades, recordSection(a), massSection(&a.Mass, usedNote(a), lentNote(a.Lent)))
	return append(append(secs, refusedSection(a.Refused)...), by.source(a.AsOf))
}

func gradeTable(counts []trace.GradeCount) *Table {
	t := &Table{Columns: []Column{
		{Header: "Grade", Kind: KindText},
		{Header: "Treatments", Kind: KindInteger},
		{Header: "Patients", Kind: KindInteger},
		{Header: "Patients counted above", Kind: KindInteger},
		{Header: "Machines", Kind: KindInteger},
		{Header: "Machines counted above", Kind: KindInteger},
		{Header: "What it means", Kind: KindText, Wrap: true, Width: 60},
	}}
	var rows [][]Cell
	for _, c := range counts {
		rows = append(rows, []Cell{Text(string(c.Grade)), Integer(int64(c.Treatments)), Integer(int64(c.Patients)), Integer(int64(c.PatientsAbove)), Integer(int64(c.Machines)), Integer(int64(c.MachinesAbove)), Text(c.Meaning)})
	}
	t.Rows = RowsOf(rows...)
	return t
}

func lotSection(a *trace.LotAnswer) Section {
	s := Section{Title: "The lot", Facts: []Fact{
		{Label: "Product", Value: Text(a.Name), Note: string(a.Product)},
		{Label: "Kind", Value: Text(a.Category.Title())},
		{Label: "Lot number as asked", Value: Text(a.Lot)},
		{Label: "Expires", Value: dateCell(a.Expires), Note: "the last day of use"},
		{Label: "On record in this unit", Value: Flag(a.OnRecord)},
	}}
	if a.Name == "" {
		s.Facts[0].Value = Mark("not in the catalogue")
	}
	hold := Fact{Label: "On hold", Value: Flag(a.Hold != nil)}
	if a.Hold != nil {
		hold.Note = a.Hold.Reason
	}
	s.Facts = append(s.Facts, hold)
	if !a.First.IsZero() {
		last := Fact{Label: "May have been in the unit until", Value: instantCell(a.Last)}
		if a.Last.IsZero() {
			last.Value = Mark("it may still be")
		}
		s.Facts = append(s.Facts, Fact{Label: "May have been in the unit from", Value: Instant(a.First)}, last)
	}
	for _, l := range a.Similar {
		s.Facts = append(s.Facts, Fact{Label: "A lot that reads almost the same", Value: Text(l.Number), Note: string(l.Product) + ": compare with the notice; it is another lot here"})
	}
	return s
}

func massSection(m *inventory.MassBalance, used, lent string) Section {
	return Section{
		Title: "Every piece accounted for",
		Text:  []string{fmt.Sprintf("received + transferred in = used + wasted + on hand + held + returned + destroyed + transferred out + unaccounted: %d = %d", m.In(), m.Out())},
		Facts: []Fact{
			{Label: "Received", Value: Integer(m.Received)},
			{Label: "Transferred in", Value: Integer(m.TransferredIn)},
			{Label: "Used", Value: Integer(m.Used), Note: used},
			{Label: "Wasted", Value: Integer(m.Wasted)},
			{Label: "On hand", Value: Integer(m.OnHand), Note: "by the book and the counts"},
			{Label: "Held", Value: Integer(m.Held)},
			{Label: "Returned", Value: Integer(m.Returned)},
			{Label: "Destroyed", Value: Integer(m.Destroyed)},
			{Label: "Transferred out", Value: Integer(m.TransferredOut), Note: lent},
			{Label: "Unaccounted", Value: Integer(m.Unaccounted), Note: "what counts found missing; below zero: too many. Uses that nobody recorded are among it"},
		},
	}
}

// usedNote says where the pieces used were used, but for those in treatments.
func usedNote(a *trace.LotAnswer) string {
	note := fmt.Sprintf("%d of them outside treatments", a.Outside)
	if a.Mixed > 0 {
		note += fmt.Sprintf(", %d in batches", a.Mixed)
	}
	if a.Opened > 0 {
		note += fmt.Sprintf(", %d opened for several treatments", a.Opened)
	}
	return note
}

// lentNote says what other units have of it.
func lentNote(lent []inventory.Balance) string {
	note := ""
	for _, l := range lent {
		if note != "" {
			note += ", "
		}
		note += fmt.Sprintf("%s: %d", l.Location, l.Quantity)
	}
	if note != "" {
		note = "lent and not back, by unit (below zero: taken in and not given back): " + note
	}
	return note
}

func holderTable(a *trace.LotAnswer) *Table {
	t := &Table{Columns: []Column{
		{Header: "Kind", Kind: KindText},
		{Header: "Product", Kind: KindText},
		{Header: "Kit lot or batch", Kind: KindText},
		{Header: "Pieces of the lot in it", Kind: KindInteger},
		{Header: "At the surest", Kind: KindText},
		{Header: "Why", Kind: KindText, Width: 60},
	}}
	var rows [][]Cell
	for i := range a.Holders {
		h := &a.Holders[i]
		pieces := Integer(h.Pieces)
		if h.Pieces == 0 {
			pieces = Mark("not known")
		}
		rows = append(rows, []Cell{Text(h.Kind), Text(string(h.Product)), Text(h.Lot), pieces, Text(string(h.Grade)), Text(h.Why)})
	}
	t.Rows = RowsOf(rows...)
	return t
}

func homeTable(homes []trace.HomeExposure) *Table {
	t := &Table{Columns: []Column{
		{Header: "Grade", Kind: KindText},
		{Header: "Patient", Kind: KindText},
		{Header: "Name", Kind: KindText, Width: 24},
		{Header: "Store", Kind: KindText},
		{Header: "Supplied", Kind: KindInteger},
		{Header: "Left unused", Kind: KindInteger},
		{Header: "Used", Kind: KindInteger},
		{Header: "First came", Kind: KindInstant},
		{Header: "Last came", Kind: KindInstant},
		{Header: "Why", Kind: KindText, Width: 60},
	}}
	var rows [][]Cell
	for _, h := range homes {
		rows = append(rows, []Cell{
			Text(string(h.Grade)), Text(string(h.Patient)), Text(h.Name), Text(string(h.Location)), Integer(h.Supplied), Integer(h.Returned),
			Integer(h.Used), Instant(h.First), Instant(h.Last), Text(h.Why),
		})
	}
	t.Rows = RowsOf(rows...)
	return t
}

func exposureTable(ctx context.Context, b *trace.Book, a *trace.LotAnswer) *Table {
	t := &Table{
		Frozen: 3,
		Columns: []Column{
			{Header: "Grade", Kind: KindText, Width: 19},
			{Header: "Patient", Kind: KindText, Width: 12},
			{Header: "Treatment", Kind: KindText, Width: 12},
			{Header: "Name", Kind: KindText, Width: 24},
			{Header: "Treatment start", Kind: KindInstant, Width: 17},
			{Header: "Machine", Kind: KindText, Width: 10},
			{Header: "Station", Kind: KindText, Width: 10},
			{Header: "In use from", Kind: KindInstant, Width: 17},
			{Header: "Replaced at", Kind: KindInstant, Width: 17},
			{Header: "Pieces", Kind: KindInteger, Width: 8},
			{Header: "Serial", Kind: KindText, Width: 14},
			{Header: "How known", Kind: KindText, Width: 12},
			{Header: "Recorded by", Kind: KindText, Width: 14},
			{Header: "Entry", Kind: KindText, Width: 10},
			{Header: "Why", Kind: KindText, Width: 60},
		},
	}
	row := make([]Cell, len(t.Columns))
	t.Rows = func(yield func([]Cell, error) bool) {
		err := b.EachConfirmed(ctx, a, func(x *trace.Exposure) error {
			fillExposure(row, x)
			if !yield(row, nil) {
				return errEnough
			}
			return nil
		})
		switch {
		case errors.Is(err, errEnough):
			return
		case err != nil:
			yield(nil, err)
			return
		}
		for i := range a.Unrecorded {
			fillExposure(row, &a.Unrecorded[i])
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

// errEnough ends a scan when the reader of the rows has had enough.
var errEnough = errors.New("enough")

func fillExposure(row []Cell, x *trace.Exposure) {
	how, by := NotRecorded(), NotRecorded()
	pieces := Integer(x.Quantity)
	if x.Grade == trace.Confirmed {
		how, by = Text(string(x.How)), Text(x.By)
	}
	copy(row, []Cell{
		Text(string(x.Grade)), Text(string(x.Patient)), Text(string(x.Treatment)), Text(x.Name), Instant(x.Start),
		Text(string(x.Machine)), Text(string(x.Station)), instantCell(x.From), instantCell(x.Until), pieces,
		Text(x.Serial), how, by, entryCell(x.Entry), Text(x.Why),
	})
}

func machineTable(a *trace.LotAnswer) *Table {
	var rows [][]Cell
	for _, m := range a.Machines {
		rows = append(rows, placeRow(string(m.Machine), m.Grade, m.Treatments, m.First, m.Last))
	}
	return &Table{Columns: placeColumns("Machine"), Rows: RowsOf(rows...)}
}

func stockTable(left []inventory.Balance) *Table {
	t := &Table{Columns: []Column{
		{Header: "Location", Kind: KindText},
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Pieces by the book", Kind: KindInteger},
	}}
	var rows [][]Cell
	for _, l := range left {
		rows = append(rows, []Cell{Text(string(l.Location)), Text(string(l.Lot.Product)), Text(l.Lot.Number), Integer(l.Quantity)})
	}
	t.Rows = RowsOf(rows...)
	return t
}

func differenceTable(a *trace.LotAnswer) *Table {
	t := &Table{Columns: differenceColumns()}
	var rows [][]Cell
	for _, d := range a.Differences {
		rows = append(rows, differenceRow(d))
	}
	t.Rows = RowsOf(rows...)
	return t
}

func differenceColumns() []Column {
	return []Column{
		{Header: "Counted at", Kind: KindInstant},
		{Header: "Location", Kind: KindText},
		{Header: "By", Kind: KindText},
		{Header: "Book", Kind: KindInteger},
		{Header: "Found", Kind: KindInteger},
		{Header: "Missing", Kind: KindInteger},
		{Header: "Cause", Kind: KindText},
		{Header: "Entry", Kind: KindText},
	}
}

func differenceRow(d inventory.Difference) []Cell {
	return []Cell{Instant(d.At), Text(string(d.Location)), Text(d.By), Integer(d.Book), Integer(d.Counted), Integer(d.Book - d.Counted), textOr(d.Cause), entryCell(d.Entry)}
}

func struckTable(a *trace.LotAnswer) *Table {
	t := &Table{Columns: []Column{
		{Header: "Patient", Kind: KindText},
		{Header: "Treatment", Kind: KindText},
		{Header: "Treatment start", Kind: KindInstant},
		{Header: "Recorded by", Kind: KindText},
		{Header: "Entry", Kind: KindText},
		{Header: "Why", Kind: KindText, Width: 60},
	}}
	var rows [][]Cell
	for i := range a.StruckOut {
		x := &a.StruckOut[i]
		rows = append(rows, []Cell{Text(string(x.Patient)), Text(string(x.Treatment)), Instant(x.Start), Text(x.By), entryCell(x.Entry), Text(x.Why)})
	}
	t.Rows = RowsOf(rows...)
	return t
}
