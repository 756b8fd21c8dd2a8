package demo

import (
	"fmt"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// write decides what becomes of a use in the book: scanned at once or later,
// typed with a wrong lot and put right, scanned without a lot, or not at all,
// with a word about it or without.
func (w *world) write(s *session, x want, l *lot, u *Use) error {
	if !s.need[x.category].Scan {
		return nil // the unit does not keep it by lot
	}
	code := scanOf{lot: l, number: l.number, n: u.Pieces, at: w.now}
	plain := !x.further && !s.absent && x.container == ""
	if w.chance(w.o.Miss) {
		switch {
		case plain && l.good.ID == x.product && x.opened == nil && w.chance(.04):
			u.NoLot = true
			code.number = ""
		case x.further || w.chance(w.o.Said):
			w.plan(w.now.Add(w.minutes(0, 3)), func() error { return w.say(s, x) })
			return nil
		default:
			return nil
		}
	}
	switch {
	case plain && code.number != "" && w.chance(w.o.Mistyped):
		return w.mistype(s, x, code, u)
	case plain && w.chance(w.o.Late):
		w.plan(w.now.Add(w.late()), func() error { return w.record(s, x, code, u) })
		return nil
	}
	return w.record(s, x, code, u)
}

// say records that something was used and not recorded by lot.
func (w *world) say(s *session, x want) error {
	if s.truth.NotDone {
		return nil
	}
	n := trace.Unrecorded{Treatment: s.truth.ID, Category: x.category, Used: true, Cause: pick(w, "packaging gone", "code torn", "scanner did not read", "no time")}
	if x.cause != "" {
		n.Cause = x.cause + ", " + n.Cause
	}
	if x.replaces != nil {
		n.Replaces = x.replaces.Entry
	}
	_, err := w.book.NotRecorded(w.ctx, w.by(s.nurse), n)
	return err
}

// record scans what was used. A stop is answered with why it is used all the
// same, or by nobody.
func (w *world) record(s *session, x want, code scanOf, u *Use) error {
	entry, stop, err := w.scan(s, x, code)
	if err != nil {
		return err
	}
	if !stop {
		u.Entry = entry
		return nil
	}
	if !x.further && w.chance(.15) {
		u.NoLot = false
		return nil // recorded as stopped, and nobody says what became of it
	}
	receipt, err := w.book.Answer(w.ctx, w.asOf(s.nurse, code.at), trace.Answer{
		Treatment: s.truth.ID, Stopped: entry, Used: true, Reason: pick(w, "nothing else there, physician informed", "agreed with the physician"),
	})
	if err == nil {
		u.Entry = receipt.Entries[0].Seq
	}
	return err
}

// mistype records a wrong lot number, which is struck out and recorded rightly
// later.
func (w *world) mistype(s *session, x want, code scanOf, u *Use) error {
	wrong := code
	b := []byte(code.number)
	i := strings.LastIndexAny(code.number, "0123456789")
	b[i] = '0' + (b[i]-'0'+byte(w.between(1, 9)))%10
	wrong.number, wrong.typed = string(b), true
	entry, stop, err := w.scan(s, x, wrong)
	if err != nil || stop {
		return err // stopped and left so: the right one was never recorded
	}
	w.plan(w.now.Add(w.minutes(2, 400)), func() error {
		if _, err := w.book.Correct(w.ctx, w.by(s.nurse), entry, "lot number mistyped"); err != nil {
			return err
		}
		return w.record(s, x, code, u)
	})
	return nil
}

// A scanOf is what is held under the scanner.
type scanOf struct {
	lot    *lot
	number string // of the lot; not always the right one
	n      int64
	at     time.Time
	typed  bool
}

// scan scans a pack. It returns the entry and whether the scan was stopped.
func (w *world) scan(s *session, x want, c scanOf) (entry uint64, stop bool, err error) {
	g := c.lot.good
	pack := g.Packs[0]
	if c.n > 1 && g.inner > 0 && w.chance(.2) { // the code of the open box
		pack = g.Packs[1]
	}
	sc := trace.Scan{
		Treatment: s.truth.ID, How: trace.Scanned, Category: x.category, OpenedBefore: x.opened != nil, Cause: x.cause,
		Stock: inventory.Stock{GTIN: pack.GTIN, Lot: c.number, Expires: c.lot.expires, Quantity: c.n},
	}
	if x.replaces != nil {
		sc.Replaces = x.replaces.Entry
	}
	if x.container != "" { // its number is scanned, not the pack
		sc.Container, sc.Stock = x.container, inventory.Stock{}
		sc.How = trace.Scanned
		return w.scanned(s, x, c, sc)
	}
	switch p := w.rng.Float64(); {
	case c.typed || p < .02:
		sc.How = trace.Typed
	case p < .06:
		sc.How = trace.Photo
	}
	if x.category == inventory.Dialyzer && sc.How != trace.Typed {
		sc.Serial = fmt.Sprintf("%08d", w.rng.IntN(1e8))
	}
	if c.number == "" {
		sc.Expires, sc.Serial = "", ""
	}
	if sc.How != trace.Typed {
		sc.Code, sc.Order = code(&sc.Stock)
	}
	return w.scanned(s, x, c, sc)
}

// scanned records a scan.
func (w *world) scanned(s *session, x want, c scanOf, sc trace.Scan) (entry uint64, stop bool, err error) {
	receipt, err := w.book.Scan(w.ctx, w.asOf(s.nurse, c.at), sc)
	if err != nil {
		return 0, false, fmt.Errorf("treatment %s, %s: %w", s.truth.ID, x.category, err)
	}
	e := receipt.Entries[0]
	return e.Seq, e.Kind == (*trace.ScanStopped)(nil).Kind(), nil
}

// code is the DataMatrix's content as a scanner sends it: the symbology
// identifier ]d2, then a GS1 element string with the separator U+001D after an
// element of variable length (GS1 General Specifications 7.8.6). order are its
// application identifiers.
func code(k *inventory.Stock) (text string, order []string) {
	text, order = "]d201"+k.GTIN, []string{"01"}
	add := func(before, ai, value string) {
		if value != "" {
			text, order = text+before+ai+value, append(order, ai)
		}
	}
	if k.Expires != "" {
		add("", "17", strings.ReplaceAll(string(k.Expires), "-", "")[2:])
	}
	add("", "10", k.Lot)
	add("\x1d", "21", k.Serial)
	return text, order
}
