package xlsx

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
	"testing"
)

// A reader of workbooks that shares nothing with the writer: archive/zip,
// encoding/xml and the names of ECMA-376-1:2016, part 18. It knows what the
// tests ask about and refuses the rest.

type readCell struct {
	Ref     string // "B7"
	Type    string // t: "inlineStr", "b", "" for a number
	Value   string // the text, or the number's digits as they stand in the file
	Format  string // the number format's code
	Formula bool
}

type readSheet struct {
	Name        string
	Part        string
	XML         string
	Rows        [][]readCell
	Freeze      string // topLeftCell of a frozen pane
	Filter      string
	Merges      []string
	Widths      []float64
	Orientation string
	Paper       string
	FitToPage   bool
	FitToHeight string
	FitToWidth  string
	Header      string
	Footer      string
}

type readBook struct {
	Parts  []string
	Sheets []readSheet
	Names  map[string]string // "local sheet:name" -> reference
	Core   string
}

type xmlSheet struct {
	Props struct {
		Fit struct {
			On string `xml:"fitToPage,attr"`
		} `xml:"pageSetUpPr"`
	} `xml:"sheetPr"`
	Pane struct {
		State string `xml:"state,attr"`
		Top   string `xml:"topLeftCell,attr"`
	} `xml:"sheetViews>sheetView>pane"`
	Cols []struct {
		Min   int     `xml:"min,attr"`
		Max   int     `xml:"max,attr"`
		Width float64 `xml:"width,attr"`
	} `xml:"cols>col"`
	Rows []struct {
		N     int `xml:"r,attr"`
		Cells []struct {
			Ref   string  `xml:"r,attr"`
			Style int     `xml:"s,attr"`
			Type  string  `xml:"t,attr"`
			V     *string `xml:"v"`
			F     *string `xml:"f"`
			Is    *string `xml:"is>t"`
		} `xml:"c"`
	} `xml:"sheetData>row"`
	Filter struct {
		Ref string `xml:"ref,attr"`
	} `xml:"autoFilter"`
	Merges []struct {
		Ref string `xml:"ref,attr"`
	} `xml:"mergeCells>mergeCell"`
	Page struct {
		Orientation string `xml:"orientation,attr"`
		Paper       string `xml:"paperSize,attr"`
		FitToHeight string `xml:"fitToHeight,attr"`
		FitToWidth  string `xml:"fitToWidth,attr"`
	} `xml:"pageSetup"`
	Header string `xml:"headerFooter>oddHeader"`
	Footer string `xml:"headerFooter>oddFooter"`
}

func readWorkbook(t *testing.T, file []byte) readBook {
	t.Helper()
	zr, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatalf("not a zip file: %v", err)
	}
	var book readBook
	parts := make(map[string][]byte)
	for _, f := range zr.File {
		rc, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(rc) // checks the sum
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if parts[f.Name] != nil {
			t.Fatalf("two parts %s", f.Name)
		}
		parts[f.Name] = data
		book.Parts = append(book.Parts, f.Name)
	}
	unmarshal := func(name string, v any) {
		t.Helper()
		if parts[name] == nil {
			t.Fatalf("no part %s in %v", name, book.Parts)
		}
		if err := xml.Unmarshal(parts[name], v); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}

	var rels struct {
		Rel []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	unmarshal("xl/_rels/workbook.xml.rels", &rels)
	target := make(map[string]string)
	for _, r := range rels.Rel {
		target[r.ID] = r.Target
	}
	var wb struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
			ID   string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
		} `xml:"sheets>sheet"`
		Props struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Names []struct {
			Name  string `xml:"name,attr"`
			Local string `xml:"localSheetId,attr"`
			Ref   string `xml:",chardata"`
		} `xml:"definedNames>definedName"`
	}
	unmarshal("xl/workbook.xml", &wb)
	if d := wb.Props.Date1904; d != "" && d != "0" && d != "false" {
		t.Fatalf("date system of 1904: %q", d)
	}
	book.Names = make(map[string]string)
	for _, n := range wb.Names {
		book.Names[n.Local+":"+n.Name] = n.Ref
	}
	book.Core = string(parts["docProps/core.xml"])

	var styles struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Xf []struct {
			Format int `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
	}
	unmarshal("xl/styles.xml", &styles)
	// ECMA-376-1:2016, 18.8.30: the formats that need no code in the file.
	formats := map[int]string{0: "General", 1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 49: "@"}
	for _, f := range styles.Formats {
		formats[f.ID] = f.Code
	}

	for _, s := range wb.Sheets {
		part := target[s.ID]
		if strings.HasPrefix(part, "/") {
			part = part[1:]
		} else {
			part = path.Join("xl", part)
		}
		var x xmlSheet
		unmarshal(part, &x)
		rs := readSheet{
			Name: s.Name, Part: part, XML: string(parts[part]), Filter: x.Filter.Ref,
			Orientation: x.Page.Orientation, Paper: x.Page.Paper, FitToHeight: x.Page.FitToHeight, FitToWidth: x.Page.FitToWidth,
			FitToPage: x.Props.Fit.On == "1" || x.Props.Fit.On == "true", Header: x.Header, Footer: x.Footer,
		}
		if x.Pane.State == "frozen" {
			rs.Freeze = x.Pane.Top
		}
		for _, m := range x.Merges {
			rs.Merges = append(rs.Merges, m.Ref)
		}
		for i, c := range x.Cols {
			if c.Min != i+1 || c.Max != i+1 {
				t.Fatalf("%s: column %d to %d stands at place %d", part, c.Min, c.Max, i+1)
			}
			rs.Widths = append(rs.Widths, c.Width)
		}
		for _, row := range x.Rows {
			for len(rs.Rows) < row.N {
				rs.Rows = append(rs.Rows, nil)
			}
			if row.N < len(rs.Rows) {
				t.Fatalf("%s: row %d comes late", part, row.N)
			}
			for _, c := range row.Cells {
				if c.Style >= len(styles.Xf) {
					t.Fatalf("%s!%s: no style %d", s.Name, c.Ref, c.Style)
				}
				format, ok := formats[styles.Xf[c.Style].Format]
				if !ok {
					t.Fatalf("%s!%s: no number format %d", s.Name, c.Ref, styles.Xf[c.Style].Format)
				}
				rc := readCell{Ref: c.Ref, Type: c.Type, Format: format, Formula: c.F != nil}
				switch {
				case c.Type == "inlineStr" && c.Is != nil:
					rc.Value = unescapeST(*c.Is)
				case c.Type == "" && c.V != nil:
					if _, err := strconv.ParseFloat(*c.V, 64); err != nil {
						t.Fatalf("%s!%s: %v", s.Name, c.Ref, err)
					}
					rc.Value = *c.V
				case c.Type == "" && c.V == nil:
					rc.Type = "empty"
				default:
					t.Fatalf("%s!%s: a cell of type %q that this writer should not write", s.Name, c.Ref, c.Type)
				}
				rs.Rows[row.N-1] = append(rs.Rows[row.N-1], rc)
			}
		}
		book.Sheets = append(book.Sheets, rs)
	}
	return book
}

// unescapeST undoes ST_Xstring, ECMA-376-1:2016, 22.9.2.19: _xHHHH_ stands for
// a UTF-16 unit.
func unescapeST(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if len(s)-i >= 7 && s[i] == '_' && s[i+1] == 'x' && s[i+6] == '_' {
			if n, err := strconv.ParseUint(s[i+2:i+6], 16, 16); err == nil {
				b.WriteRune(rune(n))
				i += 6
				continue
			}
		}
		b.WriteByte(s[i])
	}
	return b.String()
}

func (s *readSheet) at(ref string) readCell {
	for _, row := range s.Rows {
		for _, c := range row {
			if c.Ref == ref {
				return c
			}
		}
	}
	return readCell{Ref: ref, Type: "missing"}
}

// dump is what golden files hold.
func (b *readBook) dump() string {
	var out strings.Builder
	for _, s := range b.Sheets {
		fmt.Fprintf(&out, "sheet %q\n", s.Name)
		fmt.Fprintf(&out, "  freeze=%s filter=%s merges=%v widths=%v\n", s.Freeze, s.Filter, s.Merges, s.Widths)
		fmt.Fprintf(&out, "  page=%s paper=%s fit=%v %sx%s\n  header=%q\n  footer=%q\n", s.Orientation, s.Paper, s.FitToPage, s.FitToWidth, s.FitToHeight, s.Header, s.Footer)
		for _, row := range s.Rows {
			for _, c := range row {
				if c.Type != "empty" {
					fmt.Fprintf(&out, "  %s %s %s %q\n", c.Ref, or(c.Type, "number"), c.Format, c.Value)
				}
			}
		}
	}
	return out.String()
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
