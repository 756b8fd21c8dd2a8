package trace

import (
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// presence works out when the carrier may have been in the unit, and where. A
// batch in a tank is nowhere as a pack; one filled into jugs is there from when
// it was made until its rest was gone.
func (c *carrier) presence(r inventory.Reader, zone *time.Location) error {
	if c.product != nil {
		c.pres.shared = c.product.Facts.Shared
	}
	switch {
	case c.batch == nil:
		return c.pres.finish(r, zone)
	case c.batch.Tank != "":
		return nil
	}
	c.pres.first, c.pres.last, c.pres.ended = c.batch.Made, c.batch.Ended, LeftOutEnded
	if c.pres.last.IsZero() {
		c.pres.last = rowcode.MaxTime
	}
	c.pres.spans = map[inventory.LocationID][]span{}
	for loc := range c.pres.sights {
		c.pres.spans[loc] = []span{{c.pres.first, c.pres.last}}
	}
	if len(c.pres.spans) == 0 {
		c.pres.spans[""] = nil // somewhere
	}
	return nil
}

// gradeFed lists the treatments at stations that were fed with a batch: in the
// time when it was in its tank and the tank fed the station.
func (b *Book) gradeFed(r inventory.Reader, a *LotAnswer, c *carrier, s *supplies) error {
	if c.batch == nil || c.batch.Tank == "" {
		return nil
	}
	kind, err := s.category(c.batch.ID)
	if err != nil {
		return err
	}
	feeds, err := b.BatchFeeds(r, c.batch)
	if err != nil {
		return err
	}
	done := map[TreatmentID]bool{}
	for _, f := range feeds {
		from, to := f.From, f.Until
		if to.IsZero() {
			to = rowcode.MaxTime
		}
		a.within(from, to)
		at := map[StationID]bool{}
		for _, st := range f.Feed.Stations {
			at[st] = true
		}
		if to.Before(rowcode.MaxTime) {
			to = to.Add(1)
		}
		err := ScanStarts(r, from.Add(-longest), to, func(t *Treatment) error {
			if !at[t.Station] || t.Struck != 0 || t.NotDone || done[t.ID] || (!t.End.IsZero() && t.End.Before(from)) {
				return nil
			}
			done[t.ID] = true
			return b.gradeFedAt(r, a, c, s, t, kind)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// gradeFedAt grades one treatment at a station that was fed with a batch.
func (b *Book) gradeFedAt(r inventory.Reader, a *LotAnswer, c *carrier, s *supplies, t *Treatment, kind inventory.Category) error {
	start, end := t.span()
	sources, _, err := s.of(t.Station, kind, start, end)
	if err != nil {
		return err
	}
	var best fedGrade
	var from *source
	for i := range sources {
		if sources[i].batch.ID != c.batch.ID {
			continue
		}
		v, err := s.judge(t, kind, &sources[i])
		if err != nil {
			return err
		}
		if from == nil || (v.grade != "" && surer(v.grade, best.grade)) {
			best, from = v, &sources[i]
		}
	}
	if from == nil {
		return nil
	}
	g := t.gap(Missing{Category: kind})
	if best.excluded != "" {
		a.leaveOut(&g, best.excluded)
		return nil
	}
	a.leaveIn(&g)
	p, err := PatientByID(r, t.Patient)
	if err != nil {
		return err
	}
	x := Exposure{
		Grade: best.grade, Patient: t.Patient, Name: p.Name, Treatment: t.ID, Start: t.Start, Machine: t.Machine, Station: t.Station,
		Product: c.id, Lot: c.lots[0].Number, From: later(start, from.from), How: Fed, By: from.batch.By, Entry: from.batch.Entry,
		Why: fmt.Sprintf("%s, which held batch %s", best.why, c.batch.ID),
	}
	if until := from.to; !until.IsZero() && until.Before(end) {
		x.Until = until
	}
	if x = c.exposure(a, x); x.Grade == Confirmed {
		a.fed = append(a.fed, x)
	} else {
		a.unrecorded(x)
	}
	return nil
}
