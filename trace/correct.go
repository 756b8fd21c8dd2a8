package trace

import (
	"context"
	"errors"
	"time"

	"lotbook/inventory"
)

// Correct strikes out an entry, as inventory.Book.Correct does. Where the entry
// closed a treatment as not done, what that had turned into waste is used again:
// the wastes are struck out, and each use is recorded anew at its own time.
// Where it made a batch, what went into that and was read of it goes with it.
func (b *Book) Correct(ctx context.Context, call inventory.Call, seq uint64, reason string) (inventory.Receipt, error) {
	type correct struct {
		Seq    uint64
		Reason string
	}
	return b.Record(ctx, call, correct{seq, reason}, func(r inventory.Reader) ([]inventory.Event, error) {
		if err := b.CheckCorrection(r, seq, reason); err != nil {
			return nil, err
		}
		evs := []inventory.Event{&inventory.Corrected{Corrects: seq, Reason: reason}}
		e, err := r.Entry(seq)
		if err != nil {
			return nil, err
		}
		ev, err := b.Registry().Decode(e)
		if err != nil {
			return nil, err
		}
		switch ev := ev.(type) {
		case *BatchMade:
			first, err := b.strikeBatch(r, ev, reason)
			return append(first, evs...), err
		case *Closed:
			if ev.NotDone {
				again, err := b.undoNotDone(r, e.Seq-uint64(e.Part), e.Seq, reason)
				return append(evs, again...), err
			}
		}
		return evs, nil
	})
}

// undoNotDone returns what takes back the entries that came with a closing as
// not done: those from first to the closing.
func (b *Book) undoNotDone(r inventory.Reader, first, closing uint64, reason string) ([]inventory.Event, error) {
	var wastes []inventory.Event
	var uses []formerUse
	for seq := first; seq < closing; seq++ {
		ev, err := b.event(r, seq)
		if err != nil {
			return nil, err
		}
		switch ev := ev.(type) {
		case *inventory.Wasted:
			if by, err := inventory.StruckBy(r, seq); err != nil {
				return nil, err
			} else if by == 0 {
				wastes = append(wastes, &inventory.Corrected{Corrects: seq, Reason: reason})
			}
		case *inventory.Corrected:
			u, err := b.useOf(r, ev.Corrects)
			if err != nil {
				return nil, err
			}
			uses = append(uses, u)
		}
	}
	// The closing struck them out from the last to the first, so this gives
	// them back in their order; what replaced another names its new entry.
	evs := wastes
	entry := map[uint64]uint64{}
	for i := len(uses) - 1; i >= 0; i-- {
		u := uses[i]
		if n, ok := entry[u.use.Replaces]; ok {
			u.use.Replaces = n
		}
		u.use.Answers, u.use.Missing = 0, nil
		// One entry, the correction of the closing, comes before these.
		entry[u.seq] = r.Head().Seq + 1 + uint64(len(evs)) + 1
		evs = append(evs, inventory.Dated{Event: u.use, At: u.at})
	}
	return evs, nil
}

// A formerUse is a use that was struck out.
type formerUse struct {
	seq uint64
	at  time.Time
	use *Used
}

func (b *Book) useOf(r inventory.Reader, seq uint64) (formerUse, error) {
	e, err := r.Entry(seq)
	if err != nil {
		return formerUse{}, err
	}
	ev, err := b.Registry().Decode(e)
	if err != nil {
		return formerUse{}, err
	}
	u, ok := ev.(*Used)
	if !ok {
		return formerUse{}, errors.New("the entry struck out is no use")
	}
	return formerUse{seq, e.Happened, u}, nil
}
