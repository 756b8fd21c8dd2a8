package xlsx

import (
	"math"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// Widths are in Excel's unit, the width of a digit of the normal font. Measured
// by class of character rather than from a font's tables: a typeface may be
// replaced on the reader's machine anyway.
const (
	minWidth    = 7
	maxWidth    = 60
	wrapWidth   = 46  // of columns that break their text
	padding     = 1.7 // the cell's own margins, and some
	indent      = 1.3 // beside numbers
	filterArrow = 3   // the button that covers the end of a header
	sampleRows  = 200 // rows that are measured
)

// textWidth returns the width of the longest line of s.
func textWidth(s string) float64 {
	var longest, w float64
	for _, r := range s {
		if r == '\n' {
			longest, w = max(longest, w), 0
			continue
		}
		w += runeWidth(r)
	}
	return max(longest, w)
}

func runeWidth(r rune) float64 {
	switch {
	case r < utf8.RuneSelf:
		switch {
		case strings.ContainsRune("ijl.,:;'|!", r):
			return 0.55
		case r == 'm' || r == 'w' || r == 'M' || r == 'W' || r == '@' || r == '%':
			return 1.65
		case r >= 'A' && r <= 'Z':
			return 1.2
		}
		return 1
	case r >= 0x1100 && r <= 0x115F, r >= 0x2E80 && r <= 0xA4CF, r >= 0xAC00 && r <= 0xD7A3,
		r >= 0xF900 && r <= 0xFAFF, r >= 0xFE30 && r <= 0xFE6F, r >= 0xFF00 && r <= 0xFF60,
		r >= 0xFFE0 && r <= 0xFFE6, r >= 0x1F300 && r <= 0x1FAFF, r >= 0x20000 && r <= 0x3FFFD,
		r >= 0x2400 && r <= 0x2426: // East Asian and emoji; pictures of control characters
		return 2
	}
	return 1.2
}

// valueWidth returns the width of c as it is drawn in the column.
func valueWidth(c reports.Cell, places uint8, seconds, keepLines bool) float64 {
	switch c.Kind() {
	case reports.KindText, reports.KindMark:
		s := c.Text()
		if len(s) > 4*maxWidth {
			s = cutUTF16(s, 4*maxWidth)
		}
		return textWidth(reports.Visible(s, keepLines))
	case reports.KindInteger:
		return indent + numberWidth(c.Int())
	case reports.KindDecimal:
		n := c.Int()
		for range c.Places() {
			n /= 10
		}
		return indent + 1 + numberWidth(n) + float64(max(places, 1))
	case reports.KindDate:
		return 10
	case reports.KindInstant:
		if seconds {
			return 19
		}
		return 16
	case reports.KindMinutes:
		return indent + 3 + numberWidth(c.Int()/60)
	case reports.KindFlag:
		return 3
	}
	return 0
}

// numberWidth is about a whole number with a comma between its thousands.
func numberWidth(n int64) float64 {
	w := 1.0
	for ; n > 9 || n < -9; n /= 10 {
		w += 1.2
	}
	return w + 1
}

// headerWidth is the width for a header broken into two lines at most.
func headerWidth(h string) float64 {
	const bold = 1.1
	half := textWidth(h)
	if half > 12 {
		half = max(half/2+2, longestWord(h))
	}
	return half*bold + filterArrow
}

func longestWord(s string) float64 {
	var w float64
	for word := range strings.FieldsSeq(s) {
		w = max(w, textWidth(word))
	}
	return w
}

// lines returns how many lines s takes in a width. Letters are counted as wider
// than they are, which makes up for lines that end before a long word.
func lines(s string, width float64) int {
	n := 0
	for line := range strings.SplitSeq(s, "\n") {
		n += max(1, int(math.Ceil(textWidth(line)/width)))
	}
	return n
}

func clampWidth(w, most float64) float64 {
	return tenth(min(max(w+padding, minWidth), most))
}

// setWidths goes from the last column to the first, as excelize puts each new
// one before those that it has, and a file should have them in order.
func setWidths(sw *excelize.StreamWriter, widths []float64) error {
	for i := len(widths); i > 0; i-- {
		if err := sw.SetColWidth(i, i, widths[i-1]); err != nil {
			return err
		}
	}
	return nil
}

func tenth(w float64) float64 { return math.Round(w*10) / 10 }
