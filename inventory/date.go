package inventory

import (
	"fmt"
	"time"
)

// A Date is a calendar date as "2027-03-31", or empty when there is none. The
// form sorts as text. An expiry date is the last day of use.
type Date string

// ParseDate accepts "2027-03-31" of a day that exists.
func ParseDate(s string) (Date, error) {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return "", fmt.Errorf("%q is not a date such as 2027-03-31", s)
	}
	return Date(s), nil
}

// DateOf returns the calendar date of an instant in a place.
func DateOf(t time.Time, loc *time.Location) Date { return Date(t.In(loc).Format(time.DateOnly)) }

// Time returns the first instant of the day in a place.
func (d Date) Time(loc *time.Location) (time.Time, error) {
	return time.ParseInLocation(time.DateOnly, string(d), loc)
}

// AddDays returns the date n days later, empty if d is.
func (d Date) AddDays(n int) Date {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return ""
	}
	return Date(t.AddDate(0, 0, n).Format(time.DateOnly))
}

// DaysUntil returns the days from d to other, negative if other is earlier.
func (d Date) DaysUntil(other Date) int {
	a, err1 := time.Parse(time.DateOnly, string(d))
	b, err2 := time.Parse(time.DateOnly, string(other))
	if err1 != nil || err2 != nil {
		return 0
	}
	return int(b.Sub(a).Hours() / 24)
}

// LastDay resolves what a code carries as its date to the last day that it
// allows: a month "2027-03" ends with its last day, an hour "2027-03-31T22"
// with its day. Anything else but a date gives the empty Date.
func LastDay(s string) Date {
	if len(s) == len("2027-03") {
		t, err := time.Parse("2006-01", s)
		if err != nil {
			return ""
		}
		return Date(t.AddDate(0, 1, -1).Format(time.DateOnly))
	}
	if len(s) > len(time.DateOnly) {
		s = s[:len(time.DateOnly)]
	}
	d, err := ParseDate(s)
	if err != nil {
		return ""
	}
	return d
}
