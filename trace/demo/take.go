package demo

import (
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A want is what somebody goes to the cart for.
type want struct {
	category inventory.Category
	product  inventory.ProductID
	n        int64
	// further: beyond what the treatment requires, because of cause; it
	// took over from replaces, if that is not nil.
	further  bool
	cause    string
	replaces *Use
	// opened: a dose from an opened vial of this lot; container is its number,
	// if it has one.
	opened    *lot
	container trace.ContainerID
}

// take fetches pieces and uses them, recorded or not.
func (w *world) take(s *session, x want) error {
	if err := w.mistaken(s, &x); err != nil {
		return err
	}
	for x.n > 0 {
		l, n, err := w.fetch(s, x.product, x.n, usual)
		if err != nil {
			return err
		}
		if l == nil { // none in the whole unit
			return w.without(s, x)
		}
		if (l.expires < inventory.DateOf(w.now, w.zone) || l.held) && !w.chance(w.o.Miss) {
			if err := w.stopped(s, x, l); err != nil {
				return err
			}
			if l, n, err = w.fetch(s, x.product, x.n, w.sound); err != nil {
				return err
			}
			if l == nil {
				return w.without(s, x)
			}
		}
		s.cart.put(l, -n)
		w.leak(s.cart, l, n)
		x.n -= n
		u := &Use{Product: l.good.ID, Lot: l.number, Pieces: n, At: w.now.UTC()}
		s.truth.Used[x.category] = append(s.truth.Used[x.category], u)
		w.unpack(s, l, u)
		if err := w.write(s, x, l, u); err != nil {
			return err
		}
		if err := w.drop(s, l); err != nil {
			return err
		}
	}
	return nil
}

// dose takes a dose from the cart's opened vial, or opens one.
func (w *world) dose(s *session, x want, units int64) error {
	ul := units // at 1,000 units per mL
	v := &s.cart.vial
	if v.lot == nil || v.left < ul || v.lot.held {
		if err := w.closeVial(s.cart, s.nurse); err != nil {
			return err
		}
		if _, err := w.openVial(s); err != nil {
			return err
		}
	}
	if v.lot != nil && v.left >= ul && !v.lot.held {
		v.left -= ul
		x.n, x.opened, x.container = 0, v.lot, v.id
		u := &Use{Product: v.lot.good.ID, Lot: v.lot.number, At: w.now.UTC()}
		s.truth.Used[x.category] = append(s.truth.Used[x.category], u)
		return w.write(s, x, v.lot, u)
	}
	x.n = 1
	if err := w.take(s, x); err != nil {
		return err
	}
	used := s.truth.Used[x.category]
	if len(used) == 0 {
		return nil
	}
	for _, l := range w.good(vial).lots {
		if l.number == used[len(used)-1].Lot {
			v.lot, v.left = l, 10_000-ul
		}
	}
	return nil
}

// fetch brings pieces of one lot to the cart, if they are not there, and
// returns the lot and how many of the n it can give; nil if there are none.
func (w *world) fetch(s *session, id inventory.ProductID, n int64, fit func(*lot) bool) (*lot, int64, error) {
	from := s.cart
	l := (*lot)(nil)
	if len(w.carts) > 1 && w.chance(w.o.Borrowed) {
		if other := pick(w, w.carts...); other != s.cart {
			if l = w.choose(other, id, .9, fit); l != nil {
				from = other
			}
		}
	}
	if l == nil {
		l = w.choose(s.cart, id, .92, fit)
	}
	if l != nil && from == s.cart {
		return l, min(n, from.has(l)), nil
	}
	silent := l != nil // the next cart was nearer, and nobody thinks of it again
	for i := 0; l == nil && i <= len(w.carts); i++ {
		if from = w.room; i < len(w.carts) {
			from = w.carts[(s.p.station.bay+1+i)%len(w.carts)]
		}
		l = w.choose(from, id, .92, fit)
	}
	if l == nil {
		return nil, 0, nil
	}
	n = min(n, from.has(l))
	w.carry(l, n, from, s.cart)
	if silent || (from != w.room && w.chance(w.o.Borrowed*100)) {
		w.notWritten("moved", from, s.cart, l, n)
		return l, n, nil
	}
	_, err := w.book.Move(w.ctx, w.by(s.nurse), inventory.Moved{
		Stock: inventory.Stock{Product: w.named(l), Lot: l.number, Quantity: n}, From: from.ID, To: s.cart.ID,
	})
	return l, n, err
}

// named is the product's id in the book.
func (w *world) named(l *lot) inventory.ProductID {
	if l.good.ID == trial && !w.catalogued {
		return inventory.ProvisionalID(l.good.Packs[0].GTIN)
	}
	return l.good.ID
}

// without records that a treatment does without something.
func (w *world) without(s *session, x want) error {
	if _, ok := s.need[x.category]; !ok || !s.need[x.category].Scan || len(s.truth.Used[x.category]) > 0 {
		return nil
	}
	_, err := w.book.NotRecorded(w.ctx, w.by(s.nurse), trace.Unrecorded{Treatment: s.truth.ID, Category: x.category, Cause: "none left in the unit"})
	return err
}

// leak has pieces of a lot vanish, so many for each one used.
func (w *world) leak(from *shelf, l *lot, used int64) {
	if w.o.Leak == 0 || l.good.ID != w.o.LeakOf || w.now.Before(clockTime(w.o.firstDay(w.zone).AddDays(w.o.LeakFrom), 0, 0, w.zone)) {
		return
	}
	for range used {
		if w.planted.Float64() < w.o.Leak && from.has(l) > 0 {
			from.put(l, -1)
			w.notWritten("leaked", from, nil, l, 1)
		}
	}
}

// drop has a piece of the lot fall down now and then: recorded as waste, or
// lost without a word.
func (w *world) drop(s *session, l *lot) error {
	lost := w.chance(w.o.Loss)
	wasted := w.chance(.003)
	if s.cart.has(l) < 1 || (!lost && !wasted) {
		return nil
	}
	s.cart.put(l, -1)
	if lost {
		w.notWritten("lost", s.cart, nil, l, 1)
		return nil
	}
	_, err := w.book.Waste(w.ctx, w.by(s.nurse), inventory.Wasted{
		Stock: inventory.Stock{Product: w.named(l), Lot: l.number, Expires: l.expires, Quantity: 1},
		From:  s.cart.ID, Cause: pick(w, "dropped", "packaging torn", "leaked at priming"), Treatment: string(s.truth.ID),
	})
	return err
}

// mistaken has somebody fetch the wrong concentrate now and then. If it is
// scanned the book stops it and it goes back; if not, it is used.
func (w *world) mistaken(s *session, x *want) error {
	if x.category != inventory.AcidConcentrate || !w.chance(.006) {
		return nil
	}
	wrong := pick[inventory.ProductID](w, acidK1, acidK2, acidK3)
	l := w.choose(s.cart, wrong, .9, w.sound)
	if wrong == x.product || l == nil {
		return nil
	}
	if w.chance(w.o.Miss) {
		x.product = wrong
		return nil
	}
	return w.stopped(s, *x, l)
}

// stopped scans a pack that meets a stop and is not used: it goes back to the
// cart or, expired, to quarantine.
func (w *world) stopped(s *session, x want, l *lot) error {
	entry, stop, err := w.scan(s, x, scanOf{lot: l, number: l.number, n: 1, at: w.now})
	if err != nil || !stop {
		return err
	}
	if w.chance(.85) {
		_, err := w.book.Answer(w.ctx, w.by(s.nurse), trace.Answer{Treatment: s.truth.ID, Stopped: entry, Reason: "another pack was taken"})
		if err != nil {
			return err
		}
	}
	if l.expires < inventory.DateOf(w.now, w.zone) {
		return w.setAside(s.nurse, s.cart, l, s.cart.has(l))
	}
	return nil
}

// late is how long after the fact an entry is made.
func (w *world) late() time.Duration { return w.minutes(40, 900) }
