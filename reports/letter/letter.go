package letter

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"time"

	"lotbook/reports"
)

//go:embed letter.css
var css string

//go:embed letter.html
var page string

var view = template.Must(template.New("letter").Parse(page))

// style is the page's style sheet for a paper. The margins leave room for a
// binder, and the page's number stands in them.
func style(p reports.Paper) string {
	size := map[reports.Paper]string{reports.A4: "A4", reports.Letter: "letter"}[p]
	return css + fmt.Sprintf("@page { size: %s; margin: 18mm 16mm 18mm 22mm; @bottom-right { content: counter(page) ' / ' counter(pages); font-size: 9pt; } }\n", size)
}

// Policy is the Content-Security-Policy under which a page for a paper may be
// shown: its own style sheet, by its hash, and nothing else (W3C CSP Level 3).
func Policy(p reports.Paper) string {
	sum := sha256.Sum256([]byte(style(p)))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// Write draws the summaries of a workbook, one after the other. Tables that are
// sheets of their own are left to the workbook. Nothing is written if something
// can't be drawn.
func Write(w io.Writer, wb *reports.Workbook) error {
	if err := wb.Check(); err != nil {
		return err
	}
	p := letter{Title: reports.Visible(wb.Title, false), Caution: reports.Visible(wb.Caution, false), Style: template.CSS(style(wb.Paper))} //nolint:gosec // our own style sheet
	zone := wb.Location()
	for i := range wb.Sheets {
		if wb.Sheets[i].Summary == nil {
			continue
		}
		for _, sec := range wb.Sheets[i].Summary.Sections {
			s, err := sectionOf(&sec, zone)
			if err != nil {
				return err
			}
			p.Sections = append(p.Sections, s)
		}
	}
	var b bytes.Buffer
	if err := view.Execute(&b, &p); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

type letter struct {
	Title, Caution string
	Style          template.CSS
	Sections       []section
}

type section struct {
	Title   string
	Text    []string
	Caution bool
	// Keep keeps what is to be written on together on one page.
	Keep    bool
	Facts   []fact
	Columns []column
	Rows    [][]value
}

type fact struct {
	Label string
	Value value
	Note  string
}

type column struct {
	Header string
	Number bool
}

type value struct {
	Text                string
	Blank, Mark, Number bool
}

func sectionOf(sec *reports.Section, zone *time.Location) (section, error) {
	s := section{Title: reports.Visible(sec.Title, false), Caution: sec.Caution}
	for _, t := range sec.Text {
		s.Text = append(s.Text, reports.Visible(t, false))
	}
	for _, f := range sec.Facts {
		v := valueOf(f.Value, zone)
		s.Keep = s.Keep || v.Blank
		s.Facts = append(s.Facts, fact{reports.Visible(f.Label, false), v, reports.Visible(f.Note, false)})
	}
	if sec.Table == nil {
		return s, nil
	}
	for _, c := range sec.Table.Columns {
		s.Columns = append(s.Columns, column{reports.Visible(c.Header, false), number(c.Kind)})
	}
	if sec.Table.Rows == nil {
		return s, nil
	}
	n := 0
	for row, err := range sec.Table.Rows {
		n++
		if err == nil {
			err = sec.Table.CheckRow(n, row)
		}
		if err != nil {
			return s, fmt.Errorf("section %q: %w", sec.Title, err)
		}
		cells := make([]value, len(row))
		for i, c := range row {
			cells[i] = valueOf(c, zone)
		}
		s.Rows = append(s.Rows, cells)
	}
	return s, nil
}

func number(k reports.Kind) bool {
	return k == reports.KindInteger || k == reports.KindDecimal || k == reports.KindMinutes
}

// valueOf is a cell as text. Instants are those of the zone.
func valueOf(c reports.Cell, zone *time.Location) value {
	v := value{Number: number(c.Kind())}
	switch c.Kind() {
	case reports.KindBlank:
		v.Blank = true
	case reports.KindMark:
		v.Mark, v.Text = true, reports.Visible(c.Text(), false)
	case reports.KindText:
		v.Text = reports.Visible(c.Text(), false)
	case reports.KindInteger:
		v.Text = strconv.FormatInt(c.Int(), 10)
	case reports.KindDecimal:
		v.Text = string(c.AppendDecimal(nil))
	case reports.KindMinutes:
		v.Text = fmt.Sprintf("%d min", c.Int())
	case reports.KindDate:
		v.Text = c.Time().Format(time.DateOnly)
	case reports.KindInstant:
		v.Text = c.Time().In(zone).Format("2006-01-02 15:04")
	case reports.KindFlag:
		v.Text = "no"
		if c.Int() != 0 {
			v.Text = "yes"
		}
	}
	return v
}
