package reports_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"lotbook/reports"
)

// TestVisible: the pictures of control characters are those of the Unicode
// Standard's block "Control Pictures", U+2400 to U+2421.
func TestVisible(t *testing.T) {
	cases := []struct{ in, out, lines string }{
		{"plain", "plain", "plain"},
		{"naïve 東京 😀", "naïve 東京 😀", "naïve 東京 😀"},
		{"10A\x1d17", "10A␝17", "10A␝17"},
		{"\x00\x1b\x7f", "␀␛␡", "␀␛␡"},
		{"a\tb", "a␉b", "a␉b"},
		{"a\nb", "a␊b", "a\nb"},
		{"a\r\nb", "a␍␊b", "a\nb"},
		{"a\rb\r", "a␍b␍", "a␍b␍"},
		{"caf\xe9", `caf\xE9`, `caf\xE9`},
		{"\xed\xa0\x80", `\xED\xA0\x80`, `\xED\xA0\x80`}, // a surrogate
		{"\u0085", `\u0085`, `\u0085`},
		{"lot\u202e321", `lot\u202E321`, `lot\u202E321`},
		{"a\u200bb\ufeff\uffff", `a\u200Bb\uFEFF\uFFFF`, `a\u200Bb\uFEFF\uFFFF`},
		{"\u2027\u2028\u2029\u202a\u202f", "\u2027" + `\u2028\u2029\u202A` + "\u202f", "\u2027" + `\u2028\u2029\u202A` + "\u202f"},
		{"\u2060\u2066\u206f\u2070", `\u2060\u2066\u206F` + "\u2070", `\u2060\u2066\u206F` + "\u2070"},
		{"\U000e0041", `\U000E0041`, `\U000E0041`},
		{"می\u200cخواهم", "می\u200cخواهم", "می\u200cخواهم"},
		{"\ufffd", "\ufffd", "\ufffd"},
	}
	for _, c := range cases {
		if got := reports.Visible(c.in, false); got != c.out {
			t.Errorf("%q: got %q, want %q", c.in, got, c.out)
		}
		if got := reports.Visible(c.in, true); got != c.lines {
			t.Errorf("%q with lines: got %q, want %q", c.in, got, c.lines)
		}
	}
}

// TestVisibleIsXML holds it against the standard library's XML decoder, which
// refuses what XML 1.0 doesn't allow as a character.
func TestVisibleIsXML(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(rt, "s")
		keep := rapid.Bool().Draw(rt, "keepLines")
		v := reports.Visible(s, keep)
		if !utf8.ValidString(v) || reports.Visible(v, keep) != v {
			rt.Fatalf("%q became %q", s, v)
		}
		doc := "<t>" + strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(v) + "</t>"
		dec := xml.NewDecoder(strings.NewReader(doc))
		var back strings.Builder
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				rt.Fatalf("%q: %v", v, err)
			}
			if c, ok := tok.(xml.CharData); ok {
				back.Write(c)
			}
		}
		if back.String() != v {
			rt.Fatalf("%q came back as %q", v, back.String())
		}
	})
}

// TestDecimal holds the digits against math/big.
func TestDecimal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.OneOf(rapid.Int64(), rapid.Int64Range(-2000, 2000), rapid.Just(int64(math.MinInt64))).Draw(rt, "n")
		places := rapid.Uint8Range(0, reports.MaxPlaces).Draw(rt, "places")
		got := string(reports.Decimal(n, places).AppendDecimal(nil))
		scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil)
		if want := new(big.Rat).SetFrac(big.NewInt(n), scale).FloatString(int(places)); got != want {
			rt.Fatalf("%d / 10^%d: got %s, want %s", n, places, got, want)
		}
	})
}

func TestCells(t *testing.T) {
	if reports.Text("") != reports.Blank() || reports.DateText("") != reports.Blank() || reports.Instant(time.Time{}) != reports.Blank() {
		t.Error("what is empty is not blank")
	}
	if reports.NotRecorded() == reports.NoneFound() || reports.NotRecorded() == reports.Blank() {
		t.Error("not recorded, none found and blank are alike")
	}
	if c := reports.DateText("2027-02-30"); c.Kind() != reports.KindText || c.Text() != "2027-02-30" {
		t.Errorf("a date that does not exist: %+v", c)
	}
	for _, s := range []string{"2027-03-31", "1969-12-31", "1600-02-29", "0001-01-01", "9999-12-31"} {
		c := reports.DateText(s)
		if got := c.Time().Format(time.DateOnly); c.Kind() != reports.KindDate || got != s {
			t.Errorf("%s came back as %v %s", s, c.Kind(), got)
		}
	}
	for _, s := range []string{"2026-11-25T15:24:48.000001Z", "1899-12-31T23:59:59Z", "9999-12-31T23:59:59.999999Z"} {
		at, err := time.Parse(time.RFC3339Nano, s)
		if err != nil {
			t.Fatal(err)
		}
		if got := reports.Instant(at).Time(); !got.Equal(at) {
			t.Errorf("%s came back as %s", s, got)
		}
	}
}

func TestCheck(t *testing.T) {
	text := reports.Column{Header: "A", Kind: reports.KindText}
	bad := []reports.Table{
		{},
		{Columns: []reports.Column{{Kind: reports.KindText}}},
		{Columns: []reports.Column{text, text}},
		{Columns: []reports.Column{{Header: "A"}}},
		{Columns: []reports.Column{{Header: "A", Kind: reports.KindMark}}},
		{Columns: []reports.Column{{Header: "A", Kind: reports.KindFlag + 1}}},
		{Columns: []reports.Column{{Header: "A", Kind: reports.KindDecimal, Places: reports.MaxPlaces + 1}}},
		{Columns: []reports.Column{text}, Frozen: 1},
		{Columns: []reports.Column{text}, Frozen: -1},
	}
	for i := range bad {
		if err := bad[i].Check(); !errors.Is(err, reports.ErrBadTable) {
			t.Errorf("table %d: %v", i, err)
		}
	}
	now := time.Unix(1, 0)
	ok := &reports.Table{Columns: []reports.Column{text}}
	for i, wb := range []reports.Workbook{
		{AskedAt: now},
		{Sheets: []reports.Sheet{{Table: ok}}},
		{AskedAt: now, Paper: reports.Letter + 1, Sheets: []reports.Sheet{{Table: ok}}},
		{AskedAt: now, Sheets: []reports.Sheet{{}}},
		{AskedAt: now, Sheets: []reports.Sheet{{Table: ok, Summary: &reports.Summary{}}}},
	} {
		if err := wb.Check(); !errors.Is(err, reports.ErrBadWorkbook) {
			t.Errorf("workbook %d: %v", i, err)
		}
	}
	small := reports.Workbook{AskedAt: now, Sheets: []reports.Sheet{{Summary: &reports.Summary{Sections: []reports.Section{{Table: &bad[0]}}}}}}
	if err := small.Check(); !errors.Is(err, reports.ErrBadTable) {
		t.Errorf("a bad table in a section: %v", err)
	}
}

func ExampleTable() {
	t := reports.Table{
		Columns: []reports.Column{
			{Header: "Lot", Kind: reports.KindText},
			{Header: "Dialysate (L)", Kind: reports.KindDecimal, Places: 1},
			{Header: "Expires", Kind: reports.KindDate},
		},
		Rows: reports.RowsOf(
			[]reports.Cell{reports.Text("24A117"), reports.Decimal(172800, 3), reports.DateText("2027-03-31")},
			[]reports.Cell{reports.NotRecorded(), reports.Decimal(120000, 3), reports.Blank()},
		),
	}
	if err := t.Check(); err != nil {
		fmt.Println(err)
		return
	}
	n := 0
	for row, err := range t.Rows {
		if err == nil {
			n++
			err = t.CheckRow(n, row)
		}
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(row[0].Text(), string(row[1].AppendDecimal(nil)), row[2].Kind())
	}
	// Output:
	// 24A117 172.800 date
	// not recorded 120.000 blank
}
