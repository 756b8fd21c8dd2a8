package intake

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// Bounds of a file.
const (
	MaxBytes = 64 << 20
	MaxRows  = 50_000
)

// A Problem is why a row, or a file, can't be taken.
type Problem struct {
	File string
	// Line counts from 1, the header included, as an editor or a
	// spreadsheet shows it; 0 for the file as a whole.
	Line   int
	Column string // the column's name, "" for the row as a whole
	What   string
	Hint   string
}

// Error implements the error interface: "products.csv, line 3, column id: …".
func (p *Problem) Error() string {
	s := p.File
	if p.Line > 0 {
		s += fmt.Sprintf(", line %d", p.Line)
	}
	if p.Column != "" {
		s += ", column " + p.Column
	}
	return s + ": " + p.What
}

// A Table is a file's rows below its header.
type Table struct {
	File   string
	header map[string]int
	rows   []row
	excel  bool
}

type row struct {
	line  int
	cells []string
	// numeric tells, of an Excel file, which cells hold a number or a date.
	numeric []bool
}

// Len returns the number of rows.
func (t *Table) Len() int { return len(t.rows) }

// Open reads a whole file. Excel files are known by their content.
func Open(r io.Reader, file string) (*Table, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > MaxBytes {
		return nil, &Problem{File: file, What: fmt.Sprintf("more than %d MB", MaxBytes>>20), Hint: "Split it."}
	}
	t := &Table{File: file}
	if bytes.HasPrefix(data, []byte("PK\x03\x04")) {
		err = t.readExcel(data)
	} else {
		err = t.readCSV(data)
	}
	if err != nil {
		return nil, err
	}
	if len(t.rows) > MaxRows {
		return nil, &Problem{File: file, What: fmt.Sprintf("more than %d rows", MaxRows), Hint: "Split it: each part is recorded whole or not at all."}
	}
	return t, nil
}

func (t *Table) readCSV(data []byte) error {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(data) {
		return &Problem{File: t.File, What: "not text in UTF-8", Hint: "Save it as CSV UTF-8, or as an Excel workbook."}
	}
	r := csv.NewReader(bufio.NewReader(bytes.NewReader(data)))
	r.FieldsPerRecord = -1
	head, _, _ := bytes.Cut(data, []byte("\n"))
	if bytes.Count(head, []byte(";")) > bytes.Count(head, []byte(",")) {
		r.Comma = ';'
	}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if pe := (*csv.ParseError)(nil); errors.As(err, &pe) {
			return &Problem{File: t.File, Line: pe.Line, What: pe.Err.Error(), Hint: "Put text that holds quotes or separators into double quotes."}
		} else if err != nil {
			return err
		}
		line, _ := r.FieldPos(0)
		if err := t.add(line, cells); err != nil {
			return err
		}
	}
	return t.needHeader()
}

func (t *Table) readExcel(data []byte) error {
	t.excel = true
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: 512 << 20})
	if err != nil {
		return &Problem{File: t.File, What: "not an Excel workbook that can be read: " + err.Error(), Hint: "Save it again as .xlsx or as CSV UTF-8."}
	}
	defer f.Close()
	rows, err := f.Rows(f.GetSheetName(0))
	if err != nil {
		return &Problem{File: t.File, What: err.Error(), Hint: "Put the list on the first sheet."}
	}
	defer rows.Close()
	for line := 1; rows.Next(); line++ {
		cells, err := rows.Columns()
		if err != nil {
			return &Problem{File: t.File, Line: line, What: err.Error(), Hint: "Save it again as .xlsx or as CSV UTF-8."}
		}
		n := len(t.rows)
		if err := t.add(line, cells); err != nil {
			return err
		}
		if len(t.rows) > n {
			t.rows[n].numeric = numericCells(f, line, len(cells))
		}
		if line > MaxRows+1 {
			break
		}
	}
	if err := rows.Error(); err != nil {
		return &Problem{File: t.File, What: err.Error(), Hint: "Save it again as .xlsx or as CSV UTF-8."}
	}
	return t.needHeader()
}

// numericCells reports which cells of a row hold numbers.
func numericCells(f *excelize.File, line, n int) []bool {
	list := make([]bool, n)
	for i := range list {
		name, err := excelize.CoordinatesToCellName(i+1, line)
		if err != nil {
			continue
		}
		kind, err := f.GetCellType(f.GetSheetName(0), name)
		list[i] = err == nil && (kind == excelize.CellTypeNumber || kind == excelize.CellTypeUnset || kind == excelize.CellTypeDate)
	}
	return list
}

// add takes a row: the first that is not empty is the header.
func (t *Table) add(line int, cells []string) error {
	empty := true
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
		empty = empty && cells[i] == ""
	}
	switch {
	case empty:
	case t.header == nil:
		t.header = map[string]int{}
		for i, name := range cells {
			name = columnName(name)
			if name == "" {
				continue
			}
			if _, dup := t.header[name]; dup {
				return &Problem{File: t.File, Line: line, Column: name, What: "two columns have this name", Hint: "Name each column once."}
			}
			t.header[name] = i
		}
	default:
		t.rows = append(t.rows, row{line: line, cells: cells})
	}
	return nil
}

func columnName(s string) string {
	return strings.ReplaceAll(strings.ToLower(strings.TrimSpace(s)), " ", "_")
}

func (t *Table) needHeader() error {
	if t.header == nil {
		return &Problem{File: t.File, What: "it is empty", Hint: "The first row names the columns."}
	}
	return nil
}
