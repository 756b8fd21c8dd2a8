package demo

import (
	"fmt"
	"slices"
	"sync/atomic"
	"time"

	"lotbook/inventory"
)

// Options say what is made. Start from Defaults: a rate of zero means never.
type Options struct {
	// Seed decides everything that is left to chance.
	Seed uint64 `json:"seed"`
	// Days of history, before the day of Until.
	Days int `json:"days"`
	// Stations, 1 to 60; each six share a cart.
	Stations int `json:"stations"`
	// Shifts a day, 1 to 3, and DaysAWeek, 1 to 7, from Monday.
	Shifts    int `json:"shifts"`
	DaysAWeek int `json:"days_a_week"`
	// Until is now: the end of the last day of history is the midnight
	// before it. Nothing is recorded later.
	Until time.Time `json:"until"`
	// TimeZone of the unit, an IANA name.
	TimeZone string `json:"time_zone"`

	// Miss is the share of packs used that nobody scans, 0 to 1; Said is
	// the share of those of which somebody says why.
	Miss float64 `json:"miss"`
	Said float64 `json:"said"`
	// CountErrors is the share of counts with an error.
	CountErrors float64 `json:"count_errors"`
	// WrongLots is the share of these that take a lot for another of the same
	// product; the others are off by up to 3, or overlook the lot.
	WrongLots float64 `json:"wrong_lots,omitempty"`
	// Careless has counts overlook one lot any number of times in a row.
	Careless bool `json:"careless,omitempty"`
	// Carried is the share of lots on a cart of which some is carried to
	// another place in the evening, without a word.
	Carried float64 `json:"carried,omitempty"`
	// Loss is how many pieces are lost without a word for each one used.
	Loss float64 `json:"loss"`
	// Borrowed is the share of packs taken from another cart and not
	// written down; Unwritten the share of the evening's moves that are not.
	Borrowed  float64 `json:"borrowed"`
	Unwritten float64 `json:"unwritten"`
	// Late is the share of entries made hours after the fact, Mistyped of
	// scans with a wrong lot number, struck out later.
	Late     float64 `json:"late"`
	Mistyped float64 `json:"mistyped"`

	// Turnover is the share of the patients who leave in a week, for a stay
	// in hospital or for good.
	Turnover float64 `json:"turnover,omitempty"`

	// Mixed adds a bay that is fed from mixed tanks, kits, numbered vials and
	// a home patient.
	Mixed bool `json:"mixed,omitempty"`

	// Leak is how many pieces of LeakOf vanish from the carts, without a
	// word, for each one used, from the day LeakFrom of history on (the
	// first is 0). It changes nothing else of what chance decides.
	Leak     float64             `json:"leak,omitempty"`
	LeakOf   inventory.ProductID `json:"leak_of,omitempty"`
	LeakFrom int                 `json:"leak_from,omitempty"`
	// ShortRuns is the share of treatments that end 45 to 100 minutes early,
	// beyond those that do anyway.
	ShortRuns float64 `json:"short_runs,omitempty"`
}

// Defaults returns the options of the unit that lotbook demo makes: 90 days, 18
// stations, 3 shifts, 6 days a week, and a few in a hundred of everything.
func Defaults(until time.Time) Options {
	return Options{
		Seed: 1, Days: 90, Stations: 18, Shifts: 3, DaysAWeek: 6, Until: until, TimeZone: "UTC",
		Miss: 0.03, Said: 0.25, CountErrors: 0.12, Loss: 0.001, Borrowed: 0.004, Unwritten: 0.004, Late: 0.015, Mistyped: 0.004,
	}
}

// zone checks the options and returns the unit's time zone.
func (o *Options) zone() (*time.Location, error) {
	within := func(name string, v, from, to int) error {
		if v < from || v > to {
			return fmt.Errorf("demo: %s: %d is not between %d and %d", name, v, from, to)
		}
		return nil
	}
	for _, err := range []error{
		within("days", o.Days, 1, 3660), within("stations", o.Stations, 1, 60),
		within("shifts", o.Shifts, 1, 3), within("days a week", o.DaysAWeek, 1, 7),
	} {
		if err != nil {
			return nil, err
		}
	}
	for _, rate := range []float64{o.Miss, o.Said, o.CountErrors, o.Loss, o.Borrowed, o.Unwritten, o.Late, o.Mistyped, o.Turnover, o.Leak, o.ShortRuns, o.WrongLots, o.Carried} {
		if !(rate >= 0 && rate <= 1) {
			return nil, fmt.Errorf("demo: a rate of %v is not between 0 and 1", rate)
		}
	}
	if known := catalogue(); o.Leak > 0 && !slices.ContainsFunc(known, func(g *good) bool { return g.ID == o.LeakOf }) {
		return nil, fmt.Errorf("demo: there is no product %q to leak; the first is %s", o.LeakOf, known[0].ID)
	}
	if o.LeakFrom < 0 || (o.Leak > 0 && o.LeakFrom >= o.Days) {
		return nil, fmt.Errorf("demo: a leak from day %d on is none of %d days", o.LeakFrom, o.Days)
	}
	if o.Until.IsZero() {
		return nil, fmt.Errorf("demo: it is not said until when")
	}
	zone, err := time.LoadLocation(o.TimeZone)
	if err != nil {
		return nil, fmt.Errorf("demo: %w", err)
	}
	return zone, nil
}

// firstDay is the first day of history.
func (o *Options) firstDay(zone *time.Location) inventory.Date {
	return inventory.DateOf(o.Until, zone).AddDays(-o.Days)
}

// A Clock is the time in the invented unit. Its Now is for the store and the
// book that Make writes to.
type Clock struct{ ns atomic.Int64 }

// NewClock returns a Clock that stands at the morning before the first day of
// history.
func NewClock(o Options) *Clock {
	c := new(Clock)
	zone, err := o.zone()
	if err != nil { // Make says so
		zone = time.UTC
	}
	c.set(clockTime(o.firstDay(zone).AddDays(-1), 9, 0, zone))
	return c
}

// Now returns the time, UTC.
func (c *Clock) Now() time.Time { return time.Unix(0, c.ns.Load()).UTC() }

func (c *Clock) set(t time.Time) { c.ns.Store(t.UnixNano()) }

func clockTime(d inventory.Date, hour, minute int, zone *time.Location) time.Time {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return time.Time{}
	}
	return time.Date(t.Year(), t.Month(), t.Day(), hour, minute, 0, 0, zone)
}

// UnitID returns the id that a seed's unit has: 8 capital letters and digits,
// for boltstore.Options.
func UnitID(seed uint64) string {
	const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	x := (seed + 1) * 0x9e3779b97f4a7c15
	b := []byte("DEMO0000")
	for i := 4; i < len(b); i++ {
		b[i] = letters[x>>59]
		x <<= 5
	}
	return string(b)
}
