package reports

import (
	"fmt"
	"time"
)

// A Workbook is an answer that can be handed to somebody: what was asked, by
// whom and when, and the sheets. The same Workbook gives the same file.
type Workbook struct {
	// Title is what was asked, in a few words.
	Title string
	// AskedBy is the person's name as it should stand on paper.
	AskedBy string
	// AskedAt is when the question was asked. It is the file's time of
	// creation as well.
	AskedAt time.Time
	// Zone is the unit's. Instants are drawn in it; nil means UTC.
	Zone *time.Location
	// Caution stands at the head of each Summary and, as far as it fits, at
	// the foot of each printed page.
	Caution string
	// Paper is what the pages are set up for.
	Paper Paper
	// Sheets are in the order in which they are shown. There is at least one.
	Sheets []Sheet
}

// Paper is a size of paper.
type Paper uint8

// The sizes.
const (
	A4 Paper = iota
	Letter
)

// A Sheet has a name, and either a Summary or a Table.
type Sheet struct {
	// Name is what a person looks for. Writers shorten it, and change what
	// their format doesn't allow in a name.
	Name    string
	Summary *Summary
	Table   *Table
}

// A Summary is a sheet to be read and printed. Title, caution, who asked and
// when are drawn from the Workbook above the sections.
type Summary struct {
	Sections []Section
}

// A Section has a title and, in this order where they are there: paragraphs,
// facts, a small table.
type Section struct {
	Title string
	// Text is paragraphs.
	Text []string
	// Caution draws the paragraphs like the Workbook's caution: the reader
	// should not miss them.
	Caution bool
	Facts   []Fact
	// Table is small: some 8 columns and some 50 rows, as it should fit a
	// page. Frozen and Width are not used.
	Table *Table
}

// A Fact is a label, a value, and what there is to say about the value: how
// sure it is, or what it counts.
type Fact struct {
	Label string
	Value Cell
	// Places is how many decimal places a decimal shows.
	Places uint8
	Note   string
}

// Location returns the Zone, UTC if there is none.
func (w *Workbook) Location() *time.Location {
	if w.Zone == nil {
		return time.UTC
	}
	return w.Zone
}

// Check reports what is wrong with the Workbook, without going through any
// rows: an error that is [ErrBadWorkbook] or [ErrBadTable].
func (w *Workbook) Check() error {
	switch {
	case len(w.Sheets) == 0:
		return fmt.Errorf("%w: no sheets", ErrBadWorkbook)
	case w.AskedAt.IsZero():
		return fmt.Errorf("%w: no time of asking", ErrBadWorkbook)
	case w.Paper > Letter:
		return fmt.Errorf("%w: paper %d", ErrBadWorkbook, w.Paper)
	}
	for i := range w.Sheets {
		if err := w.Sheets[i].check(); err != nil {
			return fmt.Errorf("sheet %d, %q: %w", i+1, w.Sheets[i].Name, err)
		}
	}
	return nil
}

func (s *Sheet) check() error {
	switch {
	case (s.Summary == nil) == (s.Table == nil):
		return fmt.Errorf("%w: a sheet is either a summary or a table", ErrBadWorkbook)
	case s.Table != nil:
		return s.Table.Check()
	}
	for _, sec := range s.Summary.Sections {
		if sec.Table == nil {
			continue
		}
		if err := sec.Table.Check(); err != nil {
			return fmt.Errorf("section %q: %w", sec.Title, err)
		}
	}
	return nil
}
