package inventory

import (
	"context"
	"math"
	"slices"
	"time"
)

// Count records what was found at a location. With Complete set, every lot
// that the book has there and no line names is recorded as found 0.
func (b *Book) Count(ctx context.Context, call Call, c Counted) (Receipt, error) {
	return b.Record(ctx, call, c, func(r Reader) ([]Event, error) {
		ev := c
		var err error
		if ev.Lines, err = b.countLines(r, call, &c); err != nil {
			return nil, err
		}
		rules, err := CountingOf(r)
		if err != nil {
			return nil, err
		}
		for i := range ev.Lines {
			l := &ev.Lines[i]
			l.Recount = !rules.tolerates(l.Counted, l.Book)
		}
		at := call.Happened
		if at.IsZero() {
			at = b.now()
		}
		return []Event{&ev}, b.checkShift(r, ev.Shift, at)
	})
}

// checkShift says whether a count can close a shift: one that is days away is a
// slip.
func (b *Book) checkShift(r Reader, s *Shift, at time.Time) error {
	if s == nil {
		return nil
	}
	u, err := b.Unit(r)
	if err != nil {
		return err
	}
	from, to, err := u.Window(*s)
	if err != nil {
		return err
	}
	if at.Before(from.Add(-12*time.Hour)) || at.After(to.Add(24*time.Hour)) {
		return Invalid("shift", "Name the shift that the count closes, or give the time when it was counted.", "a count of %s can't close %s", at.UTC().Format(time.RFC3339), s)
	}
	return nil
}

func (b *Book) countLines(r Reader, call Call, c *Counted) ([]CountLine, error) {
	l, err := LocationByID(r, c.Location)
	if err != nil {
		return nil, err
	}
	if err := inHouse(l); err != nil {
		return nil, err
	}
	var lines []CountLine
	at := map[Lot]int{}
	for _, l := range c.Lines {
		if l.Counted < 0 {
			return nil, Invalid("counted", "Give the pieces that were found, 0 or more.", "a count of %d", l.Counted)
		}
		s := Stock{Product: l.Product, Lot: l.Lot, Expires: l.Expires, Quantity: 1}
		if err := b.resolve(r, &s); err != nil {
			return nil, err
		}
		if i, ok := at[s.lot()]; ok {
			lines[i].Counted += l.Counted
			continue
		}
		at[s.lot()] = len(lines)
		l.Product, l.Lot, l.Book, l.Unnamed = s.Product, s.Lot, 0, false
		lines = append(lines, l)
	}
	now, err := b.momentOf(r, call)
	if err != nil {
		return nil, err
	}
	if c.Complete {
		var there []Balance
		if call.Happened.IsZero() { // nothing is later: what is there now
			there, err = OnHand(r, c.Location, "")
		} else {
			there, err = thereBefore(r, c.Location, now)
		}
		if err != nil {
			return nil, err
		}
		for _, bal := range there {
			if _, ok := at[bal.Lot]; !ok {
				lines = append(lines, CountLine{Product: bal.Lot.Product, Lot: bal.Lot.Number, Unnamed: true})
			}
		}
	}
	if len(lines) == 0 && !c.Complete {
		return nil, Invalid("lines", "Give what was found, or say that the count is complete.", "the count has no lines")
	}
	for i := range lines {
		var err error
		if lines[i].Book, err = balanceBefore(r, c.Location, Lot{lines[i].Product, lines[i].Lot}, now); err != nil {
			return nil, err
		}
	}
	return slices.Clip(lines), nil
}

// momentOf returns the moment of an entry that is about to be written.
func (b *Book) momentOf(r Reader, call Call) (moment, error) {
	m := moment{call.Happened, math.MaxUint64}
	if !m.at.IsZero() {
		return m, nil
	}
	m.at = b.now()
	if head := r.Head(); head.Seq > 0 {
		last, err := r.Entry(head.Seq)
		if err != nil {
			return m, err
		}
		if m.at.Before(last.Recorded) { // a clock that went back doesn't take the journal with it
			m.at = last.Recorded
		}
	}
	return m, nil
}

// Correct strikes out an entry. Reason is for whoever reads the journal later.
func (b *Book) Correct(ctx context.Context, call Call, seq uint64, reason string) (Receipt, error) {
	type correct struct {
		Seq    uint64
		Reason string
	}
	return b.Record(ctx, call, correct{seq, reason}, func(r Reader) ([]Event, error) {
		if err := b.CheckCorrection(r, seq, reason); err != nil {
			return nil, err
		}
		return []Event{&Corrected{Corrects: seq, Reason: reason}}, nil
	})
}

// CheckCorrection says whether an entry can be struck out, in a Refusal if not.
func (b *Book) CheckCorrection(r Reader, seq uint64, reason string) error {
	if reason == "" {
		return Invalid("reason", "Say what was wrong.", "a correction needs a reason")
	}
	e, err := r.Entry(seq)
	if err != nil {
		return NotFound("entry", itoa(seq), "Look up the number of the entry that is wrong.")
	}
	ev, err := b.reg.Decode(e)
	if err != nil {
		return err
	}
	if _, ok := ev.(Voider); !ok {
		return Conflict("cannot_correct", "Record what is true now instead: it takes the place of this.", "entry %d (%s) has nothing to take back", seq, e.Kind)
	}
	by, err := StruckBy(r, seq)
	if err != nil {
		return err
	}
	if by != 0 {
		return Conflict("struck_out", "There is nothing left to do.", "entry %d was struck out by entry %d already", seq, by)
	}
	return nil
}
