package gs1

import "time"

// A Date is a calendar date of an element string, with a time of day where the
// identifier carries one.
type Date struct {
	Year, Month, Day int
	// Hour, Minute and Second hold the time; Precision says how many of
	// them were carried.
	Hour, Minute, Second int
	Precision            Precision
	// EndOfMonth is set when the label says day 00, which is the last day
	// of the month (GS1 General Specifications 3.4.2).
	EndOfMonth bool
}

// Precision is how fine a date is.
type Precision uint8

// The precisions.
const (
	PrecisionDay Precision = iota
	PrecisionHour
	PrecisionMinute
	PrecisionSecond
)

// Time returns the date's first instant as UTC. The label names no time zone.
func (d Date) Time() time.Time {
	return time.Date(d.Year, time.Month(d.Month), d.Day, d.Hour, d.Minute, d.Second, 0, time.UTC)
}

// String returns "2027-03-31", "2027-03-31T22" or "2027-03-31T22:10:00".
func (d Date) String() string {
	b := d.AppendTo(make([]byte, 0, 19))
	return string(b)
}

// AppendTo appends the text of String.
func (d Date) AppendTo(b []byte) []byte {
	b = appendTwo(appendTwo(b, d.Year/100), d.Year%100)
	b = appendTwo(append(b, '-'), d.Month)
	b = appendTwo(append(b, '-'), d.Day)
	if d.Precision == PrecisionDay {
		return b
	}
	b = appendTwo(append(b, 'T'), d.Hour)
	if d.Precision == PrecisionHour {
		return b
	}
	b = appendTwo(append(b, ':'), d.Minute)
	return appendTwo(append(b, ':'), d.Second)
}

func appendTwo(b []byte, n int) []byte { return append(b, byte('0'+n/10%10), byte('0'+n%10)) }

// window puts a two-digit year into its century: 51 to 99 years ahead of the
// current year belong to the last century, 50 to 99 behind to the next (GS1
// General Specifications 7.12).
func window(yy, year int) int {
	y := year - year%100 + yy
	switch ahead := yy - year%100; {
	case ahead >= 51:
		return y - 100
	case ahead <= -50:
		return y + 100
	default:
		return y
	}
}

// YearOf is the century rule by itself: the full year of a two-digit one.
func YearOf(yy int, now time.Time) int { return window(yy, now.Year()) }

// daysIn returns the number of days of a month.
func daysIn(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	default:
		return 31
	}
}

func checkDate(year, month, day int, zero bool) problem {
	if month < 1 || month > 12 {
		return badMonth
	}
	if day == 0 && zero {
		return fine
	}
	return when(day < 1 || day > daysIn(year, month), badDay)
}

// Date returns the date that an element holds, and false if its identifier
// carries none. now is what the element was parsed with. A range (AI 7007)
// gives its first day.
func (e Element) Date(now time.Time) (Date, bool) { return e.date(now.Year()) }

// AppendDate appends the text of the element's date, if it holds one; year is the
// current one. It is Date and AppendTo at once, for whoever reads many.
func (e *Element) AppendDate(b []byte, year int) []byte {
	v := e.Value
	switch r := e.AI.parts[0].rules[0]; {
	case (r == ruleYymmd0 || r == ruleYymmdd) && len(v) == 6:
		y, m, d := window(two(v), year), two(v[2:]), two(v[4:])
		if d == 0 {
			d = daysIn(y, m)
		}
		return append(b, byte('0'+y/1000), byte('0'+y/100%10), byte('0'+y/10%10), byte('0'+y%10), '-',
			byte('0'+m/10), byte('0'+m%10), '-', byte('0'+d/10), byte('0'+d%10))
	default:
		if d, ok := e.date(year); ok {
			b = d.AppendTo(b)
		}
		return b
	}
}

// DayZero reports whether the element holds a date with day 00.
func (e Element) DayZero() bool {
	return e.AI.parts[0].rules[0] == ruleYymmd0 && len(e.Value) >= 6 && e.Value[4:6] == "00"
}

func (e Element) date(year int) (Date, bool) {
	v := e.Value
	switch e.AI.parts[0].rules[0] {
	case ruleYymmd0, ruleYymmdd:
		if len(v) < 6 {
			return Date{}, false
		}
		d := Date{Year: window(two(v), year), Month: two(v[2:]), Day: two(v[4:])}
		if d.Day == 0 {
			d.Day, d.EndOfMonth = daysIn(d.Year, d.Month), true
		}
		d.clock(v[6:], e.AI)
		return d, true
	case ruleYyyymmdd:
		if len(v) < 8 {
			return Date{}, false
		}
		d := Date{Year: two(v)*100 + two(v[2:]), Month: two(v[4:]), Day: two(v[6:])}
		d.clock(v[8:], e.AI)
		return d, true
	default:
		return Date{}, false
	}
}

// clock reads the time after a date: hhmi, or hh, hhmi or hhmiss.
func (d *Date) clock(v string, a *AI) {
	if len(a.parts) < 2 || len(v) < 2 {
		return
	}
	switch a.parts[1].rules[0] {
	case ruleHhmi, ruleHh:
	default:
		return // a second date
	}
	d.Hour, d.Precision = two(v), PrecisionHour
	if len(v) >= 4 {
		d.Minute, d.Precision = two(v[2:]), PrecisionMinute
	}
	if len(v) >= 6 {
		d.Second, d.Precision = two(v[4:]), PrecisionSecond
	}
}
