package intake

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"slices"
	"strings"

	"lotbook/inventory"
)

// A Column is one of a list's.
type Column struct {
	Name string
	// Required must be filled in in every row.
	Required bool
	// Label is set where a spreadsheet must not take the text for a number.
	Label bool
	// What says what goes into it, for whoever fills in a template.
	What string
	// Example is its cell in the row of a template that shows how.
	Example string
}

// A Form is what a list looks like.
type Form struct {
	Name    string // such as "receipts"
	Title   string // in words
	Columns []Column
	// Command takes a file of this form in; empty for lotbook import.
	Command string
}

// TakenBy is the command that takes a file of this form in.
func (f *Form) TakenBy() string {
	if f.Command != "" {
		return f.Command
	}
	return "lotbook import --data DIR " + f.Name + " FILE"
}

// Names returns the names of the columns.
func (f *Form) Names() []string {
	names := make([]string, len(f.Columns))
	for i, c := range f.Columns {
		names[i] = c.Name
	}
	return names
}

// A List reads the rows of a form.
type List[T any] struct {
	Form
	read func(*reader) T
	// label returns what no two rows of a file may have the same, and what
	// column it is in; empty for a row without one. It may be nil.
	label func(*T) (column, label, words string)
}

// A Row is a row of a list as it was read.
type Row[T any] struct {
	Line int
	// Key stands for the row and all above it.
	Key  inventory.RowKey
	Item T
	// Problems are why the row can't be taken; Item is then not whole.
	Problems []*Problem
}

// exampleMark begins the cells by which a template's example row is known.
const exampleMark = "EXAMPLE"

// Header says what is wrong with a table's header: it must have the required
// columns, and no others than the form's.
func (f *Form) Header(t *Table) []*Problem {
	var list []*Problem
	for name := range t.header {
		if !slices.ContainsFunc(f.Columns, func(c Column) bool { return c.Name == name }) {
			list = append(list, &Problem{File: t.File, Line: 1, Column: name, What: "there is no such column", Hint: "Use: " + strings.Join(f.Names(), ", ") + "."})
		}
	}
	var required []string
	for _, c := range f.Columns {
		if c.Required {
			required = append(required, c.Name)
		}
	}
	for _, name := range required {
		if _, ok := t.header[name]; !ok {
			list = append(list, &Problem{File: t.File, Line: 1, Column: name, What: "the column is missing", Hint: "It must be there: " + strings.Join(required, ", ") + "."})
		}
	}
	slices.SortFunc(list, func(a, b *Problem) int { return strings.Compare(a.Column, b.Column) })
	return list
}

// Each calls fn for the rows of a table whose header is right. The Row is fn's
// own. An error from fn ends it and is returned.
func (l *List[T]) Each(t *Table, fn func(*Row[T]) error) error {
	key := sha256.Sum256([]byte(l.Name + "\x00" + strings.Join(t.names, "\x00")))
	var buf []byte
	labels := map[string]int{}
	for row, err := range t.all() {
		if err != nil {
			return err
		}
		buf = append(buf[:0], key[:]...)
		for _, c := range row.cells {
			buf = binary.AppendUvarint(buf, uint64(len(c)))
			buf = append(buf, c...)
		}
		key = sha256.Sum256(buf)
		r := &reader{t: t, row: row}
		out := &Row[T]{Line: row.line, Key: inventory.RowKey(key[:16])}
		if c := l.example(r); c != "" {
			r.fail(c, "Delete the row, or write your own over all of it.", "this is the example row of the template")
		} else {
			for _, c := range l.Columns {
				if c.Required && r.text(c.Name) == "" {
					r.fail(c.Name, "Fill it in.", "it is empty")
				}
			}
			out.Item = l.read(r)
			l.checkLabel(r, &out.Item, labels)
		}
		out.Problems = r.problems
		if err := fn(out); err != nil {
			return err
		}
	}
	return nil
}

// checkLabel finds the rows that have a label which another row has.
func (l *List[T]) checkLabel(r *reader, item *T, seen map[string]int) {
	if l.label == nil {
		return
	}
	column, label, words := l.label(item)
	if label == "" {
		return
	}
	if line, ok := seen[label]; ok {
		r.fail(column, "Delete one of the two: no two packs have the same.", "this very label (%s) stands on line %d too", words, line)
		return
	}
	seen[label] = r.row.line
}

// example returns a column whose cell is that of a template's example row.
func (f *Form) example(r *reader) string {
	for _, c := range f.Columns {
		if strings.HasPrefix(c.Example, exampleMark) && r.text(c.Name) == c.Example {
			return c.Name
		}
	}
	return ""
}

// All returns the items of the rows without a problem, with the line that each
// came from.
func (l *List[T]) All(t *Table) (items []T, lines []int, problems []*Problem) {
	if problems = l.Header(t); len(problems) > 0 {
		return nil, nil, problems
	}
	err := l.Each(t, func(r *Row[T]) error {
		problems = append(problems, r.Problems...)
		if len(r.Problems) == 0 {
			items, lines = append(items, r.Item), append(lines, r.Line)
		}
		return nil
	})
	if p := (*Problem)(nil); errors.As(err, &p) {
		problems = append(problems, p)
	} else if err != nil {
		problems = append(problems, &Problem{File: t.File, What: err.Error(), Hint: "Try again; if it stays so, copy the file."})
	}
	return items, lines, problems
}

// columnOf maps a member that a book refused to the column it came from, where
// they are not called the same.
var columnOf = map[string]string{"location": "to", "product": "product", "packs": "each_gtin", "at": "received", "lead_time": "lead_days"}

// Refused turns what a book refused of a list's rows into Problems; lines are
// those that the rows came from. It returns nil for an error of another kind.
func Refused(t *Table, lines []int, err error) []*Problem {
	var list []*Problem
	add := func(line int, err error) {
		var r *inventory.Refusal
		if errors.As(err, &r) {
			column := r.Field
			if _, ok := t.header[column]; !ok {
				column = columnOf[column]
			}
			if _, ok := t.header[column]; !ok {
				column = ""
			}
			list = append(list, &Problem{t.File, line, column, r.Message, r.Hint})
		}
	}
	var joined interface{ Unwrap() []error }
	var one *inventory.LineError
	switch {
	case errors.As(err, &joined):
		for _, e := range joined.Unwrap() {
			if l := (*inventory.LineError)(nil); errors.As(e, &l) && l.Line < len(lines) {
				add(lines[l.Line], l.Err)
			}
		}
	case errors.As(err, &one) && one.Line < len(lines):
		add(lines[one.Line], one.Err)
	case len(lines) > 0:
		add(lines[0], err)
	}
	return list
}
