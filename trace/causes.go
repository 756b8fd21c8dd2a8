package trace

import (
	"fmt"

	"lotbook/inventory"
)

// An expected treatment is what one should have used, by its real length and by
// the planned one.
type expected struct {
	t     *Treatment
	real  []inventory.Expectation
	plans map[inventory.Category]inventory.Expectation
	// sup is what the treatment's station was fed with from tanks.
	sup []Supply
}

// expectedOf returns what a treatment should have used. One that is still open
// has its planned length only.
func (b *Book) expectedOf(r inventory.Reader, t *Treatment) (*expected, error) {
	rx, err := b.PrescriptionOf(r, t)
	if err != nil {
		return nil, err
	}
	u, err := b.Unit(r)
	if err != nil {
		return nil, err
	}
	product := func(id inventory.ProductID) (*inventory.Product, error) { return b.Product(r, id) }
	plans, err := u.Expect(rx, rx.Minutes, product)
	if err != nil {
		return nil, err
	}
	e := &expected{t: t, real: plans, plans: map[inventory.Category]inventory.Expectation{}}
	for _, x := range plans {
		e.plans[x.Category] = x
	}
	if t.Closed && t.Minutes != rx.Minutes {
		if e.real, err = u.Expect(rx, t.Minutes, product); err != nil {
			return nil, err
		}
	}
	e.sup, err = b.SuppliesOf(r, t, b.Now())
	return e, err
}

// sharedVolume adds up what treatments took of a product that they share, µL.
type sharedVolume struct{ real, planned int64 }

// treatment adds what a treatment should have used and what its record says
// about the difference.
func (p *placeSpan) treatment(e *expected) {
	asked := map[inventory.Category]bool{}
	for i := range e.real {
		x := &e.real[i]
		if asked[x.Category] = x.Product != ""; !asked[x.Category] {
			continue // the unit names no product: nothing to compare with
		}
		plan := e.plans[x.Category]
		l := p.line(x.Product)
		if x.Shared {
			v := p.shared[x.Product]
			p.shared[x.Product] = sharedVolume{v.real + x.Volume, v.planned + plan.Volume}
		}
		l.Treatments++
		l.Expected += x.Pieces
		l.Planned += plan.Pieces
		l.Volume += x.Volume
		l.PlannedVolume += plan.Volume
		p.explain(l, x, &plan, e.t, feeds(e.sup, x.Category))
		p.elsewhere(x.Category, e.t)
	}
	for i := range e.t.Uses {
		if u := &e.t.Uses[i]; u.Struck == 0 && !asked[u.Category] {
			p.line(u.Product).cause(CauseFurther, 0, u.Quantity, e.t.ID, u.Entry, withWhy("the rules ask for none of this kind, or name no product", u.Cause))
			p.away(u, e.t)
		}
	}
}

// explain goes through a treatment's record of one category.
func (p *placeSpan) explain(l *Line, x, plan *inventory.Expectation, t *Treatment, fed bool) {
	got := p.recorded(l, x, plan, t)
	p.runLength(l, x, plan, t)
	if !x.Scan {
		if left := x.Pieces - got; left > 0 {
			l.cause(CauseNoRecordRule, left, -left, t.ID, 0, "the unit does not keep this by lot")
		}
		return
	}
	p.lacking(l, x, plan, t, got, fed)
}

// recorded explains what is on record beyond what the rule expects, and returns
// how many pieces of what it expects are.
func (p *placeSpan) recorded(l *Line, x, plan *inventory.Expectation, t *Treatment) (got int64) {
	for i := range t.Uses {
		u := &t.Uses[i]
		if u.Struck != 0 || u.Counts(x.Category) == 0 {
			continue
		}
		switch {
		case u.Category != x.Category:
			n := u.Counts(x.Category)
			l.cause(CauseInKit, 0, -min(n, max(0, x.Pieces-got)), t.ID, u.Entry, "came in a kit, "+string(u.Product))
			got += n
			continue
		case u.Product != x.Product:
			p.line(u.Product).cause(CauseOtherProduct, 0, u.Quantity, t.ID, u.Entry, "used instead of "+string(x.Product))
			l.cause(CauseOtherProduct, 0, -min(u.Quantity, max(0, x.Pieces-got)), t.ID, u.Entry, string(u.Product)+" was used instead")
		case u.Replaces != 0:
			l.cause(CauseReplacement, 0, u.Quantity, t.ID, u.Entry, "replaced one in mid-treatment: "+u.Cause)
			continue
		case u.Cause != "":
			l.cause(CauseFurther, 0, u.Quantity, t.ID, u.Entry, "beyond what the rule expects: "+u.Cause)
			continue
		case x.Shared:
		case u.Quantity == 0:
			if got < x.Pieces {
				l.cause(CauseOpenedBefore, 0, -1, t.ID, u.Entry, "from a piece opened for another treatment")
			}
			got++
			continue
		case got+u.Quantity > x.Pieces:
			beyond := got + u.Quantity - max(x.Pieces, got)
			if hung := min(got+u.Quantity, plan.Pieces) - max(x.Pieces, got); hung > 0 {
				l.cause(CauseShortRun, 0, hung, t.ID, u.Entry, runText(t)+": what the plan asked for was hung, and the real length did not need it")
				beyond -= hung
			}
			if beyond > 0 {
				l.cause(CauseFurther, 0, beyond, t.ID, u.Entry, "beyond what the rule expects")
			}
		}
		got += u.Quantity
	}
	return got
}

// lacking explains what of a rule's expectation is not on record.
func (p *placeSpan) lacking(l *Line, x, plan *inventory.Expectation, t *Treatment, got int64, fed bool) {
	var cause string
	var said int64
	without := false
	for _, a := range t.Absences {
		if a.Category != x.Category {
			continue
		}
		if cause = a.Cause; !a.Used {
			without = true
		} else if a.Replaces != 0 {
			l.cause(CauseNotRecorded, 1, 0, t.ID, a.Entry, "a replacement without a lot: "+a.Cause)
		} else {
			said++
		}
	}
	if x.Shared {
		p.lackingShared(l, x, t, without, cause)
		return
	}
	short := x.Pieces - got
	if more := said - max(0, short); more > 0 {
		l.cause(CauseNotRecorded, more, 0, t.ID, 0, "a further one without a lot: "+cause)
	}
	long := min(short, max(0, x.Pieces-plan.Pieces))
	switch {
	case short <= 0:
	case fed && got == 0 && cause == "":
		l.cause(CauseFed, 0, -short, t.ID, 0, "the station was fed from a tank")
	case without:
		l.cause(CauseDoneWithout, 0, -short, t.ID, 0, "done without: "+cause)
	case cause == "" && long > 0:
		l.cause(CauseLongRun, long, -long, t.ID, 0, runText(t)+": the real length needs another one, and no lot of it is recorded")
		if short > long {
			l.cause(CauseNotRecorded, short-long, long-short, t.ID, 0, "no lot recorded, nothing said why")
		}
	case cause != "":
		l.cause(CauseNotRecorded, short, -short, t.ID, 0, "no lot recorded: "+cause)
	default:
		l.cause(CauseNotRecorded, short, -short, t.ID, 0, "no lot recorded, nothing said why")
	}
}

// lackingShared names a treatment without a record of something shared. It may
// have begun a piece or not, so that it accounts for none.
func (p *placeSpan) lackingShared(l *Line, x *inventory.Expectation, t *Treatment, without bool, cause string) {
	for i := range t.Uses {
		if u := &t.Uses[i]; u.Category == x.Category && u.Struck == 0 {
			return
		}
	}
	if without {
		l.cause(CauseDoneWithout, 0, 0, t.ID, 0, "done without: "+cause)
		return
	}
	l.cause(CauseNotRecorded, 0, 0, t.ID, 0, withWhy("no lot recorded, which may have begun another piece", cause))
}

// notableRun is from how many minutes on a run that lasted longer or shorter
// than planned is named when it changed no piece: common practice, no source.
const notableRun = 15

// runLength names a run whose real length made a difference to the volume.
func (p *placeSpan) runLength(l *Line, x, plan *inventory.Expectation, t *Treatment) {
	d := t.Minutes - t.Planned
	if !t.Closed || x.Volume == plan.Volume || (d < notableRun && d > -notableRun && x.Pieces == plan.Pieces) {
		return
	}
	kind := CauseLongRun
	if d < 0 {
		kind = CauseShortRun
	}
	text := fmt.Sprintf("%s: %s instead of %s by the rule", runText(t), inventory.Litres(x.Volume), inventory.Litres(plan.Volume))
	if x.Pieces != plan.Pieces {
		text += fmt.Sprintf(", %d instead of %d", x.Pieces, plan.Pieces)
	}
	l.Causes = append(l.Causes, Cause{Kind: kind, Treatment: t.ID, Volume: x.Volume - plan.Volume, Text: text})
}

func runText(t *Treatment) string {
	return fmt.Sprintf("the run lasted %d of %d min planned", t.Minutes, t.Planned)
}

// elsewhere explains what of a category's record is not in this place's books
// of the span.
func (p *placeSpan) elsewhere(c inventory.Category, t *Treatment) {
	for i := range t.Uses {
		if u := &t.Uses[i]; u.Category == c && u.Struck == 0 {
			p.away(u, t)
		}
	}
}

// away explains a use that was taken from another place, or that happened
// before or after the counts that the place is compared between.
func (p *placeSpan) away(u *Use, t *Treatment) {
	if u.Quantity == 0 {
		return
	}
	switch {
	case u.Location != p.loc:
		p.line(u.Product).cause(CauseOtherPlace, 0, -u.Quantity, t.ID, u.Entry, "taken from "+string(u.Location))
	case p.inOpening(u.From, u.Entry):
		p.line(u.Product).cause(CauseOutsideCount, 0, -u.Quantity, t.ID, u.Entry, "used before the count that this starts from")
	case u.From.After(p.to):
		p.line(u.Product).cause(CauseOutsideCount, 0, -u.Quantity, t.ID, u.Entry, "used after the end of what is compared here")
	}
}

// saidAtCount adds what a person said at a count about a difference.
func (l *Line) saidAtCount(c *inventory.Counted, m *inventory.PlaceMovement, book int64) {
	if m.Counted == book {
		return
	}
	why := c.Cause
	for _, line := range c.Lines {
		if line.Product == m.Lot.Product && line.Lot == m.Lot.Number && line.Cause != "" {
			why = line.Cause
		}
	}
	if why != "" {
		l.cause(CauseCount, 0, 0, "", m.Entry, fmt.Sprintf("said at the count of lot %s, %d found for %d: %s", m.Lot.Number, m.Counted, book, why))
	}
}

// foreignUse gives the cause of a use that belongs to none of the place's
// treatments.
func (b *Book) foreignUse(r inventory.Reader, p *placeSpan, l *Line, m *inventory.PlaceMovement) error {
	ev, err := b.event(r, m.Entry)
	if err != nil {
		return err
	}
	switch u := ev.(type) {
	case *inventory.Consumed:
		l.cause(CauseOutside, 0, -m.Delta, "", m.Entry, withWhy("used outside treatments", u.Purpose))
	case *Used:
		if other := p.of.treatments[u.Treatment]; other != nil && other != p {
			l.cause(CauseOtherPlace, 0, -m.Delta, u.Treatment, m.Entry, "used in a treatment at "+string(other.loc))
			return nil
		}
		l.cause(CauseOtherShift, 0, -m.Delta, u.Treatment, m.Entry, "used in a treatment of another shift")
	case *BatchInput:
		l.cause(CauseMixed, 0, -m.Delta, "", m.Entry, "went into batch "+string(u.Batch))
	case *ContainerOpened: // what several treatments are expected to draw
	default:
		l.cause(CauseOutside, 0, -m.Delta, "", m.Entry, "used")
	}
	return nil
}

// wasteCause gives the cause of a waste.
func (b *Book) wasteCause(r inventory.Reader, l *Line, m *inventory.PlaceMovement) error {
	ev, err := b.event(r, m.Entry)
	if err != nil {
		return err
	}
	var id TreatmentID
	why := ""
	if w, ok := ev.(*inventory.Wasted); ok {
		id, why = TreatmentID(w.Treatment), w.Cause
	}
	l.cause(CauseWasted, 0, -m.Delta, id, m.Entry, withWhy("wasted", why))
	return nil
}

func withWhy(what, why string) string {
	if why == "" {
		return what
	}
	return what + ": " + why
}

func (b *Book) event(r inventory.Reader, seq uint64) (inventory.Event, error) {
	e, err := r.Entry(seq)
	if err != nil {
		return nil, err
	}
	return b.Registry().Decode(e)
}
