package inventory

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A Unit is the dialysis unit's own settings.
type Unit struct {
	Name string `json:"name"`
	// TimeZone is an IANA name, such as "Europe/Lisbon".
	TimeZone string `json:"time_zone"`
	// Shifts in the order of the day.
	Shifts []ShiftHours `json:"shifts"`
	// ShortDatedDays is how many days before its expiry a lot counts as
	// short dated.
	ShortDatedDays int `json:"short_dated_days"`
	// Rules of expected use.
	Rules Rules `json:"rules"`
	// Defaults names the product that a treatment uses of a category where
	// its prescription names none.
	Defaults map[Category]ProductID `json:"defaults,omitempty"`
}

// ShiftHours is one shift of a day.
type ShiftHours struct {
	Number int    `json:"number"` // from 1
	Name   string `json:"name"`
	// Starts is "06:00" in the unit's time zone. A shift lasts until the
	// next one starts; the last until the first one of the next day.
	Starts string `json:"starts"`
}

// A Shift is one shift of one day.
type Shift struct {
	Date   Date `json:"date"`
	Number int  `json:"number"`
}

// String returns "2026-11-24 shift 2".
func (s Shift) String() string { return fmt.Sprintf("%s shift %d", s.Date, s.Number) }

// DefaultUnit is what holds until a unit is set up: UTC, three shifts.
func DefaultUnit() Unit {
	return Unit{
		Name:     "Dialysis unit",
		TimeZone: "UTC",
		Shifts: []ShiftHours{
			{1, "Morning", "06:00"},
			{2, "Afternoon", "11:30"},
			{3, "Evening", "17:00"},
		},
		ShortDatedDays: 30,
		Rules:          DefaultRules(),
	}
}

// Zone returns the unit's time zone.
func (u *Unit) Zone() (*time.Location, error) {
	loc, err := time.LoadLocation(u.TimeZone)
	if err != nil {
		return nil, Invalid("time_zone", "Use an IANA name such as Europe/Lisbon.", "there is no time zone %q", u.TimeZone)
	}
	return loc, nil
}

// ShiftOf returns the shift that an instant lies in.
func (u *Unit) ShiftOf(t time.Time) (Shift, error) {
	loc, err := u.Zone()
	if err != nil {
		return Shift{}, err
	}
	for _, day := range []int{0, -1} {
		date := DateOf(t, loc).AddDays(day)
		for i := len(u.Shifts) - 1; i >= 0; i-- {
			s := Shift{date, u.Shifts[i].Number}
			from, to, err := u.Window(s)
			if err != nil {
				return Shift{}, err
			}
			if !t.Before(from) && t.Before(to) {
				return s, nil
			}
		}
	}
	return Shift{}, errors.New("no shift holds " + t.String())
}

// Window returns when a shift starts and when the next one does.
func (u *Unit) Window(s Shift) (from, to time.Time, err error) {
	loc, err := u.Zone()
	if err != nil {
		return from, to, err
	}
	for i, h := range u.Shifts {
		if h.Number != s.Number {
			continue
		}
		if from, err = clockTime(s.Date, h.Starts, loc); err != nil {
			return from, to, err
		}
		if i+1 < len(u.Shifts) {
			to, err = clockTime(s.Date, u.Shifts[i+1].Starts, loc)
		} else {
			to, err = clockTime(s.Date.AddDays(1), u.Shifts[0].Starts, loc)
		}
		return from, to, err
	}
	return from, to, NotFound("shift", fmt.Sprint(s.Number), "Look at the unit's settings for its shifts.")
}

func clockTime(d Date, hhmm string, loc *time.Location) (time.Time, error) {
	t, err := time.ParseInLocation("2006-01-02 15:04", string(d)+" "+hhmm, loc)
	if err != nil {
		return time.Time{}, Invalid("shift", "Give the date as 2027-03-31 and the start as 06:00.", "%q at %q is not a time", d, hhmm)
	}
	return t, nil
}

func (u *Unit) check() error {
	if u.Name == "" {
		return Invalid("name", "Give the unit's name as it stands on its reports.", "the unit needs a name")
	}
	if _, err := u.Zone(); err != nil {
		return err
	}
	if len(u.Shifts) == 0 {
		return Invalid("shifts", "Give at least one shift with its number and start.", "the unit needs a shift")
	}
	for i, h := range u.Shifts {
		if _, err := time.Parse("15:04", h.Starts); err != nil {
			return Invalid("shifts", "Give the start as 06:00.", "shift %d starts at %q", h.Number, h.Starts)
		}
		if h.Number < 1 || (i > 0 && (h.Number <= u.Shifts[i-1].Number || h.Starts <= u.Shifts[i-1].Starts)) {
			return Invalid("shifts", "List the shifts in the order of the day, numbered from 1.", "shift %d is out of order", h.Number)
		}
	}
	if u.ShortDatedDays < 0 {
		return Invalid("short_dated_days", "Give a number of days.", "days before expiry are below zero")
	}
	return u.Rules.check()
}

// UnitSet changes the unit's settings. It holds all of them.
type UnitSet struct {
	Unit
}

// Kind implements Event.
func (*UnitSet) Kind() string { return "unit.set" }

// Project implements Event.
func (u *UnitSet) Project(w Writer, e journal.Entry) error {
	doc, err := json.Marshal(&u.Unit)
	if err != nil {
		return err
	}
	for _, n := range u.Rules.Needs {
		key := keptKey(n.Category)
		row, err := w.Get(ixUnit, key)
		switch {
		case err != nil:
		case n.Scan && row == nil:
			err = w.Put(ixUnit, key, rowcode.AppendTime(nil, e.Happened))
		case !n.Scan && row != nil:
			err = w.Delete(ixUnit, key)
		}
		if err != nil {
			return err
		}
	}
	v := rowcode.NewEnc(1, len(doc)+16)
	v.Uint(e.Seq)
	v.Blob(doc)
	return w.Put(ixUnit, []byte("unit"), v.Bytes())
}

func keptKey(c Category) []byte { return rowcode.AppendText(nil, "kept", string(c)) }

// KeptSince returns since when the unit's settings ask for a record by lot of a
// category, the zero time if they never said so: treatments opened before may
// lack one without anybody having been asked for it.
func KeptSince(r Reader, c Category) (time.Time, error) {
	row, err := r.Get(ixUnit, keptKey(c))
	if err != nil || row == nil {
		return time.Time{}, err
	}
	k := rowcode.ReadKey(row)
	at := k.Time()
	return at, k.Err()
}

// unitOf returns the unit as it is on record, for whoever has no Book.
func unitOf(r Reader) (*Unit, error) {
	_, doc, err := unitRow(r)
	if err != nil {
		return nil, err
	}
	return decodeUnit(doc)
}

// unitRow returns the unit's document and the entry that set it, nil if none has.
func unitRow(r Reader) (seq uint64, doc []byte, err error) {
	row, err := r.Get(ixUnit, []byte("unit"))
	if err != nil || row == nil {
		return 0, nil, err
	}
	d := rowcode.NewDec(1, row)
	seq, doc = d.Uint(), d.Blob()
	return seq, doc, d.Err()
}

// decodeUnit reads the unit's document; without one it is the default.
func decodeUnit(doc []byte) (*Unit, error) {
	if doc == nil {
		u := DefaultUnit()
		return &u, nil
	}
	u := new(Unit)
	if err := json.Unmarshal(doc, u); err != nil {
		return nil, fmt.Errorf("unit row: %w", err)
	}
	return u, nil
}
