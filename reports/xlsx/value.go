package xlsx

import (
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// Serial numbers of the 1900 date system, ECMA-376-1:2016, 18.17.4.1: 1 is
// 1900-01-01. Programs differ below 61, as some count a 29 February 1900.
const (
	serial1970  = 25569   // 1970-01-01
	firstSerial = 61      // 1900-03-01
	lastSerial  = 2958465 // 9999-12-31
)

// maxExact is the first whole number that has more digits than Excel keeps,
// which are 15.
const maxExact = 1_000_000_000_000_000

// maxMinutes is the first duration that is written as text: 99,999 days.
const maxMinutes = 99_999 * 24 * 60

const secondsPerDay = 24 * 60 * 60

// A column is what it takes to draw the cells of a column.
type column struct {
	look    look
	seconds bool
	wrap    bool
	// Styles of the column's own kind, of text and of marks.
	style, text, mark int
}

// put sets dst to what c is in the column, and returns about how many bytes
// it takes in the sheet at most.
func (b *builder) put(dst *excelize.Cell, col *column, c reports.Cell) int {
	const overhead = 64 // <c r="XFD1048576" s="12" t="inlineStr"><is><t></t></is></c>
	dst.StyleID = col.style
	switch c.Kind() {
	case reports.KindBlank:
		dst.Value = nil
	case reports.KindMark:
		return overhead + b.putText(dst, col.mark, c.Text(), false)
	case reports.KindText:
		return overhead + b.putText(dst, col.text, c.Text(), col.wrap)
	case reports.KindInteger:
		if n := c.Int(); n > -maxExact && n < maxExact {
			dst.Value = n
			break
		}
		return overhead + b.putText(dst, col.text, string(c.AppendDecimal(nil)), false)
	case reports.KindDecimal:
		if n := c.Int(); n > -maxExact && n < maxExact {
			dst.Value = float64(n) / pow10[c.Places()]
			break
		}
		return overhead + b.putText(dst, col.text, string(c.AppendDecimal(nil)), false)
	case reports.KindDate:
		if s := c.Days() + serial1970; s >= firstSerial && s <= lastSerial {
			dst.Value = s
			break
		}
		return overhead + b.putText(dst, col.text, c.Time().Format(time.DateOnly), false)
	case reports.KindInstant:
		return overhead + b.putInstant(dst, col, c.Time().In(b.zone))
	case reports.KindMinutes:
		if n := c.Int(); n >= 0 && n < maxMinutes {
			dst.Value = dayFraction(0, n*60)
			break
		}
		return overhead + b.putText(dst, col.text, hoursMinutes(c.Int()), false)
	case reports.KindFlag:
		// Words, as a program would show TRUE or its translation.
		dst.Value, dst.StyleID = "no", col.text
		if c.Int() != 0 {
			dst.Value = "yes"
		}
	}
	return overhead + 20
}

var pow10 = [reports.MaxPlaces + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

func (b *builder) putText(dst *excelize.Cell, style int, s string, keepLines bool) int {
	s = fitText(reports.Visible(s, keepLines))
	dst.Value, dst.StyleID = s, style
	return 6 * len(s) // &#xA; and the like
}

// putInstant sets the wall clock's date and time.
func (b *builder) putInstant(dst *excelize.Cell, col *column, t time.Time) int {
	_, offset := t.Zone()
	local := t.Unix() + int64(offset)
	days, secs := floorDiv(local, secondsPerDay)
	serial := days + serial1970
	if serial < firstSerial || serial > lastSerial {
		return b.putText(dst, col.text, t.Format("2006-01-02 15:04:05 -07:00"), false)
	}
	dst.Value = dayFraction(serial, secs)
	if twice(t) {
		dst.StyleID = b.styles.instant(col.look, col.seconds, t.Format("-07:00"))
	}
	return 20
}

// twice reports whether t's wall clock shows the same again an hour (or
// whatever the zone turns its clocks back by) before or after t.
func twice(t time.Time) bool {
	start, end := t.ZoneBounds()
	_, here := t.Zone()
	if !end.IsZero() {
		_, next := end.Zone()
		// The clock will be turned back by here-next seconds at end.
		if next < here && end.Sub(t) <= time.Duration(here-next)*time.Second {
			return true
		}
	}
	if !start.IsZero() {
		_, before := start.Add(-1).Zone()
		if before > here && t.Sub(start) < time.Duration(before-here)*time.Second {
			return true
		}
	}
	return false
}

// dayFraction is serial and a number of seconds after midnight as one number.
// Excel keeps 15 digits, and the stream writer cuts there instead of
// rounding, which would show 10:24:59 for 10:25. So it is rounded up to the
// 10 decimals that are left beside a date's 5 digits: at most 9 µs too much (0.9 ms
// after the year 2173), never too little.
func dayFraction(serial, secs int64) float64 {
	days, secs := serial+secs/secondsPerDay, secs%secondsPerDay
	scale := int64(10_000_000_000)
	if days >= 100_000 { // from the year 2173 on, up to 7 digits
		scale = 100_000_000
	}
	fraction := (secs*scale + secondsPerDay - 1) / secondsPerDay
	return float64(days*scale+fraction) / float64(scale)
}

// hoursMinutes is "h:mm", as the format [h]:mm shows it.
func hoursMinutes(n int64) string {
	u, sign := uint64(n), ""
	if n < 0 {
		u, sign = -u, "-"
	}
	return sign + strconv.FormatUint(u/60, 10) + ":" + string([]byte{'0' + byte(u%60/10), '0' + byte(u%10)})
}

func floorDiv(n, d int64) (q, r int64) {
	q, r = n/d, n%d
	if r < 0 {
		q, r = q-1, r+d
	}
	return q, r
}
