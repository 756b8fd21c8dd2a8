package reports

import (
	"fmt"
	"strconv"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Caution stands on every report and page.
const Caution = "This is a record of what was written down, not a judgement. It does not replace the prescription check, " +
	"the machine's own tests, the independent check of conductivity and pH, local codes or licensed practice. " +
	"A notice's own instructions come before anything printed here."

// Asked is who asked a question, when, and in which unit: what the head of a
// report needs and the answer itself doesn't hold.
type Asked struct {
	By    string // the person's name
	At    time.Time
	Unit  string
	Zone  *time.Location
	Paper Paper
}

func (a *Asked) workbook(title string) *Workbook {
	return &Workbook{Title: title, AskedBy: a.By, AskedAt: a.At, Zone: a.Zone, Caution: Caution, Paper: a.Paper}
}

// source is the section that says what a report rests on.
func (a *Asked) source(head journal.Head) Section {
	return Section{
		Title: "What this rests on",
		Text:  []string{"Whoever noted the hash of an entry can show by lotbook verify that nothing up to it has changed since."},
		Facts: []Fact{
			{Label: "Unit", Value: Text(a.Unit)},
			{Label: "Journal up to entry", Value: entryCell(head.Seq)},
			{Label: "Hash of that entry", Value: Text(head.Hash.String())},
		},
	}
}

// dateCell is a date, or the mark for one that was never recorded.
func dateCell(d inventory.Date) Cell {
	if d == "" {
		return NotRecorded()
	}
	return DateText(d)
}

// instantCell is an instant, blank for the zero time.
func instantCell(t time.Time) Cell {
	if t.IsZero() {
		return Blank()
	}
	return Instant(t)
}

func entryCell(n uint64) Cell {
	if n == 0 {
		return Blank()
	}
	return Text(strconv.FormatUint(n, 10))
}

func plural(n int, one, many string) string {
	if n == 1 {
		return fmt.Sprintf("1 %s", one)
	}
	return fmt.Sprintf("%d %s", n, many)
}

// orNone gives a table without rows one that says so, by the mark given.
func orNone(t *Table, none Cell) *Table {
	rows := t.Rows
	t.Rows = func(yield func([]Cell, error) bool) {
		any := false
		for row, err := range rows {
			any = true
			if !yield(row, err) {
				return
			}
		}
		if !any {
			row := make([]Cell, len(t.Columns))
			row[0] = none
			yield(row, nil)
		}
	}
	return t
}
