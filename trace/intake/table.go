package intake

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// Bounds of a file: a sheet has no more rows than that (ECMA-376, 18.3.1.73).
const (
	MaxBytes = 1 << 30
	MaxRows  = 1_048_575
)

// maxMemory bounds a file that can be read only once, and so is held whole.
const maxMemory = 64 << 20

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

// A Table is a file's rows below its header. It holds none of them: they are
// read anew each time that they are gone through.
type Table struct {
	File string
	// Zone is what times without one are in; nil means UTC.
	Zone *time.Location

	header map[string]int
	names  []string // of the header, by place
	excel  bool
	rows   int
	start  func() (source, error)
}

// A source hands out the rows of a file, those of the header and empty ones
// too, and io.EOF after the last. An error is a *Problem, or one of reading.
type source interface {
	next() (row, error)
	io.Closer
}

type row struct {
	line  int
	cells []string
	// numeric tells, of an Excel file, which cells hold a number or a date.
	numeric []bool
}

// Len returns the number of rows.
func (t *Table) Len() int { return t.rows }

// Open goes through a file once and says whether it can be read. Excel files are
// known by their content. r is read again later if it is an io.ReaderAt that
// knows its end, as a file is; anything else is held whole.
func Open(r io.Reader, file string) (*Table, error) {
	at, size, err := seekable(r, file)
	if err != nil {
		return nil, err
	}
	if size > MaxBytes {
		return nil, &Problem{File: file, What: fmt.Sprintf("more than %d MB", MaxBytes>>20), Hint: "Split it."}
	}
	t := &Table{File: file}
	var magic [4]byte
	if n, _ := at.ReadAt(magic[:], 0); n == 4 && string(magic[:]) == "PK\x03\x04" {
		t.excel = true
		t.start = func() (source, error) { return openSheet(at, size, file) }
	} else {
		t.start = func() (source, error) { return openCSV(at, size, file) }
	}
	for _, err := range t.all() {
		if err != nil {
			return nil, err
		}
		if t.rows++; t.rows > MaxRows {
			return nil, &Problem{File: file, What: fmt.Sprintf("more than %d rows", MaxRows), Hint: "Split it."}
		}
	}
	if t.header == nil {
		return nil, &Problem{File: file, What: "it is empty", Hint: "The first row names the columns."}
	}
	return t, nil
}

// seekable returns something that can be read again.
func seekable(r io.Reader, file string) (io.ReaderAt, int64, error) {
	if at, ok := r.(interface {
		io.ReaderAt
		io.Seeker
	}); ok {
		if size, err := at.Seek(0, io.SeekEnd); err == nil {
			return at, size, nil
		}
	}
	data, err := io.ReadAll(io.LimitReader(r, maxMemory+1))
	if err != nil {
		return nil, 0, err
	}
	if len(data) > maxMemory {
		return nil, 0, &Problem{File: file, What: fmt.Sprintf("more than %d MB, and no file that can be read again", maxMemory>>20), Hint: "Save it as a file, or split it."}
	}
	s := strings.NewReader(string(data))
	return s, s.Size(), nil
}

// all goes through the rows below the header; a row's slices are valid until the
// next. The first time it takes the header.
func (t *Table) all() func(yield func(row, error) bool) {
	return func(yield func(row, error) bool) {
		s, err := t.start()
		if err != nil {
			yield(row{}, err)
			return
		}
		defer s.Close()
		headed := false
		for {
			r, err := s.next()
			if errors.Is(err, io.EOF) {
				return
			}
			if err == nil {
				err = t.clean(&r)
			}
			if err != nil {
				yield(row{}, err)
				return
			}
			if r.cells == nil {
				continue
			}
			if !headed {
				headed = true
				if t.header == nil {
					if err := t.setHeader(r); err != nil {
						yield(row{}, err)
						return
					}
				}
				continue
			}
			if !yield(r, nil) {
				return
			}
		}
	}
}

// clean trims a row's cells; an empty row has none.
func (t *Table) clean(r *row) error {
	empty := true
	for i, c := range r.cells {
		if !utf8.ValidString(c) {
			return &Problem{File: t.File, Line: r.line, Column: t.columnAt(i), What: "not text in UTF-8", Hint: "Save it as CSV UTF-8, or as an Excel workbook."}
		}
		c = strings.TrimSpace(c)
		if !t.excel {
			c = unguard(c)
		}
		r.cells[i] = c
		empty = empty && c == ""
	}
	if empty {
		r.cells = nil
	}
	return nil
}

func (t *Table) columnAt(i int) string {
	if i < len(t.names) {
		return t.names[i]
	}
	return ""
}

// guarded are what the lists that lotbook writes have an apostrophe before, so
// that no spreadsheet takes a text for a formula: see the report's CSV writer.
var guarded = [...]string{"=", "+", "-", "@", "＝", "＋", "－", "＠", "'"}

// unguard takes that apostrophe away.
func unguard(s string) string {
	if rest, ok := strings.CutPrefix(s, "'"); ok {
		for _, g := range guarded {
			if strings.HasPrefix(rest, g) {
				return rest
			}
		}
	}
	return s
}

// setHeader takes the names of the columns.
func (t *Table) setHeader(r row) error {
	t.header = map[string]int{}
	for i, name := range r.cells {
		name = columnName(name)
		t.names = append(t.names, name)
		if name == "" {
			continue
		}
		if _, dup := t.header[name]; dup {
			return &Problem{File: t.File, Line: r.line, Column: name, What: "two columns have this name", Hint: "Name each column once."}
		}
		t.header[name] = i
	}
	return nil
}

func columnName(s string) string {
	return strings.ReplaceAll(strings.ToLower(strings.TrimSpace(s)), " ", "_")
}
