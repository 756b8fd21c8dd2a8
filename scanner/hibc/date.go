package hibc

import (
	"fmt"
	"time"

	"lotbook/scanner/gs1"
)

// A Date is a month, a day or an hour. The zero Date is none.
type Date struct {
	Year, Month int
	// Day is 0 when only the month is known.
	Day int
	// Hour is valid if HasHour is set, Minute if HasMinute is.
	Hour, Minute       int
	HasHour, HasMinute bool
}

// IsZero reports whether there is no date.
func (d Date) IsZero() bool { return d.Year == 0 }

// String returns "2005-09", "2005-09-28", "2005-09-28T22" or
// "2005-09-28T22:10:00", and "" for none.
func (d Date) String() string {
	switch {
	case d.IsZero():
		return ""
	case d.Day == 0:
		return fmt.Sprintf("%04d-%02d", d.Year, d.Month)
	case d.HasMinute:
		return fmt.Sprintf("%04d-%02d-%02dT%02d:%02d:00", d.Year, d.Month, d.Day, d.Hour, d.Minute)
	case d.HasHour:
		return fmt.Sprintf("%04d-%02d-%02dT%02d", d.Year, d.Month, d.Day, d.Hour)
	default:
		return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
	}
}

// forms gives for each date flag the letters of its form: M month, D day, Y
// year, J day of the year, H hour. Flag 0 stands for the form without a flag
// and 'J' for the one that opens a secondary symbol without "$" (ANSI/HIBC
// 2.6, table 2).
var forms = map[byte]string{
	0: "MMYY", '2': "MMDDYY", '3': "YYMMDD", '4': "YYMMDDHH", '5': "YYJJJ", '6': "YYJJJHH", '7': "",
	'J': "YYJJJ", '8': "YYYYMMDD",
}

// dateOf reads v by a form of the same length. The standard says nothing of
// centuries; two-digit years are read as GS1 does (common practice).
func dateOf(form, v string, now time.Time) (Date, error) {
	var d Date
	var years, julian int
	part := map[byte]*int{'Y': &d.Year, 'M': &d.Month, 'D': &d.Day, 'J': &julian, 'H': &d.Hour}
	for i := range len(form) {
		c := v[i]
		if c < '0' || c > '9' {
			return Date{}, fault(BadDate, "the date %q holds a character that is no digit; compare it with the print", v)
		}
		p := part[form[i]]
		*p = *p*10 + int(c-'0')
		if form[i] == 'Y' {
			years++
		}
		d.HasHour = d.HasHour || form[i] == 'H'
	}
	if years == 2 {
		d.Year = gs1.YearOf(d.Year, now)
	}
	if d.Hour > 23 {
		return Date{}, fault(BadTime, "the hour of %q is none of 00 to 23; compare it with the print", v)
	}
	if form[len(form)-1] == 'J' || len(form) > 4 && form[4] == 'J' {
		t := time.Date(d.Year, 1, julian, 0, 0, 0, 0, time.UTC)
		if julian < 1 || t.Year() != d.Year {
			return Date{}, fault(BadDate, "the year %d has no day %d; compare it with the print", d.Year, julian)
		}
		d.Month, d.Day = int(t.Month()), t.Day()
		return d, nil
	}
	if d.Month < 1 || d.Month > 12 {
		return Date{}, fault(BadDate, "the month of %q is none of 01 to 12; compare it with the print", v)
	}
	if form == "MMYY" || form == "YYYYMM" {
		return d, nil
	}
	if t := time.Date(d.Year, time.Month(d.Month), d.Day, 0, 0, 0, 0, time.UTC); d.Day < 1 || t.Day() != d.Day {
		return Date{}, fault(BadDate, "that month has no day %02d; compare %q with the print", d.Day, v)
	}
	return d, nil
}
