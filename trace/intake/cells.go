package intake

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"lotbook/inventory"
)

// A reader takes a row's cells and gathers what is wrong with them.
type reader struct {
	t        *Table
	row      row
	problems []*Problem
}

func (r *reader) fail(column, hint, format string, args ...any) {
	r.problems = append(r.problems, &Problem{r.t.File, r.row.line, column, fmt.Sprintf(format, args...), hint})
}

// refused keeps why the domain has something against a row.
func (r *reader) refused(err error) {
	if ref := (*inventory.Refusal)(nil); errors.As(err, &ref) {
		column := ref.Field
		if _, ok := r.t.header[column]; !ok {
			column = ""
		}
		r.fail(column, ref.Hint, "%s", ref.Message)
	}
}

func (r *reader) text(column string) string {
	i, ok := r.t.header[column]
	if !ok || i >= len(r.row.cells) {
		return ""
	}
	return r.row.cells[i]
}

// label reads a text that a spreadsheet must not have taken for a number: a lot
// number of 00123 is none of 123.
func (r *reader) label(column string) string {
	s := r.text(column)
	if i, ok := r.t.header[column]; ok && s != "" && i < len(r.row.numeric) && r.row.numeric[i] {
		r.fail(column, "Make the column text and type it again as printed: a spreadsheet drops zeros in front and rounds.", "%q is a number in this workbook", s)
	}
	return s
}

// number reads a whole number, 0 if the cell is empty.
func (r *reader) number(column string) int64 {
	s := r.text(column)
	if s == "" {
		return 0
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 {
		r.fail(column, "Give a whole number, 0 or more.", "%q is not a whole number", s)
		return 0
	}
	return n
}

// thousandths reads a decimal with up to three places, point or comma.
func (r *reader) thousandths(column string) (n int64, given bool) {
	s := r.text(column)
	if s == "" {
		return 0, false
	}
	whole, frac, _ := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	for len(frac) > 3 && strings.HasSuffix(frac, "0") {
		frac = frac[:len(frac)-1]
	}
	n, err := strconv.ParseInt(whole+(frac + "000")[:max(3, len(frac))], 10, 64)
	if err != nil || n < 0 || len(frac) > 3 {
		r.fail(column, "Give a number such as 1.25, at most three places.", "%q is not such a number", s)
		return 0, false
	}
	return n, true
}

// date reads 2027-03-31, or Excel's own date.
func (r *reader) date(column string) inventory.Date {
	s := r.text(column)
	if s == "" {
		return ""
	}
	if r.t.excel {
		if serial, err := strconv.ParseFloat(s, 64); err == nil {
			if at, err := excelize.ExcelDateToTime(serial, false); err == nil {
				return inventory.Date(at.Format("2006-01-02"))
			}
		}
	}
	d, err := inventory.ParseDate(s)
	if err != nil {
		r.fail(column, "Give dates as 2027-03-31.", "%v", err)
	}
	return d
}

// instant reads 2027-03-31T09:30:00Z, 2027-03-31 09:30 or 2027-03-31 in the
// table's zone, or Excel's own; a day alone is its start. Empty is the zero time.
func (r *reader) instant(column string) time.Time {
	s := r.text(column)
	if s == "" {
		return time.Time{}
	}
	zone := r.t.Zone
	if zone == nil {
		zone = time.UTC
	}
	if i := r.t.header[column]; i < len(r.row.numeric) && r.row.numeric[i] {
		if serial, err := strconv.ParseFloat(s, 64); err == nil {
			if at, err := excelize.ExcelDateToTime(serial, false); err == nil {
				return time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), at.Second(), 0, zone).UTC()
			}
		}
	}
	for _, layout := range []string{time.RFC3339Nano, "2006-01-02 15:04:05", "2006-01-02 15:04", time.DateOnly} {
		if at, err := time.ParseInLocation(layout, s, zone); err == nil && at.Year() >= 1970 && at.Year() <= 2200 {
			return at.UTC()
		}
	}
	r.fail(column, "Give times as 2027-03-31 09:30, or as 2027-03-31T09:30:00Z.", "%q is no time", s)
	return time.Time{}
}

// flag reads yes or no; empty is no.
func (r *reader) flag(column string) bool {
	switch strings.ToLower(r.text(column)) {
	case "yes", "true", "1", "x":
		return true
	case "", "no", "false", "0":
		return false
	}
	r.fail(column, "Say yes or no.", "%q is neither yes nor no", r.text(column))
	return false
}

// gtin reads a GTIN of 8, 12, 13 or 14 digits as 14. A spreadsheet may have
// taken it for a number and dropped zeros in front.
func (r *reader) gtin(column string) string {
	s := strings.ReplaceAll(r.text(column), " ", "")
	if s == "" {
		return ""
	}
	if len(s) < 14 && r.t.excel {
		if f, err := strconv.ParseFloat(s, 64); err == nil && f == float64(int64(f)) {
			s = strconv.FormatInt(int64(f), 10)
		}
	}
	if len(s) < 14 {
		s = strings.Repeat("0", 14-len(s)) + s
	}
	if !inventory.ValidGTIN14(s) {
		r.fail(column, "Copy it from the pack again; keep the column as text.", "%q is not a GTIN: 8, 12, 13 or 14 digits with a right check digit", r.text(column))
	}
	return s
}
