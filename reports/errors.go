package reports

import (
	"errors"
	"fmt"
)

// Errors of this package and of its writers. Test for them with errors.Is.
var (
	// ErrBadWorkbook says that a Workbook can't be drawn as it is.
	ErrBadWorkbook = errors.New("workbook not usable")
	// ErrBadTable says that a Table's columns can't be drawn as they are.
	ErrBadTable = errors.New("table not usable")
	// ErrBadRow says that a row doesn't fit its table's columns.
	ErrBadRow = errors.New("row does not fit the columns")
)

// A RowError says which row of a table couldn't be drawn, and why.
type RowError struct {
	// Row is counted from 1 below the header.
	Row int
	// Column is the column's header, or empty where the row as a whole is
	// meant.
	Column string
	Err    error
}

func (e *RowError) Error() string {
	if e.Column == "" {
		return fmt.Sprintf("row %d: %v", e.Row, e.Err)
	}
	return fmt.Sprintf("row %d, column %q: %v", e.Row, e.Column, e.Err)
}

// Unwrap returns the reason.
func (e *RowError) Unwrap() error { return e.Err }
