package demo

import (
	"math"
	"time"

	"lotbook/inventory"
)

// firstStock books what is there on the first day: shelves as full as they are
// after a delivery, of one or two lots each.
func (w *world) firstStock() error {
	day := inventory.DateOf(w.now, w.zone)
	var lines []inventory.Received
	book := func(s *shelf, l *lot, n int64) {
		if n <= 0 {
			return
		}
		s.put(l, n)
		lines = append(lines, inventory.Received{
			Stock:    inventory.Stock{Product: l.good.ID, Lot: l.number, Expires: l.expires, Quantity: n},
			To:       s.ID,
			Supplier: "stock at the start",
		})
	}
	for _, g := range w.goods {
		if g.week == 0 {
			continue
		}
		old := w.newLot(g, day)
		old.expires = day.AddDays(day.DaysUntil(old.expires) * 6 / 10) // has lain a while
		fresh := old
		if w.chance(.6) {
			fresh = w.newLot(g, day)
		}
		for _, cart := range w.carts {
			book(cart, old, w.par(g))
		}
		book(w.room, fresh, w.round(g, g.week*1.4))
	}
	// A box at the back of a shelf, forgotten until it has expired.
	g := w.good(saline)
	box := w.newLot(g, day)
	box.kept, box.expires = true, w.o.firstDay(w.zone).AddDays(w.o.Days/4)
	book(w.carts[len(w.carts)-1], box, 3)
	for len(lines) > 0 {
		n := min(len(lines), 40)
		if _, err := w.book.Receive(w.ctx, w.by(clerk), lines[:n]...); err != nil {
			return err
		}
		lines = lines[n:]
	}
	return nil
}

// ordering records how the unit orders: lead times by supplier, all invented.
func (w *world) ordering() error {
	set := inventory.DefaultOrdering()
	for i, m := range makers {
		set.Suppliers = append(set.Suppliers, inventory.SupplierLeadTime{
			Supplier: m.name, LeadTime: inventory.LeadTime{Hours: int64(24 * (5 + 2*i)), SDHours: int64(24 + 12*i)},
		})
	}
	change := inventory.OrderingChange{Unit: &set}
	for _, g := range w.goods {
		if g.ID != trial {
			change.Products = append(change.Products, inventory.ProductOrdering{Product: g.ID, Supplier: g.Maker})
		}
	}
	_, err := w.book.SetOrdering(w.ctx, w.by(clerk), change)
	return err
}

// par is how many pieces of a good a cart is filled up to: what its bay uses in
// a busy day and a third.
func (w *world) par(g *good) int64 {
	day := g.week / float64(w.o.DaysAWeek) / float64(len(w.carts))
	return int64(math.Ceil(day*1.35)) + 4
}

// round returns pieces as whole cases, at least one.
func (w *world) round(g *good, pieces float64) int64 {
	return max(1, int64(math.Ceil(pieces/float64(g.full)))) * g.full
}

// deliver receives the week's delivery, by the case.
func (w *world) deliver() error {
	at := w.now
	day := inventory.DateOf(at, w.zone)
	if w.o.Turnover > 0 { // who is treated has changed
		if err := w.pace(); err != nil {
			return err
		}
	}
	var lines []inventory.Received
	add := func(l *lot, cases int64) {
		g := l.good
		w.room.put(l, cases*g.full)
		lines = append(lines, inventory.Received{
			Stock:    inventory.Stock{GTIN: g.Packs[len(g.Packs)-1].GTIN, Packs: cases, Lot: l.number, Expires: l.expires},
			To:       w.room.ID,
			Supplier: g.Maker,
			Order:    "PO-" + string(day),
		})
	}
	for _, g := range w.goods {
		if g.week == 0 {
			continue
		}
		have := w.room.total(g)
		for _, c := range w.carts {
			have += c.total(g)
		}
		want := g.week*2.2 + 2*float64(len(w.carts)) - float64(have)
		if want <= 0 {
			continue
		}
		cases := w.round(g, want) / g.full
		current := g.lots[len(g.lots)-1]
		switch {
		case current.kept || w.chance(.28): // the next lot
			next := w.newLot(g, day)
			if cases > 1 && !current.kept && w.chance(.35) { // both in one delivery
				add(current, 1)
				cases--
			}
			add(next, cases)
		default:
			add(current, cases)
		}
	}
	if len(lines) == 0 {
		return nil
	}
	record := func() error { return w.bookDelivery(at, lines) }
	switch x := w.rng.Float64(); {
	case x < .7:
		w.plan(at.Add(w.minutes(15, 90)), record)
	case x < .9:
		w.plan(at.Add(w.minutes(180, 480)), record)
	default: // the next morning, with the time of the delivery
		w.plan(at.Add(23*time.Hour), record)
	}
	return nil
}

// bookDelivery records a delivery; now and then one line is wrong at first.
func (w *world) bookDelivery(at time.Time, lines []inventory.Received) error {
	if !w.chance(w.o.Mistyped * 10) {
		_, err := w.book.Receive(w.ctx, w.asOf(clerk, at), lines...)
		return err
	}
	i := w.rng.IntN(len(lines))
	right := lines[i]
	lines[i].Packs++
	receipt, err := w.book.Receive(w.ctx, w.asOf(clerk, at), lines...)
	if err != nil {
		return err
	}
	w.plan(w.now.Add(w.minutes(5, 50)), func() error {
		if _, err := w.book.Correct(w.ctx, w.by(clerk), receipt.Entries[i].Seq, "one case too many written down"); err != nil {
			return err
		}
		_, err := w.book.Receive(w.ctx, w.asOf(clerk, at), right)
		return err
	})
	return nil
}

// restock fills a cart up from the supply room.
func (w *world) restock(cart *shelf) error {
	var lines []inventory.Moved
	for _, g := range w.goods {
		if g.week == 0 {
			continue
		}
		short := w.par(g) - cart.total(g)
		if short <= 0 {
			continue
		}
		if g.inner > 0 && g.inner <= w.par(g) { // by the box
			short = (short + g.inner - 1) / g.inner * g.inner
		}
		for short > 0 {
			l := w.choose(w.room, g.ID, .93, w.sound)
			if l == nil {
				break
			}
			n := min(short, w.room.has(l))
			short -= n
			w.carry(l, n, w.room, cart)
			if w.chance(w.o.Unwritten) {
				w.notWritten("moved", w.room, cart, l, n)
				continue
			}
			lines = append(lines, inventory.Moved{
				Stock: inventory.Stock{Product: g.ID, Lot: l.number, Expires: l.expires, Quantity: n}, From: w.room.ID, To: cart.ID,
			})
		}
	}
	if len(lines) == 0 {
		return nil
	}
	at := w.now
	record := func() error {
		_, err := w.book.Move(w.ctx, w.asOf(clerkEvening, at), lines...)
		return err
	}
	if w.chance(w.o.Late * 2) {
		w.plan(at.Add(w.minutes(60, 600)), record)
		return nil
	}
	return record()
}

// carry moves pieces.
func (w *world) carry(l *lot, n int64, from, to *shelf) {
	from.put(l, -n)
	to.put(l, n)
}

// notWritten notes pieces that went without an entry; to is nil if they are gone.
func (w *world) notWritten(what string, from, to *shelf, l *lot, n int64) {
	x := NotWritten{What: what, At: w.now.UTC(), From: from.ID, Product: l.good.ID, Lot: l.number, Pieces: n}
	if to != nil {
		l.carried = true
		x.To = to.ID
	}
	w.truth.NotWritten = append(w.truth.NotWritten, x)
}

// setAside carries pieces to the quarantine shelf, with an entry.
func (w *world) setAside(actor string, from *shelf, l *lot, n int64) error {
	w.carry(l, n, from, w.quarantine)
	_, err := w.book.Move(w.ctx, w.by(actor), inventory.Moved{
		Stock: inventory.Stock{Product: l.good.ID, Lot: l.number, Expires: l.expires, Quantity: n}, From: from.ID, To: w.quarantine.ID,
	})
	return err
}

// tidy destroys what lies in quarantine and takes what has expired there.
func (w *world) tidy() error {
	today := inventory.DateOf(w.now, w.zone)
	for _, g := range w.goods {
		var gone []pile
		for _, p := range w.quarantine.piles[g.ID] {
			gone = append(gone, *p)
		}
		for _, p := range gone {
			w.quarantine.put(p.lot, -p.n)
			_, err := w.book.Depart(w.ctx, w.by(clerkEvening), inventory.Departed{
				Stock: inventory.Stock{Product: g.ID, Lot: p.lot.number, Quantity: p.n}, From: w.quarantine.ID,
				How: inventory.HowDestroyed, Cause: "expired", Other: "Ivorne Exempla",
			})
			if err != nil {
				return err
			}
		}
		var old []pile
		for _, p := range w.room.piles[g.ID] {
			if p.lot.expires < today {
				old = append(old, *p)
			}
		}
		for _, p := range old {
			if err := w.setAside(clerkEvening, w.room, p.lot, p.n); err != nil {
				return err
			}
		}
	}
	return nil
}
