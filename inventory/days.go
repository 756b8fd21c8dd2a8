package inventory

import "time"

// Days returns from when until when the days from one date to another last in the
// unit's time zone, both days within. An empty date is the zero time: no bound.
func (u *Unit) Days(from, to Date) (start, end time.Time, err error) {
	loc, err := u.Zone()
	if err != nil {
		return start, end, err
	}
	for _, d := range []struct {
		name string
		date Date
		at   *time.Time
	}{{"from", from, &start}, {"to", to, &end}} {
		if d.date == "" {
			continue
		}
		if *d.at, err = d.date.Time(loc); err != nil || d.at.Year() < 1970 || d.at.Year() > 2200 {
			return start, end, Invalid(d.name, "Give the date as 2027-03-31.", "%q is not a date", d.date)
		}
	}
	if to != "" {
		end = time.Date(end.Year(), end.Month(), end.Day()+1, 0, 0, 0, 0, loc)
	}
	if from != "" && to != "" && !end.After(start) {
		return start, end, Invalid("to", "Give the earlier date first.", "%s is before %s", to, from)
	}
	return start, end, nil
}
