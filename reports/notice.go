package reports

import (
	"fmt"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// NoticeAnswer is the answer to a field notice as a Workbook for the unit
// itself: it names patients. What goes to the issuer is NoticeReply.
func NoticeAnswer(a *notice.Answer, by Asked) *Workbook {
	w := by.workbook("Field notice " + a.Reference + ": who met it")
	none := NoneFound()
	if a.Receipt() != notice.ReceivedSome {
		none = receiptMark(a.Receipt())
	}
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: noticeSummary(a, &by)}},
		{Name: "Lots", Table: orNone(noticeLots(a), none)},
		{Name: "Patients", Table: orNone(noticePatients(a), none)},
		{Name: "Treatments", Table: orNone(noticeTreatments(a), none)},
		{Name: "Machines", Table: orNone(noticePlaces("Machine", a.Machines), none)},
		{Name: "Stations", Table: orNone(noticePlaces("Station", a.Stations), none)},
		{Name: "Home patients", Table: orNone(homeTable(a.Homes), none)},
		{Name: "Other units", Table: orNone(unitsTable(a), none)},
		{Name: "Stock", Table: orNone(stockTable(a.Left), none)},
		{Name: "Every piece", Table: orNone(massTable(a), none)},
		{Name: "How complete", Table: orNone(recordTable(a), none)},
		{Name: "Count differences", Table: orNone(noticeDifferences(a), none)},
	}
	if len(a.OnOrder) > 0 {
		w.Sheets = append(w.Sheets, Sheet{Name: "On order", Table: onOrderTable(a)})
	}
	return w
}

// receiptMark stands where a table has no rows because of what was, or was not,
// received.
func receiptMark(r notice.Receipt) Cell {
	switch r {
	case notice.ReceivedSome:
		return Mark("received")
	case notice.ReceivedNone:
		return Mark("none received")
	case notice.ReceivedUnnumbered:
		return Mark("without a lot number only")
	}
	return Mark("not known yet")
}

// openWords says what nobody has found out yet: without it the answer is not
// whole, neither for the unit nor for the issuer.
func openWords(a *notice.Answer) []string {
	var list []string
	if a.Undecided > 0 {
		list = append(list, fmt.Sprintf("%s on record may be meant, and nobody has decided on them: see the lots by number. They are among the treatments and the pieces here.", plural(a.Undecided, "lot", "lots")))
	}
	for i := range a.Unmatched {
		list = append(list, "Not matched to a product of this unit, so not searched for: "+unmatchedWords(&a.Unmatched[i]))
	}
	return list
}

func noticeSummary(a *notice.Answer, by *Asked) []Section {
	var secs []Section
	if len(a.Actions) > 0 {
		asks := Section{Title: "What the notice asks for, before anything else"}
		for _, x := range a.Actions {
			asks.Facts = append(asks.Facts, Fact{Label: x.ID, Value: Text(x.Text), Note: dueNote(x.Due)})
		}
		secs = append(secs, asks)
	}
	secs = append(secs, noticeSection(a))
	open := Section{Title: "What a person has to find out first", Text: openWords(a), Caution: true}
	if len(open.Text) > 0 {
		secs = append(secs, open)
	}
	secs = append(secs, Section{Title: "The answer", Text: []string{a.Receipt().Words()}})
	limits := a.Limits
	if a.Moved {
		limits = append([]string{"Entries came in while this was made: some lines may know more than the entry named below."}, limits...)
	}
	if len(limits) > 0 {
		secs = append(secs, Section{Title: "What this answer can't tell", Text: limits, Caution: true})
	}
	grades := Section{Title: "Treatments, patients and machines by grade", Table: gradeTable(a.Counts)}
	grades.Text = []string{"A treatment, a patient or a machine counts once, under its surest grade, however many of the lots it met."}
	if a.Serials > 0 {
		grades.Text = append(grades.Text, fmt.Sprintf("%s not listed: the piece's serial number is not among those that are meant.", plural(a.Serials, "recorded use is", "recorded uses are")))
	}
	secs = append(secs, grades)
	secs = append(secs, massSections(a, lentNote(a.Lent))...)
	return append(secs, by.source(a.AsOf))
}

// massSections account for the pieces of the lots that are meant and, apart from
// them, of those in doubt.
func massSections(a *notice.Answer, lent string) []Section {
	const used = "in treatments and outside them"
	secs := []Section{massSection(&a.Mass, used, lent)}
	if a.InDoubt != (inventory.MassBalance{}) {
		s := massSection(&a.InDoubt, used, "")
		s.Title = "Every piece of lots in doubt, not counted above"
		secs = append(secs, s)
	}
	return secs
}

func dueNote(d inventory.Date) string {
	if d == "" {
		return ""
	}
	return "by " + string(d)
}

func unmatchedWords(l *notice.Line) string {
	words := make([]string, len(l.Scope))
	for i := range l.Scope {
		words[i] = l.Scope[i].Words()
	}
	return l.Printed + ": " + strings.Join(words, "; ")
}

// noticeSection is the notice as it was written.
func noticeSection(a *notice.Answer) Section {
	s := Section{Title: "The notice", Facts: []Fact{
		{Label: "Reference", Value: Text(a.Reference)},
		{Label: "Issuer", Value: Text(a.Issuer)},
		{Label: "Subject", Value: textOr(a.Subject)},
		{Label: "Class", Value: textOr(a.Class), Note: "in the issuer's terms"},
		{Label: "Dated", Value: dateCell(a.Dated)},
		{Label: "Received", Value: dateCell(a.Received)},
		{Label: "Deadline", Value: dateCell(a.Deadline), Note: "the last day for the reply"},
		{Label: "Version answered", Value: Integer(int64(a.Version)), Note: "with those before it, unless it stands alone"},
	}}
	for i := range a.Products {
		p := &a.Products[i]
		name := Text(p.Name)
		if p.Name == "" {
			name = Mark("not in the catalogue")
		}
		s.Facts = append(s.Facts,
			Fact{Label: "Product", Value: name, Note: strings.Join(append([]string{string(p.Product)}, p.Printed...), "; printed as: ")},
			Fact{Label: "Device identifiers", Value: textOr(strings.Join(p.DIs, ", "))},
			Fact{Label: "Lots", Value: Text(strings.Join(p.Means, "; "))},
		)
	}
	return s
}

// textOr is text, or the mark for one that was never recorded.
func textOr(s string) Cell {
	if s == "" {
		return NotRecorded()
	}
	return Text(s)
}

func noticeLots(a *notice.Answer) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Name", Kind: KindText, Width: 24},
		{Header: "Meant", Kind: KindText},
		{Header: "Why", Kind: KindText, Width: 50},
		{Header: "Decided by", Kind: KindText},
		{Header: "Reason of the decision", Kind: KindText, Width: 40},
		{Header: "On record here", Kind: KindFlag},
		{Header: "Made", Kind: KindDate},
		{Header: "Expires", Kind: KindDate},
		{Header: "Held by the notice", Kind: KindFlag},
		{Header: "May have been here from", Kind: KindInstant, Width: 17},
		{Header: "Until", Kind: KindInstant, Width: 17},
		{Header: "Confirmed", Kind: KindInteger},
		{Header: "Probable", Kind: KindInteger},
		{Header: "Cannot be excluded", Kind: KindInteger},
		{Header: "Same number of another product", Kind: KindText},
	}}
	row := make([]Cell, len(t.Columns))
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range a.Lots {
			l := &a.Lots[i]
			by, reason := Blank(), Blank()
			if l.Decided != nil {
				by, reason = Text(l.Decided.By), Text(l.Decided.Reason)
			}
			until := instantCell(l.Last)
			if !l.First.IsZero() && l.Last.IsZero() {
				until = Mark("it may still be")
			}
			var others []string
			for _, p := range l.Elsewhere {
				others = append(others, string(p))
			}
			copy(row, []Cell{
				Text(string(l.Product)), lotCell(l.Lot), Text(l.Name), Text(l.Verdict.String()), Text(l.Why), by, reason, Flag(l.OnRecord),
				dateCell(l.Made), dateCell(l.Expires), Flag(l.Held), instantCell(l.First), until,
				gradeCell(l, trace.Confirmed), gradeCell(l, trace.Probable), gradeCell(l, trace.NotExcluded), Text(strings.Join(others, ", ")),
			})
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

// lotCell is a lot number, or the mark for pieces that have none on record.
func lotCell(n string) Cell {
	if n == "" {
		return Mark("no lot number")
	}
	return Text(n)
}

// gradeCell is how many treatments have a grade for one lot.
func gradeCell(l *notice.LotLine, g trace.Grade) Cell {
	for _, c := range l.Counts {
		if c.Grade == g {
			return Integer(int64(c.Treatments))
		}
	}
	return Blank()
}

func noticePatients(a *notice.Answer) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Surest grade", Kind: KindText, Width: 19},
		{Header: "Patient", Kind: KindText},
		{Header: "Name", Kind: KindText, Width: 24},
		{Header: "Treatments", Kind: KindInteger},
		{Header: "Supplied at home", Kind: KindFlag},
		{Header: "First", Kind: KindInstant},
		{Header: "Last", Kind: KindInstant},
	}}
	row := make([]Cell, len(t.Columns))
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range a.Patients {
			p := &a.Patients[i]
			copy(row, []Cell{Text(string(p.Grade)), Text(string(p.Patient)), Text(p.Name), Integer(int64(p.Treatments)), Flag(p.Home), instantCell(p.First), instantCell(p.Last)})
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

func noticeTreatments(a *notice.Answer) *Table {
	t := &Table{Frozen: 3, Columns: []Column{
		{Header: "Grade of the treatment", Kind: KindText, Width: 19},
		{Header: "Patient", Kind: KindText, Width: 12},
		{Header: "Treatment", Kind: KindText, Width: 12},
		{Header: "Name", Kind: KindText, Width: 24},
		{Header: "Treatment start", Kind: KindInstant, Width: 17},
		{Header: "Machine", Kind: KindText, Width: 10},
		{Header: "Station", Kind: KindText, Width: 10},
		{Header: "Product", Kind: KindText, Width: 12},
		{Header: "Lot", Kind: KindText, Width: 14},
		{Header: "Grade for this lot", Kind: KindText, Width: 19},
		{Header: "Pieces", Kind: KindInteger, Width: 8},
		{Header: "Serial", Kind: KindText, Width: 14},
		{Header: "How known", Kind: KindText, Width: 12},
		{Header: "Recorded by", Kind: KindText, Width: 14},
		{Header: "Entry", Kind: KindText, Width: 10},
		{Header: "Through", Kind: KindText, Width: 20},
		{Header: "Why", Kind: KindText, Width: 60},
	}}
	row := make([]Cell, len(t.Columns))
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range a.Treatments {
			x := &a.Treatments[i]
			for j := range x.Lots {
				l := &x.Lots[j]
				how, by := NotRecorded(), NotRecorded()
				if l.How != "" {
					how, by = Text(string(l.How)), Text(l.By)
				}
				copy(row, []Cell{
					Text(string(x.Grade)), Text(string(x.Patient)), Text(string(x.Treatment)), Text(x.Name), Instant(x.Start),
					Text(string(x.Machine)), Text(string(x.Station)), Text(string(l.Product)), lotCell(l.Lot), Text(string(l.Grade)),
					Integer(l.Quantity), Text(l.Serial), how, by, entryCell(l.Entry), throughCell(l.Via), Text(l.Why),
				})
				if !yield(row, nil) {
					return
				}
			}
		}
	}
	return t
}

func noticePlaces(what string, places []notice.PlaceLine) *Table {
	t := &Table{Columns: placeColumns(what)}
	var rows [][]Cell
	for _, p := range places {
		rows = append(rows, placeRow(p.ID, p.Grade, p.Treatments, p.First, p.Last))
	}
	t.Rows = RowsOf(rows...)
	return t
}

// placeColumns are those of machines or stations, and placeRow a row of them.
func placeColumns(what string) []Column {
	return []Column{
		{Header: what, Kind: KindText},
		{Header: "Surest grade", Kind: KindText},
		{Header: "Treatments", Kind: KindInteger},
		{Header: "First start", Kind: KindInstant},
		{Header: "Last start", Kind: KindInstant},
	}
}

func placeRow(id string, g trace.Grade, treatments int, first, last time.Time) []Cell {
	return []Cell{Text(id), Text(string(g)), Integer(int64(treatments)), Instant(first), Instant(last)}
}
