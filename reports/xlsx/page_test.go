package xlsx

import (
	"strings"
	"testing"

	"lotbook/reports"
)

// TestHeadersAndFooters: the code of a header or footer has at most 255
// characters (Excel's limits and specifications, "Characters in a header or
// footer"), its ampersands are doubled, and a cut never leaves half of one.
func TestHeadersAndFooters(t *testing.T) {
	text := reports.Column{Header: "H", Kind: reports.KindText}
	for n := range 300 {
		wb := oneTable(nil, text)
		wb.Title = strings.Repeat("&", n)
		wb.AskedBy = strings.Repeat("A & B ", n/6)
		wb.Caution = strings.Repeat("a& b ", n/5)
		s := readWorkbook(t, file(t, wb)).Sheets[0]
		for _, code := range []string{s.Header, s.Footer} {
			if utf16Len(code) > 255 {
				t.Fatalf("%d: %d characters: %q", n, utf16Len(code), code)
			}
			rest := strings.ReplaceAll(code, "&&", "")
			for _, known := range []string{"&L", "&R", "&8", "&P", "&N"} {
				rest = strings.ReplaceAll(rest, known, "")
			}
			if strings.Contains(rest, "&") {
				t.Fatalf("%d: a code that is none: %q", n, code)
			}
		}
		if !strings.HasSuffix(s.Footer, "&P / &N") {
			t.Fatalf("%d: no page number: %q", n, s.Footer)
		}
	}
}

// TestLongCaution: a caution that doesn't fit the foot is pointed to where a
// summary has it, and begun where there is none.
func TestLongCaution(t *testing.T) {
	wb := oneTable(nil, reports.Column{Header: "H", Kind: reports.KindText})
	wb.Caution = "Beware. " + strings.Repeat("There is much to say. ", 20)
	if f := readWorkbook(t, file(t, wb)).Sheets[0].Footer; !strings.HasPrefix(f, "&L&8Beware. There is") || !strings.Contains(f, "…&R") {
		t.Errorf("without a summary: %q", f)
	}
	wb.Sheets = append(wb.Sheets, reports.Sheet{Name: "S", Summary: &reports.Summary{}})
	book := readWorkbook(t, file(t, wb))
	for _, s := range book.Sheets {
		if !strings.HasPrefix(s.Footer, "&L&8Read the caution on the summary.&R") {
			t.Errorf("%q: %q", s.Name, s.Footer)
		}
	}
	if got := book.Sheets[1].at("A6").Value; got != wb.Caution {
		t.Errorf("the summary has %q", got)
	}
}

// TestPaper: ST_PaperSize of ECMA-376-1:2016, 18.3.1.63, has 1 for Letter and 9
// for A4. A table that is wider than an upright page is printed across.
func TestPaper(t *testing.T) {
	for paper, want := range map[reports.Paper]string{reports.A4: "9", reports.Letter: "1"} {
		for width, orientation := range map[int]string{40: "portrait", 150: "landscape"} {
			wb := oneTable(nil, reports.Column{Header: "H", Kind: reports.KindText, Width: width})
			wb.Paper = paper
			s := readWorkbook(t, file(t, wb)).Sheets[0]
			if s.Paper != want || s.Orientation != orientation || !s.FitToPage || s.FitToHeight != "0" {
				t.Errorf("paper %d, width %d: %s %s %v %s", paper, width, s.Paper, s.Orientation, s.FitToPage, s.FitToHeight)
			}
		}
	}
}

// TestWidePages: a row that would be too small to read on one page goes over
// several, and what names it is on each.
func TestWidePages(t *testing.T) {
	var cols []reports.Column
	for i := range 12 {
		cols = append(cols, reports.Column{Header: string(rune('A' + i)), Kind: reports.KindText, Width: 30})
	}
	for frozen, want := range map[int]string{0: "'Rows'!$1:$1", 2: "'Rows'!$A:$B,'Rows'!$1:$1"} {
		wb := oneTable(nil, cols...)
		wb.Sheets[0].Table.Frozen = frozen
		book := readWorkbook(t, file(t, wb))
		if s := book.Sheets[0]; s.FitToWidth != "2" || s.FitToHeight != "0" || book.Names["0:_xlnm.Print_Titles"] != want {
			t.Errorf("frozen %d: %s pages wide, repeats %q", frozen, s.FitToWidth, book.Names["0:_xlnm.Print_Titles"])
		}
	}
}

func TestProperties(t *testing.T) {
	core := readWorkbook(t, file(t, sample(t))).Core
	for _, want := range []string{
		"<dc:title>Which patients received lot 24A117</dc:title>", "<dc:creator>R. Okafor &amp; J. Lind</dc:creator>",
		">2026-11-25T15:24:48Z</dcterms:created>", ">2026-11-25T15:24:48Z</dcterms:modified>",
	} {
		if !strings.Contains(core, want) {
			t.Errorf("%s is not in %s", want, core)
		}
	}
}
