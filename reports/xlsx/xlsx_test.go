package xlsx

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
	"lotbook/trace/intake"
)

func oneTable(rows reports.Rows, cols ...reports.Column) *reports.Workbook {
	return &reports.Workbook{
		Title: "T", AskedBy: "A", AskedAt: at("2026-11-25T15:24:48Z"), Caution: "C",
		Sheets: []reports.Sheet{{Name: "Rows", Table: &reports.Table{Columns: cols, Rows: rows}}},
	}
}

// TestNoFormula puts dangerous text wherever text can go. The properties and
// the heads and feet of pages take part: nothing in the file is a formula, and
// each text stands where it was put, as a string cell formatted as text.
func TestNoFormula(t *testing.T) {
	kinds := []reports.Kind{
		reports.KindText, reports.KindInteger, reports.KindDecimal, reports.KindDate,
		reports.KindInstant, reports.KindMinutes, reports.KindFlag,
	}
	for _, bad := range dangerous {
		var cols []reports.Column
		var texts, marks []reports.Cell
		for _, k := range kinds {
			cols = append(cols, reports.Column{Header: bad + k.String(), Kind: k})
			texts = append(texts, reports.Text(bad))
			marks = append(marks, reports.Mark(bad))
		}
		cols = append(cols, reports.Column{Header: "wrap" + bad, Kind: reports.KindText, Wrap: true})
		texts, marks = append(texts, reports.Text(bad)), append(marks, reports.Mark(bad))
		wb := oneTable(reports.RowsOf(texts, marks), cols...)
		wb.Title, wb.AskedBy, wb.Caution = bad, bad, bad
		wb.Sheets[0].Name = bad
		wb.Sheets = append(wb.Sheets, reports.Sheet{Name: bad, Summary: &reports.Summary{Sections: []reports.Section{{
			Title: bad, Text: []string{bad},
			Facts: []reports.Fact{{Label: bad, Value: reports.Text(bad), Note: bad}, {Label: bad, Value: reports.Mark(bad)}},
			Table: &reports.Table{Columns: []reports.Column{{Header: bad, Kind: reports.KindText}}, Rows: reports.RowsOf([]reports.Cell{reports.Text(bad)})},
		}}}})
		book := readWorkbook(t, file(t, wb))
		for _, s := range book.Sheets {
			if strings.Contains(s.XML, "<f>") || strings.Contains(s.XML, "<f ") || strings.Contains(s.XML, "hyperlink") {
				t.Errorf("%q: the sheet's XML holds a formula or a link", bad)
			}
			for _, row := range s.Rows {
				for _, c := range row {
					if c.Formula || c.Type == "inlineStr" && c.Format != "@" {
						t.Errorf("%q: cell %+v", bad, c)
					}
				}
			}
		}
		table := book.Sheets[0]
		want, wantLines := reports.Visible(bad, false), reports.Visible(bad, true)
		for i := range cols {
			for _, row := range []int{1, 2} {
				w := want
				if row == 1 && cols[i].Wrap {
					w = wantLines
				}
				if c := table.Rows[row][i]; c.Type != "inlineStr" || c.Value != w {
					t.Errorf("%q in a column of %v: %+v", bad, cols[i].Kind, c)
				}
			}
		}
		if n := strings.Count(book.dump(), strconv.Quote(want)); n < 2*len(kinds)+5 {
			t.Errorf("%q: found %d times", bad, n)
		}
	}
}

// TestRepeatedHour: on 2026-11-01 New York's clocks go from 01:59 back to
// 01:00 (IANA time zone database). Both 01:30 have the same serial, and must
// not look alike; 00:59 and 02:00 come once.
func TestRepeatedHour(t *testing.T) {
	cases := []struct{ utc, serial, offset string }{
		{"2026-11-01T04:59:59Z", "46327.0416550926", ""},
		{"2026-11-01T05:00:00Z", "46327.0416666667", "-04:00"},
		{"2026-11-01T05:30:00Z", "46327.0625", "-04:00"},
		{"2026-11-01T05:59:59Z", "46327.0833217593", "-04:00"},
		{"2026-11-01T06:00:00Z", "46327.0416666667", "-05:00"},
		{"2026-11-01T06:30:00Z", "46327.0625", "-05:00"},
		{"2026-11-01T06:59:59Z", "46327.0833217593", "-05:00"},
		{"2026-11-01T07:00:00Z", "46327.0833333334", ""},
		{"2026-03-08T07:00:00Z", "46089.125", ""}, // forward: an hour is left out
	}
	var rows [][]reports.Cell
	for _, c := range cases {
		rows = append(rows, []reports.Cell{reports.Instant(at(c.utc))})
	}
	wb := oneTable(reports.RowsOf(rows...), reports.Column{Header: "At", Kind: reports.KindInstant})
	wb.Zone = newYork(t)
	book := readWorkbook(t, file(t, wb))
	for i, c := range cases {
		got, format := book.Sheets[0].Rows[i+1][0], "yyyy-mm-dd hh:mm"
		if c.offset != "" {
			format += ` "` + c.offset + `"`
		}
		if got.Value != c.serial || got.Format != format || got.Type != "" {
			t.Errorf("%s: got %+v, want %s as %s", c.utc, got, c.serial, format)
		}
	}
}

// TestSerials: serial numbers of the 1900 date system. 1900-03-01 = 61 and
// 9999-12-31 = 2958465 follow from ECMA-376-1:2016, 18.17.4.1; 2008-01-01 =
// 39448 is the example of Microsoft's documentation of DATE and DATEVALUE
// (from memory).
func TestSerials(t *testing.T) {
	cases := []struct {
		cell reports.Cell
		want string
	}{
		{reports.Date(2008, 1, 1), "39448"},
		{reports.Date(1900, 3, 1), "61"},
		{reports.Date(9999, 12, 31), "2958465"},
		{reports.Date(1900, 2, 28), "text 1900-02-28"},
		{reports.Date(10000, 1, 1), "text 10000-01-01"},
		{reports.DateText("2027-03-31"), "46477"},
		{reports.DateText("2027-02-29"), "text 2027-02-29"},
	}
	var rows [][]reports.Cell
	for _, c := range cases {
		rows = append(rows, []reports.Cell{c.cell})
	}
	book := readWorkbook(t, file(t, oneTable(reports.RowsOf(rows...), reports.Column{Header: "On", Kind: reports.KindDate})))
	for i, c := range cases {
		got := book.Sheets[0].Rows[i+1][0]
		v := got.Value
		if got.Type == "inlineStr" {
			v = "text " + v
		}
		if v != c.want {
			t.Errorf("got %+v, want %s", got, c.want)
		}
	}
}

// TestSecondsSurvive: every second of a day, read back by taking the digits in
// the file down to whole seconds, is the second that was written, near and far.
func TestSecondsSurvive(t *testing.T) {
	for _, serial := range []int64{0, firstSerial, 46351, 99_999, 100_000, lastSerial} {
		for secs := range int64(secondsPerDay) {
			v := dayFraction(serial, secs)
			digits := strconv.FormatFloat(v, 'f', -1, 64)
			if n := len(strings.TrimLeft(strings.Replace(digits, ".", "", 1), "0")); n > 15 {
				t.Fatalf("%d + %d s: %s has %d digits, more than a cell keeps", serial, secs, digits, n)
			}
			whole, fraction, _ := strings.Cut(digits, ".")
			n, err := strconv.ParseInt("0"+fraction, 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			scale := int64(1)
			for range fraction {
				scale *= 10
			}
			if got := n * secondsPerDay / scale; got != secs || whole != strconv.FormatInt(serial, 10) {
				t.Fatalf("%d + %d s: %s reads as %d s", serial, secs, digits, got)
			}
		}
	}
}

// TestManyRows lets sheets be full early: rows go on on further sheets, with
// heads, filters and names of their own, and no row is lost or twice there.
func TestManyRows(t *testing.T) {
	const rows, perSheet = 1003, 250
	wb := oneTable(func(yield func([]reports.Cell, error) bool) {
		row := make([]reports.Cell, 2)
		for i := range int64(rows) {
			row[0], row[1] = reports.Text("L"+strconv.FormatInt(i, 10)), reports.Integer(i)
			if !yield(row, nil) {
				return
			}
		}
	}, reports.Column{Header: "Lot", Kind: reports.KindText}, reports.Column{Header: "N", Kind: reports.KindInteger})
	wb.Sheets = append(wb.Sheets, reports.Sheet{Name: "ROWS (2)", Table: &reports.Table{Columns: []reports.Column{{Header: "X", Kind: reports.KindText}}}})
	for _, full := range []limits{{rows: perSheet, bytes: maxSheetBytes}, {rows: MaxRows, bytes: 40_000}} {
		var buf bytes.Buffer
		if err := write(t.Context(), &buf, wb, Options{TempDir: t.TempDir()}, full); err != nil {
			t.Fatal(err)
		}
		book := readWorkbook(t, buf.Bytes())
		next := 0
		for i, s := range book.Sheets[:len(book.Sheets)-1] {
			if want := fmt.Sprintf("Rows (%d)", i+1); s.Name != want && (i > 0 || s.Name != "Rows") {
				t.Errorf("sheet %d is %q", i+1, s.Name)
			}
			if s.Freeze != "A2" || s.Filter != fmt.Sprintf("$A$1:$B$%d", len(s.Rows)) || s.at("B1").Value != "N" {
				t.Errorf("%q: freeze %s, filter %s for %d rows, %+v", s.Name, s.Freeze, s.Filter, len(s.Rows), s.at("B1"))
			}
			if got, want := book.Names[strconv.Itoa(i)+":_xlnm.Print_Titles"], "'"+s.Name+"'!$1:$1"; got != want {
				t.Errorf("%q repeats %q, want %q", s.Name, got, want)
			}
			for _, row := range s.Rows[1:] {
				if row[1].Value != strconv.Itoa(next) || row[0].Value != "L"+row[1].Value {
					t.Fatalf("%q: row %+v where %d should be", s.Name, row, next)
				}
				next++
			}
			if full.rows == perSheet && i < rows/perSheet && len(s.Rows) != perSheet+1 {
				t.Errorf("%q has %d rows", s.Name, len(s.Rows))
			}
		}
		if next != rows || len(book.Sheets) < 4 {
			t.Errorf("%d rows on %d sheets", next, len(book.Sheets)-1)
		}
		if last := book.Sheets[len(book.Sheets)-1].Name; !strings.HasPrefix(last, "ROWS (2)") {
			t.Errorf("the next sheet is %q", last)
		}
	}
}

// TestLongText: a cell holds 32,767 characters, counted in UTF-16 units.
func TestLongText(t *testing.T) {
	cases := map[string]bool{
		strings.Repeat("a", MaxText):         false,
		strings.Repeat("a", MaxText+1):       true,
		strings.Repeat("é", MaxText):         false,
		strings.Repeat("😀", MaxText/2):       false,
		strings.Repeat("😀", MaxText/2+1):     true,
		"b" + strings.Repeat("😀", MaxText/2): false,
		strings.Repeat("_x0041_", MaxText/7): false,
		strings.Repeat("\x1d", MaxText):      false,
		strings.Repeat("&", MaxText+5):       true,
	}
	for text, cut := range cases {
		book := readWorkbook(t, file(t, oneTable(reports.RowsOf([]reports.Cell{reports.Text(text)}), reports.Column{Header: "H", Kind: reports.KindText})))
		got, whole := book.Sheets[0].Rows[1][0].Value, reports.Visible(text, false)
		if n := len(utf16.Encode([]rune(got))); n > MaxText {
			t.Errorf("%.8q…: %d UTF-16 units", text, n)
		}
		start, marked := strings.CutSuffix(got, cutMark)
		if marked != cut || !strings.HasPrefix(whole, start) || !cut && got != whole {
			t.Errorf("%.8q…: cut %v, want %v", text, marked, cut)
		}
		if n := len(utf16.Encode([]rune(got))); cut && n < MaxText-1 {
			t.Errorf("%.8q…: cut to %d, shorter than it had to be", text, n)
		}
	}
}

func TestNames(t *testing.T) {
	n := newNames()
	cases := []struct{ want, got string }{
		{"Uses", "Uses"},
		{"uses", "uses (2)"},
		{"USES", "USES (3)"},
		{"a/b\\c:d*e?f[g]", "a-b-c-d-e-f-g-"},
		{"'quoted'", "’quoted’"},
		{"", "Sheet"},
		{"  ", "Sheet (2)"},
		{"History", "History (2)"},
		{"x\x1dy", "x␝y"},
		{strings.Repeat("n", 40), strings.Repeat("n", 31)},
		{strings.Repeat("n", 40), strings.Repeat("n", 27) + " (2)"},
		{strings.Repeat("😀", 20), strings.Repeat("😀", 15)},
	}
	for _, c := range cases {
		if got := n.take(c.want); got != c.got {
			t.Errorf("%q: got %q, want %q", c.want, got, c.got)
		}
	}
}

func TestErrors(t *testing.T) {
	boom := errors.New("boom")
	text := reports.Column{Header: "H", Kind: reports.KindText}
	number := reports.Column{Header: "N", Kind: reports.KindInteger}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	cases := []struct {
		name string
		ctx  context.Context
		wb   *reports.Workbook
		want error
	}{
		{"no sheets", t.Context(), &reports.Workbook{AskedAt: time.Unix(1, 0)}, reports.ErrBadWorkbook},
		{"no columns", t.Context(), oneTable(nil), reports.ErrBadTable},
		{"same header", t.Context(), oneTable(nil, text, text), reports.ErrBadTable},
		{"short row", t.Context(), oneTable(reports.RowsOf([]reports.Cell{}), text), reports.ErrBadRow},
		{"wrong kind", t.Context(), oneTable(reports.RowsOf([]reports.Cell{reports.Flag(true)}), number), reports.ErrBadRow},
		{"from the rows", t.Context(), oneTable(func(yield func([]reports.Cell, error) bool) {
			_ = yield([]reports.Cell{reports.Text("a")}, nil) && yield(nil, boom)
		}, text), boom},
		{"cancelled", cancelled, oneTable(reports.RowsOf([]reports.Cell{reports.Text("a")}), text), context.Canceled},
	}
	for _, c := range cases {
		var buf bytes.Buffer
		dir := t.TempDir()
		err := Write(c.ctx, &buf, c.wb, Options{TempDir: dir})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, err, c.want)
		}
		if buf.Len() > 0 {
			t.Errorf("%s: %d bytes were written before the error", c.name, buf.Len())
		}
		wantEmpty(t, dir)
	}
	if err := Write(t.Context(), &bytes.Buffer{}, oneTable(nil, text), Options{}); !errors.Is(err, ErrNoTempDir) {
		t.Errorf("no folder: %v", err)
	}
	var row *reports.RowError
	err := Write(t.Context(), &bytes.Buffer{}, oneTable(reports.RowsOf([]reports.Cell{reports.Integer(1)}, []reports.Cell{reports.Flag(true)}), number), Options{TempDir: t.TempDir()})
	if !errors.As(err, &row) || row.Row != 2 || row.Column != "N" {
		t.Errorf("row and column: %v", err)
	}
	if err := Write(t.Context(), failing{boom}, oneTable(nil, text), Options{TempDir: t.TempDir()}); !errors.Is(err, boom) {
		t.Errorf("an error of the writer: %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func wantEmpty(t *testing.T, dir string) {
	t.Helper()
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	if len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// Columns that people type numbers such as GTINs and lots into have the number
// format "@" down to the last row (ECMA-376-1:2016, 18.3.1.13: a column's style is
// that of cells that are not there), so that no program drops zeros in front;
// others don't. Read by excelize, and as the file has it.
func TestTemplatesKeepZeros(t *testing.T) {
	for _, form := range intake.Forms() {
		var b bytes.Buffer
		if err := Write(t.Context(), &b, reports.Template(form, time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)), Options{TempDir: t.TempDir()}); err != nil {
			t.Fatal(err)
		}
		f, err := excelize.OpenReader(&b)
		if err != nil {
			t.Fatal(err)
		}
		labels := 0
		for i, c := range form.Columns {
			name, err := excelize.ColumnNumberToName(i + 1)
			if err != nil {
				t.Fatal(err)
			}
			id, err := f.GetColStyle(f.GetSheetName(0), name)
			if err != nil {
				t.Fatal(err)
			}
			style, err := f.GetStyle(id)
			if err != nil {
				t.Fatal(err)
			}
			text := style.NumFmt == 49 || (style.CustomNumFmt != nil && *style.CustomNumFmt == "@")
			if text != c.Label {
				t.Errorf("%s, column %s: text %v, label %v", form.Name, c.Name, text, c.Label)
			}
			if c.Label {
				labels++
			}
		}
		if labels == 0 {
			t.Errorf("%s has no label", form.Name)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
}
