package trace

import (
	"fmt"

	"lotbook/inventory"
)

// explain goes through a treatment's record of one category.
func (p *placeShift) explain(l *Line, x *inventory.Expectation, t *Treatment) {
	var got int64
	for i := range t.Uses {
		u := &t.Uses[i]
		if u.Category != x.Category || u.Struck != 0 {
			continue
		}
		switch {
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
			l.cause(CauseOpenedBefore, 0, -1, t.ID, u.Entry, "from a piece opened for another treatment")
			got++
			continue
		case got+u.Quantity > x.Pieces:
			l.cause(CauseFurther, 0, got+u.Quantity-x.Pieces, t.ID, u.Entry, "beyond what the rule expects")
		}
		got += u.Quantity
	}
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
	short := x.Pieces - got
	if more := said - max(0, short); more > 0 && !x.Shared {
		l.cause(CauseNotRecorded, more, 0, t.ID, 0, "a further one without a lot: "+cause)
	}
	switch {
	case short <= 0:
	case without:
		l.cause(CauseDoneWithout, 0, -short, t.ID, 0, "done without: "+cause)
	case cause != "":
		l.cause(CauseNotRecorded, short, -short, t.ID, 0, "no lot recorded: "+cause)
	default:
		l.cause(CauseNotRecorded, short, -short, t.ID, 0, "no lot recorded, nothing said why")
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

// foreignUse gives the cause of a use that belongs to none of the treatments
// compared.
func (b *Book) foreignUse(r inventory.Reader, l *Line, m *inventory.PlaceMovement) error {
	ev, err := b.event(r, m.Entry)
	if err != nil {
		return err
	}
	if c, ok := ev.(*inventory.Consumed); ok {
		l.cause(CauseOutside, 0, -m.Delta, "", m.Entry, withWhy("used outside treatments", c.Purpose))
	} else {
		l.cause(CauseOtherShift, 0, -m.Delta, "", m.Entry, "used in a treatment of another shift")
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
