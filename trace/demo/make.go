package demo

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// ErrNotEmpty says that the book has entries of its own already.
var ErrNotEmpty = errors.New("demo: the journal holds treatments already")

// A world is the unit while it is being made.
type world struct {
	ctx   context.Context
	book  *trace.Book
	clock *Clock
	o     Options
	zone  *time.Location
	unit  inventory.Unit
	rng   *rand.Rand
	// planted decides what is planted, so that the rest stays as it is
	// without.
	planted *rand.Rand

	goods    []*good
	byID     map[inventory.ProductID]*good
	lotTaken map[string]bool

	room, quarantine *shelf
	carts            []*shelf
	stations         []*station
	patients         []*patient

	now      time.Time
	lastTask time.Time
	queue    tasks
	planned  int

	truth *Truth
	// catalogued tells that the trial product is in the catalogue.
	catalogued bool
	treated    map[*shelf]int // treatments of the shift so far
	watch      Watch
	mixed      *mixedScene // nil without Options.Mixed
}

// Make plays the unit's history into a book whose clock is the Clock, and
// returns what really happened. The journal may hold users, but no treatments.
// Whatever the book refuses is an error: the demo asks for nothing that a
// person could not.
func Make(ctx context.Context, book *trace.Book, clock *Clock, o Options) (*Truth, error) {
	return MakeWatched(ctx, book, clock, o, nil)
}

// MakeWatched does the same and has somebody watch, if watch is not nil.
func MakeWatched(ctx context.Context, book *trace.Book, clock *Clock, o Options, watch Watch) (*Truth, error) {
	zone, err := o.zone()
	if err != nil {
		return nil, err
	}
	err = book.View(ctx, func(r inventory.Reader) error {
		ps, err := trace.Patients(r)
		if err == nil && len(ps) > 0 {
			return ErrNotEmpty
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	w := &world{
		ctx: ctx, book: book, clock: clock, o: o, zone: zone,
		rng:     rand.New(rand.NewPCG(o.Seed, 0x6c6f74626f6f6b)),
		planted: rand.New(rand.NewPCG(o.Seed, 0x706c616e74)),
		goods:   catalogue(), byID: map[inventory.ProductID]*good{}, lotTaken: map[string]bool{},
		now: clock.Now(), treated: map[*shelf]int{}, watch: watch,
		truth: &Truth{Format: truthFormat, Version: truthVersion, Options: o, CountErrors: []CountError{}, NotWritten: []NotWritten{}, Left: []Left{}, Treatments: []*Treatment{}},
	}
	for _, g := range w.goods {
		w.byID[g.ID] = g
	}
	w.addMixed()
	today := inventory.DateOf(o.Until, zone)
	w.lastTask = clockTime(today, 0, 0, zone).Add(-10 * time.Minute)
	if err := w.setUp(); err != nil {
		return nil, fmt.Errorf("demo: setting up: %w", err)
	}
	for i := range o.Days {
		date := o.firstDay(zone).AddDays(i)
		w.plan(clockTime(date, 0, 30, zone), func() error { return w.planDay(i, date) })
	}
	if err := w.run(); err != nil {
		return nil, fmt.Errorf("demo: %s: %w", w.now.Format(time.RFC3339), err)
	}
	w.lastTask = o.Until
	if err := w.today(today); err != nil {
		return nil, fmt.Errorf("demo: today: %w", err)
	}
	if err := w.problems(); err != nil {
		return nil, fmt.Errorf("demo: problems: %w", err)
	}
	return w.truth, w.sum()
}

// setUp records the unit, its catalogue, people and first stock.
func (w *world) setUp() error {
	w.unit = inventory.DefaultUnit()
	w.unit.Name = "Dialysis Unit Nowhere Quay (invented)"
	w.unit.TimeZone = w.o.TimeZone
	w.unit.Shifts = w.unit.Shifts[:w.o.Shifts]
	w.unit.Defaults = defaults()
	admin := w.by(administrator)
	var products []inventory.Product
	for _, g := range w.goods {
		if g.ID != trial {
			products = append(products, g.Product)
		}
	}
	if _, err := w.book.SetProducts(w.ctx, admin, products...); err != nil {
		return err
	}
	if _, err := w.book.SetUnit(w.ctx, admin, w.unit); err != nil {
		return err
	}
	if err := w.places(); err != nil {
		return err
	}
	if err := w.ordering(); err != nil {
		return err
	}
	w.admit()
	for _, p := range w.patients {
		if _, err := w.book.SetPatient(w.ctx, admin, trace.PatientSet{ID: p.id, Name: p.name}); err != nil {
			return err
		}
		if _, err := w.book.SetPrescription(w.ctx, w.by(nurse(0, 0, 0)), trace.PrescriptionSet{Patient: p.id, Prescription: p.rx}); err != nil {
			return err
		}
	}
	if err := w.pace(); err != nil {
		return err
	}
	for i := range 7 {
		if err := w.schedule(w.o.firstDay(w.zone).AddDays(i)); err != nil {
			return err
		}
	}
	if err := w.firstStock(); err != nil {
		return err
	}
	return w.setUpMixed()
}

// places records the locations, machines and stations.
func (w *world) places() error {
	n := w.o.Stations
	bays := max((n+5)/6, min(2, n))
	w.room = newShelf("room", "Supply room", inventory.SupplyRoom, -1)
	w.quarantine = newShelf("quarantine", "Quarantine shelf", inventory.Quarantine, -1)
	for i := range bays {
		letter := string(rune('A' + i))
		w.carts = append(w.carts, newShelf("cart-"+string(rune('a'+i)), "Cart of bay "+letter, inventory.Cart, i))
	}
	admin := w.by(administrator)
	for _, s := range w.shelves() {
		if _, err := w.book.SetLocation(w.ctx, admin, s.Location); err != nil {
			return err
		}
	}
	place := make([]int, bays)
	for i := range n {
		bay := i * bays / n
		st := &station{
			id: trace.StationID(fmt.Sprintf("S%02d", i+1)), machine: trace.MachineID(fmt.Sprintf("M%02d", i+1)),
			bay: bay, place: place[bay], cart: w.carts[bay],
		}
		place[bay]++
		w.stations = append(w.stations, st)
		if _, err := w.book.SetMachine(w.ctx, admin, trace.Machine{ID: st.machine, Name: fmt.Sprintf("Machine %d", i+1)}); err != nil {
			return err
		}
		if _, err := w.book.SetStation(w.ctx, admin, trace.Station{ID: st.id, Name: fmt.Sprintf("Station %d", i+1), Location: st.cart.ID, Machine: st.machine}); err != nil {
			return err
		}
	}
	return nil
}

// shelves returns all places.
func (w *world) shelves() []*shelf { return append([]*shelf{w.room, w.quarantine}, w.carts...) }

func (w *world) good(id inventory.ProductID) *good { return w.byID[id] }

func (w *world) by(actor string) inventory.Call { return inventory.Call{Actor: actor} }

// asOf is a call about something that happened at a time, now or before.
func (w *world) asOf(actor string, at time.Time) inventory.Call {
	if at.Equal(w.now) {
		return w.by(actor)
	}
	return inventory.Call{Actor: actor, Happened: at}
}

// pattern returns which of the alternate days a date is; ok is false on a day
// of rest.
func (w *world) pattern(date inventory.Date) (pattern int, ok bool) {
	weekday := (int(clockTime(date, 12, 0, time.UTC).Weekday()) + 6) % 7
	today := inventory.DateOf(w.o.Until, w.zone)
	if weekday >= w.o.DaysAWeek {
		return 0, date == today // so that there is something to do
	}
	return weekday % 2, true
}

// schedule records the planned treatments of a day.
func (w *world) schedule(date inventory.Date) error {
	pattern, ok := w.pattern(date)
	if !ok {
		return nil
	}
	var slots []trace.Slot
	for _, p := range w.patients {
		if p.pattern == pattern && !p.away(date) {
			slots = append(slots, trace.Slot{Shift: inventory.Shift{Date: date, Number: p.shift}, Station: p.station.id, Patient: p.id})
		}
	}
	if len(slots) == 0 {
		return nil
	}
	_, err := w.book.Schedule(w.ctx, w.by(nurse(0, 0, 0)), slots...)
	return err
}

// planDay plans what people do on a day of history.
func (w *world) planDay(day int, date inventory.Date) error {
	if err := w.scenes(day, date); err != nil {
		return err
	}
	if err := w.turnover(date); err != nil {
		return err
	}
	w.planWatch(date)
	at := func(hour, minute int) time.Time { return clockTime(date, hour, minute, w.zone) }
	w.plan(at(14, 0), func() error { return w.schedule(date.AddDays(7)) })
	pattern, ok := w.pattern(date)
	if !ok {
		return nil
	}
	w.mixedDay(day, date)
	for n := 1; n <= w.o.Shifts; n++ {
		shift := inventory.Shift{Date: date, Number: n}
		from, _, err := w.unit.Window(shift)
		if err != nil {
			return err
		}
		for _, p := range w.patients {
			if p.pattern == pattern && p.shift == n && !p.away(date) {
				w.planTreatment(day, shift, from, p)
			}
		}
		for _, cart := range w.carts {
			end := from.Add(5*time.Hour + 12*time.Minute + time.Duration(cart.bay)*time.Minute)
			who := nurse(day, n, cart.bay)
			w.plan(end.Add(-3*time.Minute), func() error { return w.endOfShift(cart, who) })
			w.plan(end, func() error { return w.count(cart, &shift, who) })
		}
	}
	for _, cart := range w.carts {
		w.plan(at(22, 35).Add(time.Duration(cart.bay)*time.Minute), func() error {
			w.carryOff(cart)
			return w.restock(cart)
		})
	}
	switch weekday := clockTime(date, 12, 0, time.UTC).Weekday(); {
	case weekday == time.Tuesday || w.o.DaysAWeek < 2:
		w.plan(at(8, 40).Add(w.minutes(0, 60)), w.deliver)
	case weekday == time.Saturday || (w.o.DaysAWeek < 6 && weekday == time.Friday):
		w.plan(at(23, 5), func() error { return w.tidy() })
		w.plan(at(23, 15), func() error { return w.count(w.room, nil, clerkEvening) })
		w.plan(at(23, 25), func() error { return w.count(w.quarantine, nil, clerkEvening) })
	}
	return nil
}

// sum completes the truth.
func (w *world) sum() error {
	for _, s := range w.shelves() {
		for _, g := range w.goods {
			for _, p := range s.piles[g.ID] {
				w.truth.Left = append(w.truth.Left, Left{s.ID, g.ID, p.lot.number, p.n})
			}
		}
	}
	g := w.good(dialyzer18)
	uses := map[string]int{}
	for _, t := range w.truth.Treatments {
		for _, u := range t.Used[inventory.Dialyzer] {
			if u.Product == g.ID {
				uses[u.Lot]++
			}
		}
	}
	w.truth.Notice = Notice{Product: g.ID, GTIN: g.Packs[0].GTIN, Lots: []string{}}
	most := 0
	for _, l := range g.lots {
		if n := uses[l.number]; n > most {
			most, w.truth.Notice.Lots = n, []string{l.number}
		}
	}
	return w.book.View(w.ctx, func(r inventory.Reader) error {
		h := r.Head()
		w.truth.Head = Head{h.Seq, h.Hash.String()}
		return nil
	})
}
