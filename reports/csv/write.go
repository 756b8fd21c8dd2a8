package csv

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strconv"
	"time"

	"lotbook/reports"
)

// Options of [Write].
type Options struct {
	// Zone is what instants are written in; nil means UTC.
	Zone *time.Location
	// BOM begins the file with U+FEFF. Some spreadsheet programs take the
	// file for another encoding without it, and some readers take it for a
	// part of the first header.
	BOM bool
}

// Write writes a header and the rows of t to w, as they come: on an error w
// may have got a part of them.
//
// Errors: those of [reports.Table.Check]; a [reports.RowError]; the error of
// the Rows iterator; ctx's; those of w.
func Write(ctx context.Context, w io.Writer, t *reports.Table, opts Options) error {
	if err := t.Check(); err != nil {
		return fmt.Errorf("csv: %w", err)
	}
	if opts.Zone == nil {
		opts.Zone = time.UTC
	}
	out := bufio.NewWriterSize(w, 1<<16)
	var line []byte
	if opts.BOM {
		line = append(line, "\ufeff"...)
	}
	for i, c := range t.Columns {
		if i > 0 {
			line = append(line, ',')
		}
		line = appendText(line, c.Header)
	}
	// A bufio.Writer keeps its first error; Flush returns it.
	_, _ = out.Write(append(line, "\r\n"...))
	n := 0
	if t.Rows != nil {
		for row, err := range t.Rows {
			if err != nil {
				return fmt.Errorf("csv: after row %d: %w", n, err)
			}
			if n%256 == 0 && ctx.Err() != nil {
				return fmt.Errorf("csv: after row %d: %w", n, ctx.Err())
			}
			n++
			if err := t.CheckRow(n, row); err != nil {
				return fmt.Errorf("csv: %w", err)
			}
			line = line[:0]
			for i, c := range row {
				if i > 0 {
					line = append(line, ',')
				}
				line = appendCell(line, c, opts.Zone)
			}
			if _, err := out.Write(append(line, "\r\n"...)); err != nil {
				return fmt.Errorf("csv: row %d: %w", n, err)
			}
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("csv: after row %d: %w", n, err)
	}
	return nil
}

func appendCell(b []byte, c reports.Cell, zone *time.Location) []byte {
	switch c.Kind() {
	case reports.KindText:
		return appendText(b, c.Text())
	case reports.KindMark:
		return appendMark(b, c.Text())
	case reports.KindInteger, reports.KindMinutes:
		return strconv.AppendInt(b, c.Int(), 10)
	case reports.KindDecimal:
		return c.AppendDecimal(b)
	case reports.KindDate:
		return c.Time().AppendFormat(b, time.DateOnly)
	case reports.KindInstant:
		return c.Time().In(zone).AppendFormat(b, time.RFC3339)
	case reports.KindFlag:
		if c.Int() != 0 {
			return append(b, "yes"...)
		}
		return append(b, "no"...)
	}
	return b
}
