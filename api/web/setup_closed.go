package web

import (
	"errors"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A closedForm puts a closing right.
type closedForm struct {
	Entry   uint64 // of the closing
	NotDone bool
	Minutes int64
}

// searched is how many entries are looked at for a closing: what a large unit
// writes in some days.
const searched = 50000

// closingOf returns the entry that closed a treatment, ErrNoEntry if it is not
// found. The journal is in the order of recording, so the search begins at the
// treatment's end.
func (p *Pages) closingOf(r inventory.Reader, t *trace.Treatment) (seq uint64, c *trace.Closed, by string, err error) {
	from, to := t.Opened, r.Head().Seq
	// A clock may have gone a little ahead when the end was said.
	for at := t.End.Add(-15 * time.Minute); from < to; {
		mid := from + (to-from)/2
		e, err := r.Entry(mid)
		if err != nil {
			return 0, nil, "", err
		}
		if e.Recorded.Before(at) {
			from = mid + 1
		} else {
			to = mid
		}
	}
	for seq = from; seq <= r.Head().Seq && seq < from+searched; seq++ {
		e, err := r.Entry(seq)
		if err != nil {
			return 0, nil, "", err
		}
		if e.Kind != (*trace.Closed)(nil).Kind() {
			continue
		}
		ev, err := p.Book.Registry().Decode(e)
		if err != nil {
			return 0, nil, "", err
		}
		struck, err := inventory.StruckBy(r, seq)
		if err != nil {
			return 0, nil, "", err
		}
		if c, ok := ev.(*trace.Closed); ok && c.Treatment == t.ID && struck == 0 {
			return seq, c, e.Actor, nil
		}
	}
	return 0, nil, "", inventory.ErrNoEntry
}

// closed says that the treatment is closed, and offers to put that right.
func (b *setupBuilder) closed() error {
	p, t := b.page, b.t
	p.State = "closed"
	seq, c, by, err := b.p.closingOf(b.r, t)
	if err != nil && !errors.Is(err, inventory.ErrNoEntry) {
		return err
	}
	who := ""
	if err == nil {
		p.Closed = &closedForm{Entry: seq, NotDone: t.NotDone, Minutes: t.Minutes}
		who = " by " + b.who(by)
	}
	at := b.k.near(t.End, t.Start)
	if !t.NotDone {
		p.StateText = "Closed at " + at + " after " + itoa(t.Minutes) + " min" + who + ". What is found out later can still be recorded."
		return nil
	}
	p.NotDone = true
	p.StateText = "Did not take place: closed at " + at + who + "."
	if c != nil && c.Note != "" {
		p.StateText += " " + sentence(c.Note)
	}
	p.StateText += " What had been prepared is recorded as wasted."
	return nil
}

// setupReclose closes a treatment again with another length: its closing is
// struck out, and a further one recorded at the same time of day. Both have a
// key of their own made from the form's.
func (p *Pages) setupReclose(f *setupForm) (inventory.Receipt, error) {
	minutes, err := f.number("minutes")
	if err != nil {
		return inventory.Receipt{}, err
	}
	seq, err := f.number("entry")
	if err != nil {
		return inventory.Receipt{}, err
	}
	ev, err := p.own(f, seq)
	if err != nil {
		return inventory.Receipt{}, err
	}
	c, ok := ev.(*trace.Closed)
	if !ok || minutes < 1 || minutes > 24*60 {
		return inventory.Receipt{}, inventory.Invalid("minutes", "Give the real length in minutes.", "a length of %d minutes", minutes)
	}
	var end time.Time
	err = p.Book.View(f.c.Request.Context(), func(r inventory.Reader) error {
		e, err := r.Entry(seq)
		end = e.Happened
		return err
	})
	if err != nil {
		return inventory.Receipt{}, err
	}
	key := f.value.Get("key")
	if _, err := p.Book.Correct(f.c.Request.Context(), f.id.Call(key+".1"), seq, "another length: "+itoa(minutes)+" min"); err != nil {
		return inventory.Receipt{}, err
	}
	call := f.id.Call(key + ".2")
	call.Happened = end
	return p.Book.Close(f.c.Request.Context(), call, trace.Closing{Treatment: f.t, Minutes: int64(minutes), Note: strings.TrimSpace(c.Note)})
}
