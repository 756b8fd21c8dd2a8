package reports

import (
	"context"
	"fmt"

	"lotbook/trace"
)

// mostLeftOut is how many treatments that an answer leaves out its workbook
// lists: those of a lot that may have been in the unit for years are asked for
// by themselves.
const mostLeftOut = 5000

// recordSection says in figures how far the answer rests on records.
func recordSection(a *trace.LotAnswer) Section {
	s := Section{Title: "How complete the record is"}
	for i := range a.Completeness {
		x := &a.Completeness[i]
		kind := x.Category.Title()
		if !x.Kept {
			s.Text = append(s.Text, fmt.Sprintf("%s: the unit does not keep it by lot, so nobody was asked for records.", kind))
			continue
		}
		k := &x.Total
		text := fmt.Sprintf("%s: of %s that had to have it on record, %d have it by lot (%d scanned, %d by picture, %d typed, %d assumed), %d did without, %d lack a record",
			kind, plural(int(k.Treatments()), "treatment", "treatments"), k.Recorded(), k.Scanned, k.Photo, k.Typed, k.Assumed, k.DoneWithout, k.Without)
		if x.Fed > 0 {
			text += fmt.Sprintf(", %d of them at stations that were fed from a tank all of the time", x.Fed)
		}
		s.Text = append(s.Text, text+".")
	}
	if len(s.Text) == 0 {
		s.Text = []string{"There is no time in which the lot may have been in the unit."}
	} else {
		s.Text = append(s.Text, "Whole weeks, Monday to Sunday, UTC, in which the lot may have been in the unit; by week on the sheet Record.")
	}
	s.Text = append(s.Text, fmt.Sprintf("The lot was named by %s, of which %d differed from the book.", plural(a.Counted, "line of a count", "lines of counts"), len(a.Differences)))
	return s
}

func weekTable(a *trace.LotAnswer) *Table {
	t := &Table{Columns: []Column{
		{Header: "Kind", Kind: KindText},
		{Header: "Week of", Kind: KindDate},
		{Header: "Treatments", Kind: KindInteger},
		{Header: "Scanned", Kind: KindInteger},
		{Header: "By picture", Kind: KindInteger},
		{Header: "Typed", Kind: KindInteger},
		{Header: "Assumed", Kind: KindInteger},
		{Header: "Did without", Kind: KindInteger},
		{Header: "Without a record", Kind: KindInteger},
	}}
	var rows [][]Cell
	for i := range a.Completeness {
		x := &a.Completeness[i]
		for _, w := range x.Weeks {
			rows = append(rows, []Cell{
				Text(x.Category.Title()), Date(w.Week.Date()), Integer(w.Treatments()), Integer(w.Scanned), Integer(w.Photo),
				Integer(w.Typed), Integer(w.Assumed), Integer(w.DoneWithout), Integer(w.Without),
			})
		}
	}
	t.Rows = RowsOf(rows...)
	return t
}

func stationTable(a *trace.LotAnswer) *Table {
	var rows [][]Cell
	for _, s := range a.Stations {
		rows = append(rows, placeRow(string(s.Station), s.Grade, s.Treatments, s.First, s.Last))
	}
	return &Table{Columns: placeColumns("Station"), Rows: RowsOf(rows...)}
}

func unitTable(a *trace.LotAnswer) *Table {
	t := &Table{Columns: []Column{
		{Header: "Other unit", Kind: KindText, Width: 24},
		{Header: "Lent to it", Kind: KindInteger},
		{Header: "Came from it", Kind: KindInteger},
		{Header: "First", Kind: KindInstant},
		{Header: "Last", Kind: KindInstant},
		{Header: "In", Kind: KindText},
		{Header: "Entries", Kind: KindText, Width: 30},
	}}
	var rows [][]Cell
	for i := range a.Units {
		u := &a.Units[i]
		in := "packs of the lot"
		if u.Via != nil {
			in = u.Via.String()
		}
		entries := ""
		for _, e := range u.Entries {
			if entries != "" {
				entries += ", "
			}
			entries += fmt.Sprint(e)
		}
		rows = append(rows, []Cell{Text(u.Unit), Integer(u.Lent), Integer(u.Taken), Instant(u.First), Instant(u.Last), Text(in), Text(entries)})
	}
	t.Rows = RowsOf(rows...)
	return t
}

// leftOutTable lists the treatments of the time in which the lot may have been
// in the unit that the answer leaves out. They are read as they are drawn.
func leftOutTable(ctx context.Context, b *trace.Book, a *trace.LotAnswer) *Table {
	t := &Table{
		Frozen: 3,
		Columns: []Column{
			{Header: "Patient", Kind: KindText, Width: 12},
			{Header: "Treatment", Kind: KindText, Width: 12},
			{Header: "Name", Kind: KindText, Width: 24},
			{Header: "Treatment start", Kind: KindInstant, Width: 17},
			{Header: "Machine", Kind: KindText, Width: 10},
			{Header: "Station", Kind: KindText, Width: 10},
			{Header: "Why it is left out", Kind: KindText, Width: 80},
		},
	}
	t.Rows = func(yield func([]Cell, error) bool) {
		q := trace.LeftOutQuestion{}
		for n, more := 0, true; more; {
			var list []trace.LeftOut
			var err error
			if list, more, err = b.LeftOut(ctx, a, q); err != nil {
				yield(nil, err)
				return
			}
			for i := range list {
				x := &list[i]
				q.Start, q.After = x.Start, x.Treatment
				if n == mostLeftOut {
					yield([]Cell{Mark("further ones"), Blank(), Blank(), Blank(), Blank(), Blank(), Text(fmt.Sprintf("These are the first %d. Ask for the others by their days: lotbook exposures --left-out.", n))}, nil)
					return
				}
				row := []Cell{Text(string(x.Patient)), Text(string(x.Treatment)), Text(x.Name), Instant(x.Start), Text(string(x.Machine)), Text(string(x.Station)), Text(x.Why)}
				if n++; !yield(row, nil) {
					return
				}
			}
		}
	}
	return t
}
