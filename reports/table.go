package reports

import (
	"fmt"
	"iter"
)

// Rows hands out one row after the other. A row has one cell for each column.
// The slice is the iterator's own: it is valid until the next row is asked
// for, so that one slice can serve them all. Strings in cells must stay as
// they are. After an error nothing more is handed out.
type Rows = iter.Seq2[[]Cell, error]

// A Table is typed columns and the rows below them.
type Table struct {
	Columns []Column
	// Rows may be nil: a table without rows. It is gone through once for
	// each time that the table is written.
	Rows Rows
	// Frozen is how many columns on the left stay in view while the others
	// move, for what names a row: 0 to len(Columns)-1.
	Frozen int
}

// A Column says what its cells hold. A cell of another kind is an error, but
// for blanks, marks and text, which may stand anywhere.
type Column struct {
	// Header names the column and, for a quantity, its unit: "Dialysate
	// (L)". Headers of one table differ from each other.
	Header string
	// Kind is KindText or one of the kinds after it.
	Kind Kind
	// Places is how many decimal places a KindDecimal column shows. A cell
	// may hold more or fewer; its value is not changed.
	Places uint8
	// Seconds shows the seconds of a KindInstant column.
	Seconds bool
	// Wrap breaks long text into lines, and keeps its line breaks.
	Wrap bool
	// TypedIn is set where people write into the column's empty cells what
	// no spreadsheet may take for a number: they are text then.
	TypedIn bool
	// Width is in characters; 0 lets the writer measure.
	Width int
}

// RowsOf is the Rows of a list that is there already.
func RowsOf(rows ...[]Cell) Rows {
	return func(yield func([]Cell, error) bool) {
		for _, r := range rows {
			if !yield(r, nil) {
				return
			}
		}
	}
}

// Check reports what is wrong with the columns: an error that is
// [ErrBadTable].
func (t *Table) Check() error {
	if len(t.Columns) == 0 {
		return fmt.Errorf("%w: no columns", ErrBadTable)
	}
	if t.Frozen < 0 || t.Frozen >= len(t.Columns) {
		return fmt.Errorf("%w: %d frozen of %d columns", ErrBadTable, t.Frozen, len(t.Columns))
	}
	seen := make(map[string]bool, len(t.Columns))
	for i, c := range t.Columns {
		switch {
		case c.Header == "":
			return fmt.Errorf("%w: column %d has no header", ErrBadTable, i+1)
		case seen[c.Header]:
			return fmt.Errorf("%w: two columns %q", ErrBadTable, c.Header)
		case c.Kind < KindText || c.Kind > KindFlag:
			return fmt.Errorf("%w: column %q is of %v", ErrBadTable, c.Header, c.Kind)
		case c.Places > MaxPlaces:
			return fmt.Errorf("%w: column %q has %d places", ErrBadTable, c.Header, c.Places)
		}
		seen[c.Header] = true
	}
	return nil
}

// CheckRow reports whether the cells of a row, counted from 1 below the
// header, fit the columns. The error is a *[RowError].
func (t *Table) CheckRow(n int, row []Cell) error {
	if len(row) != len(t.Columns) {
		return &RowError{Row: n, Err: fmt.Errorf("%w: %d cells for %d columns", ErrBadRow, len(row), len(t.Columns))}
	}
	for i := range row {
		if k := row[i].kind; k > KindText && k != t.Columns[i].Kind {
			return &RowError{Row: n, Column: t.Columns[i].Header, Err: fmt.Errorf("%w: %v in a column of %v", ErrBadRow, k, t.Columns[i].Kind)}
		}
	}
	return nil
}
