package trace

import (
	"slices"
	"time"

	"lotbook/inventory"
)

// A shown is what an entry shows about a line of an answer, in words.
type shown string

const (
	showsOpened     shown = "the treatment, and what it must have recorded by lot"
	showsUse        shown = "the lot was used in the treatment"
	showsOtherUse   shown = "what the treatment used of this kind"
	showsNoLot      shown = "something of this kind was used, without a lot"
	showsAbsence    shown = "what was said of what is not recorded"
	showsStop       shown = "the lot was scanned, met a stop, and nobody said what became of it"
	showsFirst      shown = "the first trace of the lot in the unit"
	showsBefore     shown = "the last trace of the lot before the treatment"
	showsAfter      shown = "the next trace of the lot after the treatment's start"
	showsBrought    shown = "how the lot came to the treatment's place"
	showsLast       shown = "the last trace of the lot in the unit"
	showsCount      shown = "a complete count that found none of the lot"
	showsIn         shown = "pieces of the lot that came in"
	showsOut        shown = "pieces of the lot that were used, wasted or went"
	showsUsedBefore shown = "the lot that was used last at the treatment's place before it started"
	showsUsedNext   shown = "the lot that was used next at the treatment's place"
	showsStoodOpen  shown = "a container that stood open at the treatment's place"
	showsClosed     shown = "when a container of the lot was empty or thrown away"
	showsContent    shown = "what the kit or the batch holds"
	showsBatch      shown = "the batch"
	showsFeed       shown = "the tank fed the station"
	showsFeedEnd    shown = "the feed ended"
	showsTank       shown = "what became of the batch in the tank"
)

// A ground is an entry that a line of an answer rests on, and what it shows.
type ground struct {
	entry uint64
	shows shown
}

// Grounds are what a line of an answer rests on. A nil one collects nothing.
type grounds struct{ list []ground }

// add adds entries that show something, each once; 0 is no entry.
func (gr *grounds) add(shows shown, entries ...uint64) {
	if gr == nil {
		return
	}
	for _, e := range entries {
		if g := (ground{e, shows}); e != 0 && !slices.Contains(gr.list, g) {
			gr.list = append(gr.list, g)
		}
	}
}

// lacking adds what says that a treatment lacks a record.
func (gr *grounds) lacking(r inventory.Reader, g *Gap) error {
	if gr == nil {
		return nil
	}
	t, err := TreatmentByID(r, g.Treatment)
	if err != nil {
		return err
	}
	gr.add(showsOpened, t.Opened)
	for _, a := range t.Absences {
		if a.Category == g.Category {
			gr.add(showsAbsence, a.Entry)
		}
	}
	for i := range t.Uses {
		switch u := &t.Uses[i]; {
		case u.Struck != 0 || u.Counts(g.Category) == 0:
		case u.Lot == "":
			gr.add(showsNoLot, u.Entry)
		default: // so many that it still lacks some
			gr.add(showsOtherUse, u.Entry)
		}
	}
	return nil
}

// feed adds what says that a station was fed from a batch until a time.
func (gr *grounds) feed(x *source, to time.Time) {
	gr.add(showsFeed, x.feed.Entry)
	if !x.feed.Until.IsZero() && x.feed.Until.Before(to) {
		gr.add(showsFeedEnd, x.feed.EndedBy)
	}
	gr.add(showsBatch, x.batch.Entry)
	gr.add(showsTank, x.by...)
}

// present adds what says that the lot may have been in the unit between two
// times, and at a place.
func (gr *grounds) present(p *presence, loc inventory.LocationID, from, to time.Time) {
	gr.add(showsFirst, p.firstSight.entry)
	var here, before, after *sight
	for place, list := range p.sights {
		for i := range list {
			s := &list[i]
			if s.at.After(from) {
				if after == nil || s.at.Before(after.at) {
					after = s
				}
			} else if before == nil || s.at.After(before.at) {
				before = s
			}
			if place == loc && s.brought && !s.at.After(to) && (here == nil || s.at.After(here.at)) {
				here = s
			}
		}
	}
	for _, x := range []struct {
		s     *sight
		shows shown
	}{{before, showsBefore}, {after, showsAfter}, {here, showsBrought}} {
		if x.s != nil {
			gr.add(x.shows, x.s.entry)
		}
	}
}

// absent adds what says that the lot was not in the unit.
func (gr *grounds) absent(r inventory.Reader, a *LotAnswer, c *carrier, code LeftOutCode) error {
	switch code {
	case LeftOutNotYet:
		gr.add(showsFirst, c.pres.firstSight.entry)
		if c.batch != nil {
			gr.add(showsBatch, c.batch.Entry)
		}
	case LeftOutCounted:
		gr.add(showsLast, c.pres.lastSight.entry)
		gr.add(showsCount, c.pres.counts...)
	case LeftOutEnded:
		gr.add(showsBatch, c.batch.Entry, c.batch.EndedBy)
	case LeftOutAccounted:
		for _, l := range c.lots {
			err := inventory.ScanLedger(r, l, func(m *inventory.Movement) error {
				if m.Struck != 0 || m.Entry > a.AsOf.Seq || m.Class == inventory.ClassCounted {
					return nil
				}
				from, to := m.From != "" && !c.pres.away[m.From], m.To != "" && !c.pres.away[m.To]
				switch {
				case to && !from:
					gr.add(showsIn, m.Entry)
				case from && !to:
					gr.add(showsOut, m.Entry)
				}
				return nil
			})
			if err != nil {
				return err
			}
		}
		return gr.opened(r, c)
	}
	return nil
}

// opened adds when the lot's containers came to an end.
func (gr *grounds) opened(r inventory.Reader, c *carrier) error {
	for _, id := range c.pres.opened {
		x, err := ContainerByID(r, id)
		if err != nil {
			return err
		}
		for _, m := range x.Moves {
			gr.add(showsBrought, m.Entry)
		}
		gr.add(showsClosed, x.ClosedBy)
	}
	return nil
}

// through adds what says that a carrier holds the lot asked about.
func (gr *grounds) through(r inventory.Reader, c *carrier) error {
	for ; c != nil && c.holder != nil; c = c.parent {
		l := c.lots[0]
		contents, err := inventory.ContentsOf(r, l)
		if err != nil {
			return err
		}
		for _, x := range contents {
			if c.parent.has(x.Product) {
				gr.add(showsContent, x.Entry)
			}
		}
		if c.batch != nil {
			gr.add(showsBatch, c.batch.Entry)
		}
	}
	return nil
}
