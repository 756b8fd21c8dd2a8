package xlsx

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// table draws a sheet of rows, and further sheets when one is full.
func (b *builder) table(s *reports.Sheet) error {
	w := newTableWriter(b, s)
	n := 0
	if s.Table.Rows != nil {
		for row, err := range s.Table.Rows {
			if err != nil {
				return fmt.Errorf("after row %d: %w", n, err)
			}
			if n%256 == 0 && b.ctx.Err() != nil {
				return fmt.Errorf("after row %d: %w", n, b.ctx.Err())
			}
			n++
			if err := s.Table.CheckRow(n, row); err != nil {
				return err
			}
			if err := w.add(row); err != nil {
				return fmt.Errorf("row %d: %w", n, err)
			}
		}
	}
	return w.end()
}

// A tableWriter holds rows back until it has measured some, as a sheet's
// widths come before its rows.
type tableWriter struct {
	b      *builder
	t      *reports.Table
	want   string
	sample [][]reports.Cell
	ready  bool

	columns []column
	widths  []float64
	cells   []excelize.Cell // the row under way; values point into it
	values  []any

	sw    *excelize.StreamWriter
	name  string
	row   int   // the row last written, from 1, the header's
	bytes int64 // about what the rows take, at most
}

func newTableWriter(b *builder, s *reports.Sheet) *tableWriter {
	n := len(s.Table.Columns)
	w := &tableWriter{b: b, t: s.Table, want: s.Name, columns: make([]column, n), cells: make([]excelize.Cell, n), values: make([]any, n)}
	for i, c := range s.Table.Columns {
		w.columns[i] = b.column(c, lookBody, lookMark, c.Wrap)
	}
	return w
}

func (b *builder) column(c reports.Column, body, mark look, wrap bool) column {
	return column{
		look: body, seconds: c.Seconds, wrap: c.Wrap,
		style: b.styles.of(body, c.Kind, c.Places, c.Seconds, wrap && c.Kind == reports.KindText),
		text:  b.styles.word(body, c.Kind, wrap),
		mark:  b.styles.word(mark, c.Kind, wrap),
	}
}

func (w *tableWriter) add(row []reports.Cell) error {
	if w.ready {
		return w.write(row)
	}
	w.sample = append(w.sample, slices.Clone(row))
	if len(w.sample) < sampleRows {
		return nil
	}
	return w.begin()
}

func (w *tableWriter) begin() error {
	w.ready = true
	w.measure()
	if err := w.open(); err != nil {
		return err
	}
	for _, row := range w.sample {
		if err := w.write(row); err != nil {
			return err
		}
	}
	w.sample = nil
	return nil
}

func (w *tableWriter) end() error {
	if !w.ready {
		if err := w.begin(); err != nil {
			return err
		}
	}
	return w.close()
}

func (w *tableWriter) measure() {
	w.widths = make([]float64, len(w.t.Columns))
	for i, c := range w.t.Columns {
		if c.Width > 0 {
			w.widths[i] = clampWidth(float64(c.Width), excelize.MaxColumnWidth)
			continue
		}
		var most float64
		for _, row := range w.sample {
			most = max(most, valueWidth(row[i], c.Places, c.Seconds, c.Wrap))
		}
		limit := float64(maxWidth)
		if c.Wrap {
			limit = wrapWidth
		}
		w.widths[i] = max(clampWidth(most, limit), clampWidth(headerWidth(c.Header), limit))
	}
}

// open begins the next sheet of the table.
func (w *tableWriter) open() error {
	var total float64
	for _, cw := range w.widths {
		total += cw
	}
	var err error
	if w.name, err = w.b.addSheet(w.want); err != nil {
		return err
	}
	if err := w.b.setUp(page{name: w.name, width: total, table: true, frozen: w.t.Frozen}); err != nil {
		return err
	}
	if w.sw, err = w.b.file.NewStreamWriter(w.name); err != nil {
		return err
	}
	if err := setWidths(w.sw, w.widths); err != nil {
		return err
	}
	for i, c := range w.t.Columns {
		if c.TypedIn {
			if err := w.sw.SetColStyle(i+1, i+1, w.columns[i].text); err != nil {
				return err
			}
		}
	}
	if err := w.sw.SetPanes(panes(w.t.Frozen)); err != nil {
		return err
	}
	w.row, w.bytes = 1, 0
	return w.header()
}

func (w *tableWriter) header() error {
	head := make([]any, len(w.t.Columns))
	tallest := 1
	for i, c := range w.t.Columns {
		l := lookHead
		if rightAligned(c.Kind) {
			l = lookHeadNum
		}
		h := reports.Visible(c.Header, false)
		head[i] = excelize.Cell{StyleID: w.b.styles.text(l, true), Value: h}
		tallest = max(tallest, lines(h, w.widths[i]-filterArrow))
	}
	return w.sw.SetRow("A1", head, excelize.RowOpts{Height: headHeight(tallest)})
}

func headHeight(lines int) float64 { return min(float64(lines)*lineHeight+6, excelize.MaxRowHeight) }

// lineHeight is a line of text of 11 points, in points.
const lineHeight = 15

func rightAligned(k reports.Kind) bool {
	return k == reports.KindInteger || k == reports.KindDecimal || k == reports.KindMinutes
}

// panes keeps the header and some columns in view.
func panes(columns int) *excelize.Panes {
	p := &excelize.Panes{Freeze: true, XSplit: columns, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}
	if columns > 0 {
		name, err := excelize.ColumnNumberToName(columns + 1)
		if err == nil { // always: fewer columns than a sheet has
			p.TopLeftCell, p.ActivePane = name+"2", "bottomRight"
		}
	}
	p.Selection = []excelize.Selection{{SQRef: p.TopLeftCell, ActiveCell: p.TopLeftCell, Pane: p.ActivePane}}
	return p
}

func (w *tableWriter) write(row []reports.Cell) error {
	if w.row > w.b.full.rows || w.bytes > w.b.full.bytes {
		if err := w.close(); err != nil {
			return err
		}
		if err := w.open(); err != nil {
			return err
		}
	}
	w.row++
	w.bytes += 32
	for i := range row {
		if row[i].Kind() == reports.KindBlank {
			w.values[i] = nil
			continue
		}
		w.bytes += int64(w.b.put(&w.cells[i], &w.columns[i], row[i]))
		w.values[i] = &w.cells[i]
	}
	return w.sw.SetRow("A"+strconv.Itoa(w.row), w.values)
}

// close ends the sheet under way. The filter is set now, as its range ends
// with the last row.
func (w *tableWriter) close() error {
	last, err := excelize.CoordinatesToCellName(len(w.t.Columns), w.row)
	if err != nil {
		return err
	}
	if err := w.b.file.AutoFilter(w.name, "A1:"+last, nil); err != nil {
		return err
	}
	return w.sw.Flush()
}
