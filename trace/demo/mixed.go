package demo

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// The products of the scene with tanks, kits and shared vials.
const (
	bag   = "ACB-K2" // dry acid, four bags make a tank
	mixed = "ACM-K2" // what they make
	kit   = "KIT-AV" // a bloodline set and two needles
)

// The scene's places.
const (
	tankOne   = "TK-1"
	tankTwo   = "TK-2"
	loopLast  = "LOOP-1"
	homeStore = "home-1"
)

// errNoBags says that the scene ran out of bags, which its deliveries prevent.
var errNoBags = errors.New("no bags are left to mix")

// mixedScene is what Options.Mixed adds to the unit: the last bay draws acid
// concentrate from a loop that is fed from mixed tanks, patients with a fistula
// there get a kit, vials are opened as numbered containers, and one patient is
// at home.
type mixedScene struct {
	tanks map[trace.TankID]*vessel
	// feeding is the tank that feeds the loop, nil while nothing does; feed is
	// the entry that says so, 0 if none does yet.
	feeding *vessel
	feed    *fedSince
	// fed are the treatments under way that draw from the loop.
	fed     []*session
	batches int
	vials   int
	kits    map[*lot][]*lot // what a kit's lot holds
	home    trace.PatientID
}

// A vessel is a tank with what really is in it.
type vessel struct {
	id   trace.TankID
	now  []*brew
	held []brewed
}

// A brew is a batch with the lots that really went into it.
type brew struct {
	id     trace.BatchID
	inputs []*lot
}

// A brewed is a batch in a vessel: until is zero while it is in it.
type brewed struct {
	brew        *brew
	from, until time.Time
}

// A fedSince is a feed of the loop, as it happened.
type fedSince struct {
	vessel *vessel
	from   time.Time
	entry  uint64
}

// addMixed adds the scene's products to the catalogue.
func (w *world) addMixed() {
	if !w.o.Mixed {
		return
	}
	add := func(id, name string, c inventory.Category, maker, item int, form string) *good {
		g := &good{full: 12, life: [2]int{300, 600}, form: form}
		g.Product = inventory.Product{
			ID: inventory.ProductID(id), Name: name, Category: c, Maker: makers[maker].name,
			Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtin(0, makers[maker].company, item), Holds: 1}},
		}
		w.goods = append(w.goods, g)
		w.byID[g.ID] = g
		return g
	}
	add(bag, "Dry acid 45X K 2.0 Ca 1.25, bag", inventory.OtherCategory, 1, 201, "DB#####")
	k := add(kit, "Kit, bloodline set and needles 15 G", inventory.BloodlineSet, 2, 202, "KT#####")
	k.Components = []inventory.Component{{Product: linesWith, Pieces: 1}, {Product: needle15, Pieces: 2}}
	w.mixed = &mixedScene{
		tanks: map[trace.TankID]*vessel{tankOne: {id: tankOne}, tankTwo: {id: tankTwo}},
		kits:  map[*lot][]*lot{},
	}
}

// setUpMixed records the scene's tanks, loop, home patient and first stock.
func (w *world) setUpMixed() error {
	if w.mixed == nil {
		return nil
	}
	admin := w.by(administrator)
	facts := inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 2000, Calcium: 1250, IonsKnown: true}
	_, err := w.book.SetProducts(w.ctx, admin, inventory.Product{ID: mixed, Name: "Acid 45X K 2.0 Ca 1.25, mixed", Category: inventory.AcidConcentrate, Facts: facts})
	if err != nil {
		return err
	}
	for _, id := range []trace.TankID{tankOne, tankTwo} {
		if _, err := w.book.SetTank(w.ctx, admin, trace.Tank{ID: id, Name: "Tank " + string(id)}); err != nil {
			return err
		}
	}
	loop := trace.Loop{ID: loopLast, Name: "Loop of the last bay"}
	for _, st := range w.stations {
		if w.onLoop(st) {
			loop.Stations = append(loop.Stations, st.id)
		}
	}
	if _, err := w.book.SetLoop(w.ctx, admin, loop); err != nil {
		return err
	}
	w.mixed.home = "P9001"
	if _, err := w.book.SetPatient(w.ctx, admin, trace.PatientSet{ID: w.mixed.home, Name: "Umbra Homewell"}); err != nil {
		return err
	}
	_, err = w.book.SetLocation(w.ctx, admin, inventory.Location{ID: homeStore, Name: "Home store 1", Type: inventory.HomeStore, Patient: string(w.mixed.home)})
	if err != nil {
		return err
	}
	return w.deliverMixed()
}

func (w *world) onLoop(st *station) bool { return st.bay == len(w.carts)-1 }

// hasKit reports whether a patient's bloodline set and needles come as a kit.
func (w *world) hasKit(s *session) bool {
	rx := &s.p.rx
	return w.mixed != nil && w.onLoop(s.p.station) && rx.Access != inventory.Catheter && !rx.SingleNeedle &&
		rx.Products[inventory.BloodlineSet] == linesWith && rx.Products[inventory.FistulaNeedle] == needle15 &&
		s.cart.total(w.good(kit)) > 0
}

// deliverMixed receives bags and kits. What a kit's lot holds is written down
// with the delivery, days later, without the lots, or not at all.
func (w *world) deliverMixed() error {
	day := inventory.DateOf(w.now, w.zone)
	next := func(g *good, often float64) *lot {
		if n := len(g.lots); n > 0 && !w.chance(often) {
			return g.lots[n-1]
		}
		return w.newLot(g, day)
	}
	b, cart := next(w.good(bag), .5), w.carts[len(w.carts)-1]
	old := len(w.good(kit).lots)
	k := next(w.good(kit), .6)
	w.room.put(b, 24)
	cart.put(k, 20)
	line := func(l *lot, n int64, to inventory.LocationID) inventory.Received {
		return inventory.Received{Stock: inventory.Stock{Product: l.good.ID, Lot: l.number, Expires: l.expires, Quantity: n}, To: to, Supplier: l.good.Maker, Order: "PX-" + string(day)}
	}
	if _, err := w.book.Receive(w.ctx, w.by(clerk), line(b, 24, w.room.ID), line(k, 20, cart.ID)); err != nil {
		return err
	}
	if len(w.good(kit).lots) == old {
		return nil
	}
	return w.packKit(k)
}

// packKit decides what a kit's lot holds and who writes it down.
func (w *world) packKit(k *lot) error {
	var lines []inventory.Stock
	for _, c := range k.good.Components {
		g := w.good(c.Product)
		var l *lot
		if n := len(g.lots); n > 0 && w.chance(.5) {
			l = g.lots[n-1] // the same lot as comes in packs of its own
		} else {
			l = w.newLot(g, inventory.DateOf(w.now, w.zone))
			g.lots = g.lots[:len(g.lots)-1] // only in kits
		}
		w.mixed.kits[k] = append(w.mixed.kits[k], l)
		s := inventory.Stock{Product: g.ID, Lot: l.number}
		if w.chance(w.o.Miss) {
			s.Lot = ""
		}
		lines = append(lines, s)
	}
	if w.chance(w.o.Miss) {
		return nil
	}
	record := func() error {
		_, err := w.book.SetKitContents(w.ctx, w.by(clerk), inventory.Stock{Product: kit, Lot: k.number}, lines...)
		return err
	}
	if w.chance(.4) {
		w.plan(w.now.Add(w.minutes(600, 6000)), record)
		return nil
	}
	return record()
}

// mixedDay plans what the scene adds to a working day.
func (w *world) mixedDay(day int, date inventory.Date) {
	if w.mixed == nil {
		return
	}
	at := func(hour, minute int) time.Time { return clockTime(date, hour, minute, w.zone) }
	if day%7 == 3 {
		w.plan(at(9, 55), w.deliverMixed)
		w.plan(at(15, 5), w.supplyHome)
	}
	use := w.mixed.tanks[[]trace.TankID{tankOne, tankTwo}[(day/4)%2]]
	w.plan(at(4, 40), func() error { return w.brewInto(use) })
	w.plan(at(5, 20), func() error { return w.feedFrom(use, w.now) })
	if w.chance(.35) { // poured in while the loop runs
		w.plan(at(10, 15), func() error { return w.brewInto(use) })
	}
	if w.chance(.3) { // the loop is out for a while
		w.plan(at(13, 10), w.loopOut)
		w.plan(at(15, 40), func() error { return w.feedFrom(use, w.now) })
	}
}

// supplyHome sends dialyzers to the home patient.
func (w *world) supplyHome() error {
	l := w.choose(w.room, dialyzer18, .9, w.sound)
	if l == nil {
		return nil
	}
	n := min(3, w.room.has(l))
	w.room.put(l, -n)
	w.truth.Home = append(w.truth.Home, HomeSupply{Patient: w.mixed.home, Product: l.good.ID, Lot: l.number, Pieces: n, At: w.now.UTC()})
	_, err := w.book.Move(w.ctx, w.by(clerk), inventory.Moved{
		Stock: inventory.Stock{Product: l.good.ID, Lot: l.number, Quantity: n}, From: w.room.ID, To: homeStore,
	})
	return err
}

// brewInto mixes a batch of four bags and pours it into a vessel: emptied
// before, onto the rest, or nobody says which.
func (w *world) brewInto(v *vessel) error {
	m := trace.Mixing{BatchMade: trace.BatchMade{
		Product: mixed, Tank: v.id, Volume: 375_000, MixedBy: string(Staff()[0].Name), CheckedBy: Staff()[1].Name, UseBy: w.now.AddDate(0, 0, 30),
	}}
	b := &brew{}
	for need := int64(4); need > 0; {
		l := w.choose(w.room, bag, .6, w.sound)
		if l == nil {
			if len(b.inputs) == 0 && len(v.now) == 0 {
				return errNoBags
			}
			return nil
		}
		n := min(need, w.room.has(l), int64(w.between(1, 4)))
		w.room.put(l, -n)
		need -= n
		if !slices.Contains(b.inputs, l) {
			b.inputs = append(b.inputs, l)
		}
		in := trace.MixInput{Stock: inventory.Stock{Product: bag, Lot: l.number, Expires: l.expires, Quantity: n}, From: w.room.ID}
		if w.chance(w.o.Miss / 2) {
			in.Lot, in.Expires = "", ""
		}
		m.Inputs = append(m.Inputs, in)
	}
	w.mixed.batches++
	b.id = trace.BatchID(fmt.Sprintf("M%04d", w.mixed.batches))
	m.Batch = b.id
	emptied := len(v.now) == 0 || w.chance(.6)
	if m.Poured = trace.OntoRest; emptied {
		m.Poured = trace.IntoEmpty
		v.empty(w.now)
	}
	if w.chance(w.o.Miss) {
		m.Poured = ""
	}
	if w.chance(.7) {
		m.Readings = []trace.BatchReading{{Conductivity: 13_700 + int64(w.between(0, 500)), PH: 270}}
	}
	v.now = append(v.now, b)
	v.held = append(v.held, brewed{brew: b, from: w.now})
	return w.recordBrew(b, m)
}

// recordBrew writes a batch down, at once or hours later, and now and then with
// a lot mistyped and put right later.
func (w *world) recordBrew(b *brew, m trace.Mixing) error {
	at := w.now
	record := func() error {
		wrong := -1
		if w.chance(w.o.Mistyped*10) && m.Inputs[0].Lot != "" {
			wrong = 0
		}
		right := m.Inputs[0]
		if wrong == 0 {
			m.Inputs[0].Lot += "X"
		}
		receipt, err := w.book.Mix(w.ctx, w.asOf(nurse(0, 0, 0), at), m)
		if err != nil || wrong < 0 {
			return err
		}
		w.plan(w.now.Add(w.minutes(30, 900)), func() error {
			if _, err := w.book.Correct(w.ctx, w.by(clerk), receipt.Entries[1].Seq, "lot mistyped"); err != nil {
				return err
			}
			_, err := w.book.AddInput(w.ctx, w.asOf(clerk, at), b.id, right)
			return err
		})
		return nil
	}
	if w.chance(w.o.Late * 5) {
		w.plan(at.Add(w.minutes(60, 800)), record)
		return nil
	}
	return record()
}

func (v *vessel) empty(at time.Time) {
	for i := range v.held {
		if v.held[i].until.IsZero() {
			v.held[i].until = at
		}
	}
	v.now = nil
}

// feedFrom has a vessel feed the loop, instead of the one that did.
func (w *world) feedFrom(v *vessel, at time.Time) error {
	if w.mixed.feeding == v {
		return nil
	}
	if err := w.endFeed(); err != nil {
		return err
	}
	f := &fedSince{vessel: v, from: at}
	w.mixed.feeding, w.mixed.feed = v, f
	receipt, err := w.book.Feed(w.ctx, w.by(nurse(0, 0, 0)), trace.TankFed{Tank: v.id, Loop: loopLast})
	if err == nil {
		f.entry = receipt.Entries[0].Seq
	}
	return err
}

// endFeed ends the feed of the loop, written down at once or hours later.
func (w *world) endFeed() error {
	f := w.mixed.feed
	if f == nil {
		return nil
	}
	at := w.now
	w.mixed.feeding, w.mixed.feed = nil, nil
	for _, s := range w.mixed.fed {
		if s.fedUntil.IsZero() {
			s.draws = append(s.draws, drawn{f.vessel, later(s.fedSince, f.from), at})
		}
	}
	record := func() error {
		_, err := w.book.EndFeed(w.ctx, w.asOf(nurse(0, 0, 0), at), f.vessel.id, f.entry)
		return err
	}
	if w.chance(w.o.Late*5 + w.o.Miss/4) {
		w.plan(at.Add(w.minutes(30, 900)), record)
		return nil
	}
	return record()
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// loopOut ends the feed; what is under way goes on with bottles.
func (w *world) loopOut() error {
	if w.mixed.feed == nil {
		return nil
	}
	if err := w.endFeed(); err != nil {
		return err
	}
	under := w.mixed.fed
	w.mixed.fed = nil
	for _, s := range under {
		s.fedUntil = w.now
		if !w.now.Before(s.end) || w.now.Before(s.ready.Add(-time.Minute)) && s.absent {
			continue
		}
		x := want{category: inventory.AcidConcentrate, product: s.need[inventory.AcidConcentrate].Product, n: 1}
		if w.chance(.5) {
			x.further, x.cause = true, "the loop is out"
		}
		if err := w.take(s, x); err != nil {
			return err
		}
	}
	return nil
}

// A drawn is a time in which a treatment drew from a vessel.
type drawn struct {
	vessel   *vessel
	from, to time.Time
}

// drawsFromLoop begins to draw acid concentrate from the loop, if it can.
func (w *world) drawsFromLoop(s *session, x inventory.Expectation) bool {
	if w.mixed == nil || w.mixed.feed == nil || !w.onLoop(s.p.station) || x.Product != acidK2 {
		return false
	}
	s.fedSince = later(w.now, s.ready.Add(-5*time.Minute))
	w.mixed.fed = append(w.mixed.fed, s)
	return true
}

// drewFromLoop puts into the truth what a treatment that ends drew from the loop.
func (w *world) drewFromLoop(s *session) {
	if s.fedSince.IsZero() {
		return
	}
	if f := w.mixed.feed; f != nil && s.fedUntil.IsZero() {
		s.draws = append(s.draws, drawn{f.vessel, later(s.fedSince, f.from), w.now})
	}
	w.mixed.fed = slices.DeleteFunc(w.mixed.fed, func(o *session) bool { return o == s })
	seen := map[string]bool{}
	add := func(p inventory.ProductID, number string) {
		if seen[string(p)+number] {
			return
		}
		seen[string(p)+number] = true
		s.truth.Used[inventory.AcidConcentrate] = append(s.truth.Used[inventory.AcidConcentrate], &Use{Product: p, Lot: number, At: w.now.UTC(), Through: "loop"})
	}
	for _, d := range s.draws {
		for _, h := range d.vessel.held {
			if !h.from.Before(d.to) || (!h.until.IsZero() && !h.until.After(d.from)) || !d.from.Before(d.to) {
				continue
			}
			add(mixed, string(h.brew.id))
			for _, l := range h.brew.inputs {
				add(bag, l.number)
			}
		}
	}
}

// unpack puts into the truth what came in a kit.
func (w *world) unpack(s *session, l *lot, u *Use) {
	if w.mixed == nil || l.good.ID != kit {
		return
	}
	for _, c := range w.mixed.kits[l] {
		cat := c.good.Category
		s.truth.Used[cat] = append(s.truth.Used[cat], &Use{Product: c.good.ID, Lot: c.number, At: u.At, Through: "kit " + l.number})
	}
}

// openVial opens a numbered vial at the cart; ok is false where nobody writes
// that down, or there is none.
func (w *world) openVial(s *session) (ok bool, err error) {
	if w.mixed == nil || w.chance(w.o.Miss) {
		return false, nil
	}
	l, _, err := w.fetch(s, vial, 1, w.sound)
	if l == nil || err != nil {
		return false, err
	}
	s.cart.put(l, -1)
	w.mixed.vials++
	v := &s.cart.vial
	v.lot, v.left, v.id = l, 10_000, trace.ContainerID(fmt.Sprintf("V%04d", w.mixed.vials))
	_, err = w.book.OpenContainer(w.ctx, w.by(s.nurse), trace.ContainerOpened{
		Container: v.id, Stock: inventory.Stock{Product: vial, Lot: l.number, Expires: l.expires}, From: s.cart.ID,
	})
	return err == nil, err
}

// closeVial has the opened vial thrown away, mostly with an entry.
func (w *world) closeVial(cart *shelf, who string) error {
	id := cart.vial.id
	if cart.vial.id = ""; id == "" || w.chance(w.o.Miss) {
		return nil
	}
	_, err := w.book.CloseContainer(w.ctx, w.by(who), trace.ContainerClosed{Container: id, How: trace.ContainerDiscarded})
	return err
}
