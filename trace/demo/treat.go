package demo

import (
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A session is a treatment as it is lived through.
type session struct {
	p      *patient
	nurse  string
	cart   *shelf
	need   map[inventory.Category]inventory.Expectation
	ready  time.Time // the patient is connected
	end    time.Time
	real   int64 // minutes
	absent bool  // the patient does not come
	// Where acid concentrate comes from the loop: since and until when, and
	// what it was drawn from.
	fedSince, fedUntil time.Time
	draws              []drawn
	kit                bool // a kit was taken for it
	truth              *Treatment
}

// planTreatment plans one place of the day's schedule.
func (w *world) planTreatment(day int, shift inventory.Shift, from time.Time, p *patient) {
	if w.chance(.012) { // known beforehand that the patient does not come
		return
	}
	s := &session{p: p, nurse: nurse(day, shift.Number, p.station.bay), cart: p.station.cart}
	s.absent = w.chance(.008)
	setup := from.Add(5*time.Minute + time.Duration(p.station.place)*150*time.Second + w.minutes(0, 2))
	s.ready = setup.Add(w.minutes(20, 25))
	s.real = w.realMinutes(&p.rx)
	if w.o.ShortRuns > 0 && w.planted.Float64() < w.o.ShortRuns {
		s.real = max(60, s.real-45-w.planted.Int64N(56))
	}
	s.end = s.ready.Add(time.Duration(s.real) * time.Minute)
	w.plan(setup, func() error { return w.begin(s) })
}

// realMinutes is how long a treatment lasts: some 3% short of the plan, now and
// then much shorter, and never so long that it needs another container.
func (w *world) realMinutes(rx *inventory.Prescription) int64 {
	real := rx.Minutes - int64(w.between(2, 14))
	switch x := w.rng.Float64(); {
	case x < .03:
		real = rx.Minutes - int64(w.between(30, 90))
	case x < .08:
		real = rx.Minutes + int64(w.between(1, 5))
	}
	if bottles(rx, real) > bottles(rx, rx.Minutes) {
		return rx.Minutes
	}
	return real
}

// bottles is how many bottles of acid concentrate a treatment empties.
func bottles(rx *inventory.Prescription, minutes int64) int64 {
	ul, err := inventory.Mix45X.AcidVolume(inventory.Dialysate(rx.Flow(), minutes) + 15*500)
	if err != nil {
		return 1
	}
	return inventory.SharedPieces(ul, 3785)
}

// open opens the treatment in the book.
func (w *world) open(s *session) error {
	receipt, err := w.book.Open(w.ctx, w.by(s.nurse), trace.Opening{Patient: s.p.id, Station: s.p.station.id})
	if err != nil {
		return err
	}
	ev, err := w.book.Registry().Decode(receipt.Entries[0])
	if err != nil {
		return err
	}
	s.truth = &Treatment{ID: ev.(*trace.Opened).Treatment, Patient: s.p.id, Planned: s.p.rx.Minutes, Real: s.real, Used: map[inventory.Category][]*Use{}}
	w.truth.Treatments = append(w.truth.Treatments, s.truth)
	xs, err := w.unit.Expect(&s.p.rx, s.p.rx.Minutes, w.product)
	if err != nil {
		return err
	}
	s.need = map[inventory.Category]inventory.Expectation{}
	for _, x := range xs {
		s.need[x.Category] = x
	}
	return nil
}

// begin opens a treatment and plans what follows.
func (w *world) begin(s *session) error {
	if err := w.open(s); err != nil {
		return err
	}
	w.treated[s.cart]++
	at := w.now
	step := func(c inventory.Category, after time.Duration) {
		at = at.Add(after)
		w.plan(at, func() error { return w.required(s, c) })
	}
	first := []inventory.Category{inventory.Dialyzer, inventory.BloodlineSet, inventory.AcidConcentrate, inventory.Bicarbonate, inventory.Saline}
	w.rng.Shuffle(len(first), func(i, j int) { first[i], first[j] = first[j], first[i] })
	for _, c := range first {
		step(c, time.Duration(w.between(20, 70))*time.Second)
	}
	if s.absent {
		s.end = s.ready.Add(w.minutes(30, 50))
		w.plan(s.end, func() error { return w.sendHome(s) })
		return nil
	}
	at = s.ready.Add(-4 * time.Minute)
	for _, c := range []inventory.Category{inventory.AccessPack, inventory.FlushSyringe, inventory.FistulaNeedle, inventory.Heparin} {
		step(c, time.Duration(w.between(10, 50))*time.Second)
	}
	at = s.end.Add(-5 * time.Minute)
	for _, c := range []inventory.Category{inventory.LockSolution, inventory.CatheterCap} {
		step(c, time.Duration(w.between(20, 60))*time.Second)
	}
	w.planFurther(s)
	w.plan(s.end, func() error { return w.close(s) })
	return nil
}

// planFurther plans what not every treatment needs.
func (w *world) planFurther(s *session) {
	if bottles(&s.p.rx, s.p.rx.Minutes) > 1 && bottles(&s.p.rx, s.real) > 1 {
		w.plan(s.ready.Add(time.Duration(s.real)*time.Minute*9/10), func() error {
			if !s.fedSince.IsZero() {
				return nil
			}
			return w.take(s, want{category: inventory.AcidConcentrate, product: s.need[inventory.AcidConcentrate].Product, n: 1})
		})
	}
	further := func(c inventory.Category, share float64, from, to int, cause string) {
		if s.need[c].Pieces == 0 || !w.chance(share) {
			return
		}
		w.plan(s.ready.Add(w.minutes(from, to)), func() error {
			return w.take(s, want{category: c, product: s.need[c].Product, n: 1, cause: cause, further: true})
		})
	}
	further(inventory.Saline, .08, 60, 180, "blood pressure fell")
	further(inventory.FistulaNeedle, .03, 1, 4, "failed stick")
	if w.chance(.006) {
		w.plan(s.ready.Add(w.minutes(25, 170)), func() error { return w.clotted(s) })
	}
}

// required takes what the rules ask for of a category.
func (w *world) required(s *session, c inventory.Category) error {
	x, ok := s.need[c]
	if !ok {
		return nil
	}
	want := want{category: c, product: x.Product, n: x.Pieces}
	switch {
	case c == inventory.AcidConcentrate && w.drawsFromLoop(s, x):
		return nil
	case c == inventory.BloodlineSet && w.hasKit(s):
		want.product, s.kit = kit, true
	case c == inventory.FistulaNeedle && s.kit:
		return nil
	case c == inventory.AcidConcentrate:
		want.n = 1 // the second bottle when the first is empty
	case x.Shared:
		return w.dose(s, want, s.p.rx.Heparin.Units(s.p.rx.Minutes))
	case c == inventory.Dialyzer && x.Product == dialyzer18 && s.cart.total(w.good(trial)) > 0 && !w.catalogued && w.chance(.3):
		want.product = trial
	case c == inventory.Dialyzer && w.chance(.004):
		want.product = pick[inventory.ProductID](w, dialyzer14, dialyzer18, dialyzer21)
	}
	return w.take(s, want)
}

// clotted replaces the bloodline set, and half the time the dialyzer.
func (w *world) clotted(s *session) error {
	for _, c := range []inventory.Category{inventory.BloodlineSet, inventory.Dialyzer} {
		if c == inventory.Dialyzer && w.chance(.5) {
			break
		}
		used := s.truth.Used[c]
		if len(used) == 0 {
			continue
		}
		err := w.take(s, want{category: c, product: s.need[c].Product, n: 1, cause: "clotted", further: true, replaces: used[len(used)-1]})
		if err != nil {
			return err
		}
	}
	return nil
}

// close ends a treatment, sometimes with the entry made later.
func (w *world) close(s *session) error {
	at := w.now
	w.drewFromLoop(s)
	record := func() error {
		_, err := w.book.Close(w.ctx, w.asOf(s.nurse, at), trace.Closing{Treatment: s.truth.ID, Minutes: s.real})
		return err
	}
	if w.chance(w.o.Late) {
		w.plan(at.Add(w.minutes(20, 240)), record)
		return nil
	}
	return record()
}

// sendHome closes a treatment whose patient did not come. All that was taken
// for it is thrown away, and what had been recorded becomes waste in the book.
func (w *world) sendHome(s *session) error {
	w.drewFromLoop(s)
	for _, c := range inventory.Categories() {
		for _, u := range s.truth.Used[c] {
			if u.Entry == 0 && u.Pieces > 0 {
				w.truth.NotWritten = append(w.truth.NotWritten, NotWritten{
					What: "thrown_away", At: u.At, From: s.cart.ID, Product: u.Product, Lot: u.Lot, Pieces: u.Pieces,
				})
			}
		}
	}
	s.truth.Used, s.truth.NotDone = nil, true
	_, err := w.book.Close(w.ctx, w.by(s.nurse), trace.Closing{
		Treatment: s.truth.ID, NotDone: true, Note: pick(w, "the patient did not come", "the patient was sent home"),
	})
	return err
}
