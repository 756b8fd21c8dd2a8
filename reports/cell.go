package reports

import (
	"strconv"
	"time"
)

// A Kind says what a cell or a column holds.
type Kind uint8

// The kinds. The first two are kinds of cells only; a column has one of the
// others.
const (
	// KindBlank: nothing to say here.
	KindBlank Kind = iota
	// KindMark: a word in place of a value, such as "not recorded".
	KindMark
	// KindText: text, never a formula and never a number.
	KindText
	// KindInteger: a count or a quantity in the column's base unit.
	KindInteger
	// KindDecimal: an exact decimal fraction, such as litres to the mL.
	KindDecimal
	// KindDate: a calendar date, without a time or a zone.
	KindDate
	// KindInstant: an instant, drawn in the Workbook's zone.
	KindInstant
	// KindMinutes: a duration in whole minutes.
	KindMinutes
	// KindFlag: yes or no.
	KindFlag
)

var kindNames = [...]string{"blank", "mark", "text", "integer", "decimal", "date", "instant", "minutes", "flag"}

// String returns the kind's name in lower case.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "kind " + strconv.Itoa(int(k))
}

// MaxPlaces is the most decimal places that a [Decimal] may have.
const MaxPlaces = 9

// A Cell is one typed value. The zero Cell is blank. Cells are small, hold no
// pointer but the text's, and compare with ==.
type Cell struct {
	text   string
	num    int64
	kind   Kind
	places uint8
}

// Blank is a cell that has nothing to say, because the question does not apply
// to its row. Where a value should have been, use a [Mark].
func Blank() Cell { return Cell{} }

// Mark is a word in place of a value, in a column of any kind. Writers draw it
// so that it can't be taken for a value.
func Mark(word string) Cell { return Cell{kind: KindMark, text: word} }

// NotRecorded says that there should be a value, and that nobody wrote it down.
func NotRecorded() Cell { return Mark("not recorded") }

// NoneFound says that everything was recorded and none of it matched.
func NoneFound() Cell { return Mark("none found") }

// Text is text. It may stand in a column of any kind: a date that can't exist
// is shown as it was written rather than lost. Empty text is blank.
func Text(s string) Cell {
	if s == "" {
		return Cell{}
	}
	return Cell{kind: KindText, text: s}
}

// Integer is a whole number.
func Integer(n int64) Cell { return Cell{kind: KindInteger, num: n} }

// Decimal is units / 10^places, exactly: 3,840 mL as litres is Decimal(3840, 3).
// It panics above [MaxPlaces].
func Decimal(units int64, places uint8) Cell {
	if places > MaxPlaces {
		panic("reports: a decimal of " + strconv.Itoa(int(places)) + " places")
	}
	return Cell{kind: KindDecimal, num: units, places: places}
}

// Date is a day of the Gregorian calendar. Days that don't exist are carried
// over as [time.Date] does.
func Date(year int, month time.Month, day int) Cell {
	return Cell{kind: KindDate, num: time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay}
}

// DateText is the date that is written as "2027-03-31". Empty text is blank,
// and text that is no date stays text.
func DateText[S ~string](s S) Cell {
	t, err := time.Parse(time.DateOnly, string(s))
	if err != nil {
		return Text(string(s))
	}
	return Date(t.Date())
}

// Instant is an instant to the microsecond. The zero time is blank.
func Instant(t time.Time) Cell {
	if t.IsZero() {
		return Cell{}
	}
	return Cell{kind: KindInstant, num: t.UnixMicro()}
}

// Minutes is a duration in whole minutes.
func Minutes(n int64) Cell { return Cell{kind: KindMinutes, num: n} }

// Flag is yes or no.
func Flag(yes bool) Cell {
	if yes {
		return Cell{kind: KindFlag, num: 1}
	}
	return Cell{kind: KindFlag}
}

const secondsPerDay = 24 * 60 * 60

// Kind returns what the cell holds.
func (c Cell) Kind() Kind { return c.kind }

// Text returns the text of a text or mark cell as it was given, not made
// visible, and "" for every other kind.
func (c Cell) Text() string { return c.text }

// Int returns the number of an integer, the minutes of a duration, 1 or 0 of a
// flag, and the units of a decimal.
func (c Cell) Int() int64 { return c.num }

// Places returns the decimal places of a decimal, else 0.
func (c Cell) Places() uint8 { return c.places }

// Days returns the days from 1970-01-01 to a date cell's date.
func (c Cell) Days() int64 { return c.num }

// Time returns the instant of an instant cell, and the start in UTC of a date
// cell's day.
func (c Cell) Time() time.Time {
	if c.kind == KindDate {
		return time.Unix(c.num*secondsPerDay, 0).UTC()
	}
	return time.UnixMicro(c.num).UTC()
}

// AppendDecimal appends a decimal cell's exact digits to b: "-0.250".
func (c Cell) AppendDecimal(b []byte) []byte {
	u := uint64(c.num)
	if c.num < 0 {
		b = append(b, '-')
		u = -u
	}
	var digits [20 + MaxPlaces]byte
	d := strconv.AppendUint(digits[:0], u, 10)
	point := len(d) - int(c.places)
	if point <= 0 {
		b = append(b, '0')
	} else {
		b = append(b, d[:point]...)
		d = d[point:]
		point = 0
	}
	if c.places == 0 {
		return b
	}
	b = append(b, '.')
	for ; point < 0; point++ {
		b = append(b, '0')
	}
	return append(b, d...)
}
