package xlsx

import (
	"bytes"
	"context"
	"fmt"
	"testing"
	"time"
	_ "time/tzdata"

	"lotbook/reports"
)

// An invented unit in a zone that turns its clocks back at 02:00 on
// 2026-11-01 (IANA time zone database: America/New_York, UTC-4 to UTC-5).
func newYork(t testing.TB) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func at(s string) time.Time {
	tm, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return tm
}

// dangerous texts begin what a spreadsheet may take for a formula, a command
// or a link, or hold what XML or a cell can't. Beginnings: OWASP, "CSV
// Injection"; the third is a HIBC primary with its secondary, whose "+" is
// part of the code (ANSI/HIBC 2.6).
var dangerous = []string{
	"=1+1", "=cmd|' /C calc'!A0", "+A99912345/$$52001510X3", "-2+3", "@SUM(1,1)",
	"\t=1+1", "\r=1+1", "'=1+1", "=HYPERLINK(\"http://example.invalid\",\"x\")",
	"\x1d10LOT", "A\x00B", "caf\xe9", "a\u202egnp.exe", "_x0041_", "_x005F_x0041_", " lead and trail ",
	"0012", "1E5", "12/11", "2026-11-25", "TRUE", "<b>&amp;\"'", "１２", "two\nlines", "#REF!",
}

func sample(t testing.TB) *reports.Workbook {
	uses := &reports.Table{
		Frozen: 1,
		Columns: []reports.Column{
			{Header: "Patient", Kind: reports.KindText},
			{Header: "Lot", Kind: reports.KindText},
			{Header: "Packs", Kind: reports.KindInteger},
			{Header: "Dialysate (L)", Kind: reports.KindDecimal, Places: 3},
			{Header: "Expires", Kind: reports.KindDate},
			{Header: "Used from", Kind: reports.KindInstant},
			{Header: "Recorded", Kind: reports.KindInstant, Seconds: true},
			{Header: "Length", Kind: reports.KindMinutes},
			{Header: "Replaced", Kind: reports.KindFlag},
			{Header: "Remark", Kind: reports.KindText, Wrap: true},
		},
		Rows: reports.RowsOf(
			[]reports.Cell{
				reports.Text("P-0001"), reports.Text("=1+1"), reports.Integer(2), reports.Decimal(172800, 3), reports.Date(2027, 3, 31),
				reports.Instant(at("2026-11-25T15:25:00Z")), reports.Instant(at("2026-11-25T15:25:07Z")), reports.Minutes(255), reports.Flag(true), reports.Text("first line\nsecond line"),
			},
			[]reports.Cell{
				reports.Text("P-0002"), reports.NotRecorded(), reports.Integer(-1234567), reports.Decimal(-5, 3), reports.DateText("2027-02-30"),
				reports.Instant(at("2026-11-01T05:30:00Z")), reports.Instant(at("2026-11-01T06:30:00Z")), reports.Minutes(-15), reports.Flag(false), reports.Blank(),
			},
			[]reports.Cell{
				reports.Text("P-0003"), reports.Text("00012"), reports.Integer(1_000_000_000_000_000), reports.NoneFound(), reports.Date(1899, 12, 31),
				reports.Instant(at("2026-11-25T23:59:59Z")), reports.Mark("unknown"), reports.Minutes(1500), reports.NotRecorded(), reports.Text("@x"),
			},
		),
	}
	texts := &reports.Table{Columns: []reports.Column{{Header: "=1+1", Kind: reports.KindText}, {Header: "+n", Kind: reports.KindInteger}}}
	var rows [][]reports.Cell
	for i, s := range dangerous {
		rows = append(rows, []reports.Cell{reports.Text(s), reports.Integer(int64(i))})
	}
	texts.Rows = reports.RowsOf(rows...)
	return &reports.Workbook{
		Title: "Which patients received lot 24A117", AskedBy: "R. Okafor & J. Lind", AskedAt: at("2026-11-25T15:24:48Z"), Zone: newYork(t),
		Caution: "This workbook shows what was recorded. It does not replace the instructions of a field notice, the prescription check or licensed practice.",
		Sheets: []reports.Sheet{
			{Name: "Summary", Summary: &reports.Summary{Sections: []reports.Section{
				{
					Title: "Answer", Text: []string{"=2+2 is the first paragraph.\nIt has two lines."},
					Facts: []reports.Fact{
						{Label: "Patients, confirmed", Value: reports.Integer(12), Note: "A pack of the lot was recorded in the treatment."},
						{Label: "Patients, cannot be excluded", Value: reports.NoneFound(), Note: "Nothing recorded, and the lot was on hand."},
						{Label: "Dialysate", Value: reports.Decimal(172800, 3), Places: 1},
						{Label: "Expires", Value: reports.Date(2027, 3, 31)},
						{Label: "Lot, as printed", Value: reports.Text("+A99912345/$$52001510X3")},
						{Label: "Held", Value: reports.Flag(true)},
						{Label: "Longest treatment", Value: reports.Minutes(255)},
						{Label: "Journal's head hash", Value: reports.Text("9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")},
					},
				},
				{Title: "Open", Caution: true, Text: []string{"Two treatments have no dialyzer recorded."}},
				{Title: "By station", Table: &reports.Table{
					Columns: []reports.Column{{Header: "Station", Kind: reports.KindText}, {Header: "Counted", Kind: reports.KindInteger}, {Header: "Recorded", Kind: reports.KindInteger}, {Header: "Since", Kind: reports.KindInstant}},
					Rows: reports.RowsOf(
						[]reports.Cell{reports.Text("S01"), reports.Integer(4), reports.Integer(3), reports.Instant(at("2026-11-24T11:00:00Z"))},
						[]reports.Cell{reports.Text("=S02"), reports.Integer(1024), reports.NotRecorded(), reports.Blank()},
					),
				}},
			}}},
			{Name: "Uses", Table: uses},
			{Name: "Texts: =1+1 'a' [b]", Table: texts},
			{Name: "Empty", Table: &reports.Table{Columns: []reports.Column{{Header: "Nothing", Kind: reports.KindText}}}},
		},
	}
}

func file(t testing.TB, wb *reports.Workbook) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(context.Background(), &buf, wb, Options{TempDir: t.TempDir(), Application: "lotbook"}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func fileWith(t testing.TB, wb *reports.Workbook, full limits) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := write(context.Background(), &buf, wb, Options{TempDir: t.TempDir()}, full); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// longStart is 2026-11-25 00:00:00 UTC.
const longStart = 1795564800

func longBook(rows int) *reports.Workbook {
	return &reports.Workbook{
		Title: "Long", AskedBy: "A", AskedAt: at("2026-11-25T15:24:48Z"),
		Sheets: []reports.Sheet{{Name: "Long", Table: &reports.Table{
			Columns: []reports.Column{
				{Header: "Lot", Kind: reports.KindText},
				{Header: "N", Kind: reports.KindInteger},
				{Header: "At", Kind: reports.KindInstant, Seconds: true},
				{Header: "On", Kind: reports.KindDate},
			},
			Rows: func(yield func([]reports.Cell, error) bool) {
				row := make([]reports.Cell, 4)
				for i := range rows {
					at := time.Unix(longStart+61*int64(i), 0).UTC()
					row[0], row[1], row[2], row[3] = reports.Text(fmt.Sprintf("=L%05d", i)), reports.Integer(int64(i%1000)), reports.Instant(at), reports.Date(at.Date())
					if !yield(row, nil) {
						return
					}
				}
			},
		}}},
	}
}
