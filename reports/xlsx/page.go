package xlsx

import (
	"strings"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// How much of a sheet's width fits a page.
const (
	// portraitWidth fits an upright page before it is made smaller: 7.3
	// inches of digits of 7 pixels, at 96 pixels an inch.
	portraitWidth = 100
	// landscapeWidth fits a page across in type of 7 points, which is small
	// but can be read.
	landscapeWidth = 225
)

// A page is how a sheet is printed.
type page struct {
	name   string  // the sheet's
	width  float64 // of all its columns
	table  bool    // repeat the first row, show who asked at the head
	frozen int     // columns that are repeated where a row goes over several pages
}

// wide says that the page lies across. A summary is rather made a little
// smaller: it is a letter more than a list.
func (p page) wide() bool {
	if p.table {
		return p.width > 1.25*portraitWidth
	}
	return p.width > 1.6*portraitWidth
}

// across is over how many pages a row goes.
func (p page) across() int { return 1 + int(p.width/landscapeWidth) }

// setUp prepares a sheet for printing. The stream writer takes this over only
// if it is set before the first row; fit-to-page, before the writer is made.
func (b *builder) setUp(p page) error {
	f, yes := b.file, true
	if err := f.SetSheetProps(p.name, &excelize.SheetPropsOptions{FitToPage: &yes}); err != nil {
		return err
	}
	paper, orientation := 9, "portrait" // ST_PaperSize of A4
	if b.wb.Paper == reports.Letter {
		paper = 1
	}
	if p.wide() {
		orientation = "landscape"
	}
	across, down := p.across(), 0 // 0: as many as it takes
	if err := f.SetPageLayout(p.name, &excelize.PageLayoutOptions{
		Size: &paper, Orientation: &orientation, FitToWidth: &across, FitToHeight: &down,
	}); err != nil {
		return err
	}
	side, top, bottom, edge := 0.5, 0.75, 0.9, 0.3
	if err := f.SetPageMargins(p.name, &excelize.PageLayoutMarginsOptions{
		Left: &side, Right: &side, Top: &top, Bottom: &bottom, Header: &edge, Footer: &edge,
	}); err != nil {
		return err
	}
	hf := &excelize.HeaderFooterOptions{OddFooter: b.footer(p)}
	if p.table {
		hf.OddHeader = b.header(p)
	} else {
		no := false
		if err := f.SetSheetView(p.name, -1, &excelize.ViewOptions{ShowGridLines: &no}); err != nil {
			return err
		}
	}
	if err := f.SetHeaderFooter(p.name, hf); err != nil {
		return err
	}
	if !p.table {
		return nil
	}
	sheet := "'" + p.name + "'!"
	repeat := sheet + "$1:$1"
	if p.frozen > 0 && p.across() > 1 {
		last, err := excelize.ColumnNumberToName(p.frozen)
		if err != nil {
			return err
		}
		repeat = sheet + "$A:$" + last + "," + repeat
	}
	return f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: repeat, Scope: p.name})
}

// maxHeaderFooter is how long the code of a header or footer may be, in UTF-16
// units.
const maxHeaderFooter = 255

// The codes of headers and footers, ECMA-376-1:2016, 18.3.1.39.
const (
	leftSmall  = "&L&8"
	rightSmall = "&R&8"
	pageOf     = rightSmall + "&P / &N"
)

func (b *builder) header(p page) string {
	right := rightSmall + headerText(b.wb.AskedAt.In(b.zone).Format("2006-01-02 15:04 -07:00"))
	left := headerText(reports.Visible(b.wb.Title, false) + " · " + p.name)
	if b.wb.AskedBy != "" {
		if r := right + " · " + headerText(reports.Visible(b.wb.AskedBy, false)); utf16Len(r) < maxHeaderFooter/2 {
			right = r
		}
	}
	return leftSmall + cutEscaped(left, maxHeaderFooter-utf16Len(leftSmall+right)) + right
}

// footer has the page's number, and the caution where it fits three lines.
func (b *builder) footer(p page) string {
	perLine := 100.0
	if p.wide() {
		perLine = 150
	}
	caution := breakLines(reports.Visible(b.wb.Caution, false), perLine)
	code := leftSmall + headerText(caution) + pageOf
	if utf16Len(code) > maxHeaderFooter || strings.Count(caution, "\n") > 2 {
		code = leftSmall + "Read the caution on the summary." + pageOf
		if !b.hasSummary() {
			code = leftSmall + cutEscaped(headerText(caution), maxHeaderFooter-utf16Len(leftSmall+"…"+pageOf)) + "…" + pageOf
		}
	}
	return code
}

func (b *builder) hasSummary() bool {
	for i := range b.wb.Sheets {
		if b.wb.Sheets[i].Summary != nil {
			return true
		}
	}
	return false
}

// headerText doubles what would begin a code, and keeps a first digit apart
// from the size before it.
func headerText(s string) string {
	if s != "" && s[0] >= '0' && s[0] <= '9' {
		s = " " + s
	}
	return strings.ReplaceAll(s, "&", "&&")
}

// cutEscaped cuts a headerText without parting a doubled ampersand.
func cutEscaped(s string, n int) string {
	cut := cutUTF16(s, max(n, 0))
	if len(cut) < len(s) && (len(cut)-len(strings.TrimRight(cut, "&")))%2 == 1 {
		cut = cut[:len(cut)-1]
	}
	return cut
}

// breakLines breaks s at words into lines of about a width.
func breakLines(s string, width float64) string {
	var b strings.Builder
	var w float64
	for word := range strings.FieldsSeq(s) {
		ww := textWidth(word)
		switch {
		case w == 0:
		case w+1+ww > width:
			b.WriteByte('\n')
			w = 0
		default:
			b.WriteByte(' ')
			w++
		}
		b.WriteString(word)
		w += ww
	}
	return b.String()
}
