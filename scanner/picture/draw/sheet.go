package draw

import (
	"bufio"
	"fmt"
	"html"
	"io"
	"strings"

	"lotbook/scanner/wedge"
)

// A Paper is a size of paper in millimetres.
type Paper struct {
	Name          string
	Width, Height float64
}

// A4 is that of ISO 216, Letter that of ANSI Y14.1.
var (
	A4     = Paper{"A4", 210, 297}
	Letter = Paper{"Letter", 215.9, 279.4}
)

// The sheet's measures in millimetres. Modules are as wide as large labels have
// them, so that every scanner in order reads them from a hand's breadth
// (common practice, no source).
const (
	margin       = 18.0
	linearModule = 0.33
	matrixModule = 0.75
	barHeight    = 18.0
	codeStep     = 45.0
)

// Sheet writes the test sheet of package wedge as an SVG document.
func Sheet(w io.Writer, p Paper) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g" font-family="sans-serif" font-size="4">`+"\n",
		p.Width, p.Height, p.Width, p.Height)
	fmt.Fprintf(out, `<title>Scanner test sheet</title><rect width="%g" height="%g" fill="#fff"/>`+"\n", p.Width, p.Height)
	text := func(x, y float64, size float64, s string) {
		fmt.Fprintf(out, `<text x="%g" y="%g" font-size="%g">%s</text>`+"\n", x, y, size, html.EscapeString(s))
	}
	y := margin + 6
	text(margin, y, 7, "Scanner test sheet")
	for _, line := range []string{
		"Print this page at 100 %. The line at the bottom must be 100 mm long.",
		"Put the cursor where the scans of the test sheet are asked for.",
		"Scan each of the four codes once, with the scanner that is to be tested,",
		"on the computer or tablet that it works with. Cover the other codes meanwhile.",
		"The order does not matter. Scan a code again if it was not read.",
	} {
		y += 6
		text(margin, y, 4, line)
	}
	y += 8
	for _, c := range wedge.SheetCodes() {
		s, err := Encode(c.Symbology, c.Text)
		if err != nil {
			return err
		}
		text(margin, y+4, 6, fmt.Sprint(c.Number))
		x, module, height := margin+12, matrixModule, 0.0
		if s.Linear() {
			module, height = linearModule, barHeight
		} else {
			height = float64(len(s.Rows)) * module
		}
		s.paint(out, x, y, module, height)
		text(x, y+height+6, 3.2, strings.ReplaceAll(c.Text, "\x1d", " · "))
		y += codeStep
	}
	y = p.Height - margin
	fmt.Fprintf(out, `<path d="M%g %gh100m-100 -2v4m100 -4v4" stroke="#000" stroke-width=".3" fill="none"/>`+"\n", margin, y)
	text(margin+104, y+1.4, 4, "100 mm")
	fmt.Fprintln(out, "</svg>")
	return out.Flush()
}

// paint draws a symbol with its upper left corner at x, y: one rectangle for
// each run of dark modules in a row.
func (s *Symbol) paint(w io.Writer, x, y, module, height float64) {
	fmt.Fprintln(w, `<g shape-rendering="crispEdges">`)
	h := height / float64(len(s.Rows))
	for r, row := range s.Rows {
		for from := 0; from < len(row); from++ {
			if !row[from] {
				continue
			}
			to := from
			for to < len(row) && row[to] {
				to++
			}
			fmt.Fprintf(w, `<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f"/>`+"\n",
				x+float64(from)*module, y+float64(r)*h, float64(to-from)*module, h)
			from = to
		}
	}
	fmt.Fprintln(w, "</g>")
}
