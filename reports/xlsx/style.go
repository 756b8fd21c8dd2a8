package xlsx

import (
	"strings"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// The look: one typeface, one dark tone for what is structure, grey for words
// that stand in place of values, amber for cautions. It has to survive a black
// and white printer, so no meaning is in a colour alone.
const (
	ink       = "1F3A4D" // titles
	headFill  = "E4ECF1" // header rows
	rule      = "8FA6B5" // lines
	faint     = "6B6B6B" // marks, notes
	amberFill = "FFF4D6" // cautions
	amberRule = "C98A00"
)

// A look is what a cell is drawn as, apart from its number format.
type look uint8

const (
	lookBody    look = iota // a cell of a table sheet
	lookMark                // a word in place of a value
	lookHead                // a header, text
	lookHeadNum             // a header above numbers
	lookTitle               // the workbook's title
	lookSection             // a section's title
	lookLabel               // a fact's label
	lookFact                // a fact's value
	lookFactMark
	lookNote    // what there is to say about a fact
	lookProse   // a paragraph
	lookCaution // a paragraph that must not be missed
	lookGrid    // a cell of a small table
	lookGridMark
)

// Number formats, ECMA-376-1:2016, 18.8.31. Text has "@": what is typed into
// such a cell stays text, too.
const (
	formatText    = "@"
	formatInteger = "#,##0"
	formatDate    = "yyyy-mm-dd"
	formatMinute  = "yyyy-mm-dd hh:mm"
	formatSecond  = "yyyy-mm-dd hh:mm:ss"
	formatHours   = "[h]:mm"
)

type styleKey struct {
	look   look
	format string
	wrap   bool
	right  bool
	shrink bool
}

// styles makes each style once. The first error is kept and comes out of err,
// so that a style can be named in the middle of a row.
type styles struct {
	file *excelize.File
	ids  map[styleKey]int
	err  error
}

func newStyles(f *excelize.File) *styles {
	return &styles{file: f, ids: make(map[styleKey]int)}
}

// of returns the style of a look for values of a kind.
func (s *styles) of(l look, k reports.Kind, places uint8, seconds, wrap bool) int {
	key := styleKey{look: l, format: formatText, wrap: wrap}
	switch k {
	case reports.KindInteger:
		key.format, key.right = formatInteger, true
	case reports.KindDecimal:
		key.format, key.right = formatDecimal(places), true
	case reports.KindDate:
		key.format = formatDate
	case reports.KindInstant:
		key.format = formatMinute
		if seconds {
			key.format = formatSecond
		}
	case reports.KindMinutes:
		key.format, key.right = formatHours, true
	}
	if l != lookBody && l != lookGrid {
		key.right = false
	}
	return s.get(key)
}

// text returns the style of a look for text.
func (s *styles) text(l look, wrap bool) int {
	return s.get(styleKey{look: l, format: formatText, wrap: wrap, right: l == lookHeadNum})
}

// word returns the style of a look for text among values of a kind.
func (s *styles) word(l look, k reports.Kind, wrap bool) int {
	right := rightAligned(k) && (l == lookBody || l == lookMark || l == lookGrid || l == lookGridMark)
	return s.get(styleKey{look: l, format: formatText, wrap: wrap, right: right})
}

// instant returns the style of an instant that shows its offset from UTC. It is
// made smaller where the column is too narrow for that.
func (s *styles) instant(l look, seconds bool, offset string) int {
	format := formatMinute
	if seconds {
		format = formatSecond
	}
	return s.get(styleKey{look: l, format: format + ` "` + offset + `"`, shrink: true})
}

func formatDecimal(places uint8) string {
	if places == 0 {
		return formatInteger
	}
	return formatInteger + "." + strings.Repeat("0", int(places))
}

func (s *styles) get(key styleKey) int {
	if id, ok := s.ids[key]; ok {
		return id
	}
	id, err := s.file.NewStyle(key.style())
	if err != nil && s.err == nil {
		s.err = err
	}
	s.ids[key] = id
	return id
}

func (k styleKey) style() *excelize.Style {
	st := &excelize.Style{
		CustomNumFmt: &k.format,
		Font:         &excelize.Font{Family: "Calibri", Size: 11},
		Alignment:    &excelize.Alignment{Horizontal: "left", Vertical: "top", WrapText: k.wrap, ShrinkToFit: k.shrink},
	}
	if k.right {
		// The indent keeps a number from the text in the next column.
		st.Alignment.Horizontal, st.Alignment.Indent = "right", 1
	}
	line := func(side, color string, style int) {
		st.Border = append(st.Border, excelize.Border{Type: side, Color: color, Style: style})
	}
	fill := func(color string) {
		st.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{color}}
	}
	const thin, hair, thick = 1, 7, 5
	switch k.look {
	case lookHead, lookHeadNum:
		st.Font.Bold, st.Font.Color = true, ink
		st.Alignment.Vertical = "center"
		fill(headFill)
		line("bottom", rule, thin)
	case lookTitle:
		st.Font.Bold, st.Font.Size, st.Font.Color = true, 18, ink
		st.Alignment.Vertical = "center"
	case lookSection:
		st.Font.Bold, st.Font.Size, st.Font.Color = true, 13, ink
		st.Alignment.Vertical = "bottom"
		line("bottom", rule, thin)
	case lookLabel:
		st.Font.Color = faint
	case lookFact:
		st.Font.Bold = true
	case lookNote:
		st.Font.Color = faint
	case lookMark, lookFactMark, lookGridMark:
		st.Font.Italic, st.Font.Color = true, faint
	case lookCaution:
		st.Alignment.Indent = 1
		fill(amberFill)
		line("left", amberRule, thick)
	}
	if k.look == lookGrid || k.look == lookGridMark {
		line("bottom", rule, hair)
	}
	return st
}
