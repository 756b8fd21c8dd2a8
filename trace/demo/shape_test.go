package demo_test

import (
	"errors"
	"testing"
	"time"

	"lotbook/inventory/account"
	"lotbook/trace/demo"
)

// Units of other sizes, and ends at odd hours, are made and are sound too.
func TestOtherShapes(t *testing.T) {
	for name, change := range map[string]func(*demo.Options){
		"one station, one shift": func(o *demo.Options) { o.Stations, o.Shifts, o.DaysAWeek = 1, 1, 7 },
		"one day":                func(o *demo.Options) { o.Days = 1 },
		"sixty stations":         func(o *demo.Options) { o.Stations, o.Days = 60, 4 },
		"three days a week":      func(o *demo.Options) { o.DaysAWeek, o.Shifts = 3, 2 },
		"until a Sunday":         func(o *demo.Options) { o.Until = time.Date(2026, 11, 22, 16, 0, 0, 0, time.UTC) },
		"until after midnight":   func(o *demo.Options) { o.Until = time.Date(2026, 11, 24, 0, 3, 0, 0, time.UTC) },
		"east of Greenwich":      func(o *demo.Options) { o.TimeZone = "Asia/Tokyo" },
	} {
		t.Run(name, func(t *testing.T) {
			o := small(5, 0.1)
			change(&o)
			m := makeUnit(t, o)
			m.mayLackLots = true
			m.holdAgainstTruth(t)
			if m.Now().After(o.Until) {
				t.Errorf("the unit's clock stands at %s, after %s", m.Now(), o.Until)
			}
		})
	}
}

func TestWhatCannotBeMade(t *testing.T) {
	for name, change := range map[string]func(*demo.Options){
		"no day":       func(o *demo.Options) { o.Days = 0 },
		"four shifts":  func(o *demo.Options) { o.Shifts = 4 },
		"no station":   func(o *demo.Options) { o.Stations = 0 },
		"a rate of 2":  func(o *demo.Options) { o.Miss = 2 },
		"no time zone": func(o *demo.Options) { o.TimeZone = "Nowhere/Quay" },
		"no end":       func(o *demo.Options) { o.Until = time.Time{} },
	} {
		o := small(1, 0)
		change(&o)
		if _, err := demo.Make(ctx, nil, demo.NewClock(o), o); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	m := makeUnit(t, small(1, 0))
	if _, err := demo.Make(ctx, m.Book, demo.NewClock(small(1, 0)), small(1, 0)); !errors.Is(err, demo.ErrNotEmpty) {
		t.Errorf("made twice: %v", err)
	}
}

func TestStaffCanBeUsers(t *testing.T) {
	roles := map[account.Role]bool{}
	for _, p := range demo.Staff() {
		if err := account.CheckID(p.ID); err != nil {
			t.Error(err)
		}
		roles[p.Role] = true
	}
	for _, r := range account.Roles() {
		if !roles[r] {
			t.Errorf("nobody is %s", r)
		}
	}
}
