package demo

import (
	"time"

	"lotbook/inventory"
)

// scenes are what happens once: a trial product that nobody has put into the
// catalogue, a hold that is lifted again, a forgotten box that has expired.
func (w *world) scenes(day int, date inventory.Date) error {
	at := func(hour, minute int) time.Time { return clockTime(date, hour, minute, w.zone) }
	if day == w.o.Days/4+1 {
		for _, p := range w.carts[len(w.carts)-1].piles[saline] {
			p.lot.kept = false
		}
	}
	if day == w.o.Days/3 {
		w.plan(at(5, 30), func() error { return w.trialArrives(date) })
	}
	if day == w.o.Days*2/3 {
		w.plan(at(5, 20), func() error {
			w.catalogued = true
			_, err := w.book.SetProducts(w.ctx, w.by(administrator), w.good(trial).Product)
			return err
		})
	}
	if day == w.o.Days/2 {
		w.plan(at(9, 30), func() error { return w.holdNeedles(at(16, 0).AddDate(0, 0, 2)) })
	}
	return nil
}

// trialArrives puts a few pieces of a product that is not in the catalogue on a
// cart.
func (w *world) trialArrives(date inventory.Date) error {
	g := w.good(trial)
	l := w.newLot(g, date)
	w.carts[0].put(l, 12)
	_, err := w.book.Receive(w.ctx, w.by(clerk), inventory.Received{
		Stock: inventory.Stock{GTIN: g.Packs[0].GTIN, Lot: l.number, Expires: l.expires, Quantity: 12}, To: w.carts[0].ID, Supplier: g.Maker, Order: "sample",
	})
	return err
}

// holdNeedles puts the lot of needles that came last on hold until it is
// released.
func (w *world) holdNeedles(release time.Time) error {
	lots := w.good(needle15).lots
	if len(lots) == 0 {
		return nil
	}
	l := lots[len(lots)-1]
	l.held = true
	_, err := w.book.Hold(w.ctx, w.by(officer), inventory.Held{Product: needle15, Lots: []string{l.number}, Reason: "a case arrived wet, being looked at"})
	w.plan(release, func() error {
		l.held = false
		_, err := w.book.Release(w.ctx, w.by(officer), inventory.Released{Product: needle15, Lots: []string{l.number}, Reason: "the packs inside are dry and whole"})
		return err
	})
	return err
}

// today opens a few of today's treatments, in different states.
func (w *world) today(date inventory.Date) error {
	pattern, _ := w.pattern(date)
	shift := 1
	if s, err := w.unit.ShiftOf(w.o.Until); err == nil && s.Date == date {
		shift = s.Number
	}
	n := 0
	for _, p := range w.patients {
		if p.pattern != pattern || p.shift != shift || p.away(date) || n == 4 {
			continue
		}
		s := &session{p: p, nurse: nurse(w.o.Days, shift, p.station.bay), cart: p.station.cart}
		state := n
		n++
		w.plan(w.o.Until.Add(-12*time.Minute+time.Duration(n)*90*time.Second), func() error { return w.setUpToday(s, state) })
	}
	return w.run()
}

// setUpToday leaves a treatment of today as it is in the middle of being set up.
func (w *world) setUpToday(s *session, state int) error {
	if err := w.open(s); err != nil {
		return err
	}
	s.truth.Open = true
	miss, late, mistyped := w.o.Miss, w.o.Late, w.o.Mistyped
	w.o.Miss, w.o.Late, w.o.Mistyped = 0, 0, 0 // the nurse is still at it
	defer func() { w.o.Miss, w.o.Late, w.o.Mistyped = miss, late, mistyped }()
	var done []inventory.Category
	switch state {
	case 0:
		done = []inventory.Category{inventory.Dialyzer, inventory.BloodlineSet, inventory.AcidConcentrate, inventory.Bicarbonate, inventory.Saline}
	case 1:
		done = []inventory.Category{inventory.Dialyzer, inventory.BloodlineSet}
	case 2: // the wrong concentrate is under the scanner
		for _, id := range []inventory.ProductID{acidK1, acidK2, acidK3} {
			if l := w.choose(s.cart, id, 1, w.sound); l != nil && id != s.need[inventory.AcidConcentrate].Product {
				_, _, err := w.scan(s, want{category: inventory.AcidConcentrate}, scanOf{lot: l, number: l.number, n: 1, at: w.now})
				return err
			}
		}
	}
	for _, c := range done {
		if err := w.required(s, c); err != nil {
			return err
		}
	}
	return nil
}
