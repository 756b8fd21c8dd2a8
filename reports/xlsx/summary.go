package xlsx

import (
	"fmt"
	"slices"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// A summaryWriter lays a summary on a grid of a few columns. Paragraphs go
// across all of them, facts take the first for their label and the second for
// their value, small tables a column each.
type summaryWriter struct {
	b      *builder
	s      *reports.Summary
	tables [][][]reports.Cell // the rows of each section's table
	widths []float64
	sw     *excelize.StreamWriter
	row    int
}

func (b *builder) summary(s *reports.Sheet) error {
	w := &summaryWriter{b: b, s: s.Summary}
	if err := w.collect(); err != nil {
		return err
	}
	w.measure()
	name, err := b.addSheet(s.Name)
	if err != nil {
		return err
	}
	if err := b.setUp(page{name: name, width: w.span(0)}); err != nil {
		return err
	}
	if w.sw, err = b.file.NewStreamWriter(name); err != nil {
		return err
	}
	if err := setWidths(w.sw, w.widths); err != nil {
		return err
	}
	if err := w.write(); err != nil {
		return err
	}
	return w.sw.Flush()
}

// collect reads the small tables, as they have to be measured.
func (w *summaryWriter) collect() error {
	w.tables = make([][][]reports.Cell, len(w.s.Sections))
	for i, sec := range w.s.Sections {
		if sec.Table == nil || sec.Table.Rows == nil {
			continue
		}
		for row, err := range sec.Table.Rows {
			if err != nil {
				return fmt.Errorf("section %q, after row %d: %w", sec.Title, len(w.tables[i]), err)
			}
			if err := w.b.ctx.Err(); err != nil {
				return err
			}
			if err := sec.Table.CheckRow(len(w.tables[i])+1, row); err != nil {
				return fmt.Errorf("section %q: %w", sec.Title, err)
			}
			w.tables[i] = append(w.tables[i], slices.Clone(row))
		}
	}
	return nil
}

const (
	labelWidth = 34
	gridWidth  = 40
	gridLeast  = 3 // columns
)

func (w *summaryWriter) measure() {
	n := gridLeast
	for _, sec := range w.s.Sections {
		if sec.Table != nil {
			n = max(n, len(sec.Table.Columns))
		}
	}
	w.widths = make([]float64, n)
	grow := func(i int, width, most float64) { w.widths[i] = max(w.widths[i], clampWidth(width, most)) }
	facts := w.b.preface()
	for i, sec := range w.s.Sections {
		facts = append(facts, sec.Facts...)
		if sec.Table == nil {
			continue
		}
		for c, col := range sec.Table.Columns {
			grow(c, headerWidth(col.Header)-filterArrow, gridWidth)
			for _, row := range w.tables[i] {
				grow(c, valueWidth(row[c], col.Places, col.Seconds, col.Wrap), gridWidth)
			}
		}
	}
	for _, f := range facts {
		grow(0, textWidth(reports.Visible(f.Label, false)), labelWidth)
		if f.Value.Kind() != reports.KindText || f.Note != "" {
			grow(1, 1.1*valueWidth(f.Value, f.Places, true, false), labelWidth)
		}
	}
	for i := range w.widths {
		w.widths[i] = max(w.widths[i], minWidth)
	}
	// What is left of the page goes to the last column, for paragraphs.
	if rest := portraitWidth - w.span(0); rest > 0 {
		w.widths[n-1] = tenth(w.widths[n-1] + rest)
	}
}

// span is the width from a column, from 0, to the last.
func (w *summaryWriter) span(from int) float64 {
	var sum float64
	for _, cw := range w.widths[from:] {
		sum += cw
	}
	return sum
}

// preface is what every summary says of the question.
func (b *builder) preface() []reports.Fact {
	return []reports.Fact{
		{Label: "Asked by", Value: orNotRecorded(b.wb.AskedBy)},
		{Label: "Asked at", Value: reports.Instant(b.wb.AskedAt)},
		{Label: "Times are those of", Value: reports.Text(b.zone.String())},
	}
}

func orNotRecorded(s string) reports.Cell {
	if s == "" {
		return reports.NotRecorded()
	}
	return reports.Text(s)
}

func (w *summaryWriter) write() error {
	st := w.b.styles
	if err := w.across(st.text(lookTitle, true), reports.Visible(w.b.wb.Title, true), 1.7); err != nil {
		return err
	}
	for _, f := range w.b.preface() {
		if err := w.fact(f); err != nil {
			return err
		}
	}
	if w.b.wb.Caution != "" {
		w.row++
		if err := w.paragraph(w.b.wb.Caution, true); err != nil {
			return err
		}
	}
	for i, sec := range w.s.Sections {
		if err := w.section(sec, w.tables[i]); err != nil {
			return fmt.Errorf("section %q: %w", sec.Title, err)
		}
	}
	return nil
}

func (w *summaryWriter) section(sec reports.Section, rows [][]reports.Cell) error {
	w.row++
	if sec.Title != "" {
		if err := w.across(w.b.styles.text(lookSection, true), reports.Visible(sec.Title, false), 1.3); err != nil {
			return err
		}
	}
	for _, p := range sec.Text {
		if err := w.paragraph(p, sec.Caution); err != nil {
			return err
		}
	}
	for _, f := range sec.Facts {
		if err := w.fact(f); err != nil {
			return err
		}
	}
	if sec.Table == nil {
		return nil
	}
	return w.table(sec.Table, rows)
}

func (w *summaryWriter) paragraph(s string, caution bool) error {
	l := lookProse
	if caution {
		l = lookCaution
	}
	return w.across(w.b.styles.text(l, true), reports.Visible(s, true), 1)
}

// across draws text over the whole width, in type so many times the normal
// size.
func (w *summaryWriter) across(style int, s string, size float64) error {
	cells := make([]any, len(w.widths))
	for i := range cells {
		cells[i] = excelize.Cell{StyleID: style}
	}
	s = fitText(s)
	cells[0] = excelize.Cell{StyleID: style, Value: s}
	return w.put(cells, lines(s, (w.span(0)-2)/size), size, 0)
}

func (w *summaryWriter) fact(f reports.Fact) error {
	st := w.b.styles
	label := reports.Visible(f.Label, false)
	cells := make([]any, len(w.widths))
	cells[0] = excelize.Cell{StyleID: st.text(lookLabel, true), Value: fitText(label)}
	tallest := lines(label, w.widths[0]-1)

	col := w.b.column(reports.Column{Kind: max(f.Value.Kind(), reports.KindText), Places: f.Places, Wrap: true}, lookFact, lookFactMark, true)
	var value excelize.Cell
	w.b.put(&value, &col, f.Value)
	cells[1] = value
	width, merge := w.span(1), 1
	if f.Note != "" {
		note := fitText(reports.Visible(f.Note, true))
		cells[2] = excelize.Cell{StyleID: st.text(lookNote, true), Value: note}
		tallest = max(tallest, lines(note, w.span(2)-1))
		width, merge = w.widths[1], 2
	}
	if s, ok := value.Value.(string); ok {
		tallest = max(tallest, lines(s, (width-1)/1.1))
	}
	return w.put(cells, tallest, 1, merge)
}

func (w *summaryWriter) table(t *reports.Table, rows [][]reports.Cell) error {
	head := make([]any, len(t.Columns))
	columns := make([]column, len(t.Columns))
	tallest := 1
	for i, c := range t.Columns {
		l := lookHead
		if rightAligned(c.Kind) {
			l = lookHeadNum
		}
		h := reports.Visible(c.Header, false)
		head[i] = excelize.Cell{StyleID: w.b.styles.text(l, true), Value: h}
		tallest = max(tallest, lines(h, (w.widths[i]-1)/1.1))
		columns[i] = w.b.column(c, lookGrid, lookGridMark, true)
	}
	if err := w.put(head, tallest, 1, -1); err != nil {
		return err
	}
	for _, row := range rows {
		cells := make([]any, len(row))
		tallest := 1
		for i, c := range row {
			cell := excelize.Cell{StyleID: columns[i].style}
			w.b.put(&cell, &columns[i], c)
			if s, ok := cell.Value.(string); ok {
				tallest = max(tallest, lines(s, w.widths[i]-1))
			}
			cells[i] = cell
		}
		if err := w.put(cells, tallest, 1, -1); err != nil {
			return err
		}
	}
	return nil
}

// put writes a row of so many lines, and makes one cell of those from merge,
// from 0, to the last; of none if it is negative. Excel does not find the
// height of merged cells by itself.
func (w *summaryWriter) put(cells []any, lines int, size float64, merge int) error {
	w.row++
	first, err := excelize.CoordinatesToCellName(1, w.row)
	if err != nil {
		return err
	}
	height := min(float64(lines)*lineHeight*size+2, excelize.MaxRowHeight)
	if err := w.sw.SetRow(first, cells, excelize.RowOpts{Height: height}); err != nil {
		return err
	}
	if merge < 0 || merge+1 >= len(w.widths) {
		return nil
	}
	from, err := excelize.CoordinatesToCellName(merge+1, w.row)
	if err != nil {
		return err
	}
	to, err := excelize.CoordinatesToCellName(len(w.widths), w.row)
	if err != nil {
		return err
	}
	return w.sw.MergeCell(from, to)
}
