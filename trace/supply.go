package trace

import (
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// supplies works out what stations were fed from tanks, in one snapshot. It
// keeps what it has read, since an answer asks of many treatments.
type supplies struct {
	b        *Book
	r        inventory.Reader
	stations map[StationID][]Feed
	tanks    map[TankID][]layer
	batches  map[BatchID]*Batch
	any      *bool
}

func newSupplies(b *Book, r inventory.Reader) *supplies {
	return &supplies{b: b, r: r, stations: map[StationID][]Feed{}, tanks: map[TankID][]layer{}, batches: map[BatchID]*Batch{}}
}

func (s *supplies) feeds(st StationID) ([]Feed, error) {
	if list, ok := s.stations[st]; ok {
		return list, nil
	}
	var list []Feed
	err := scanFeeds(s.r, ixFeedStation, rowcode.AppendText(nil, string(st)), func(f *Feed) error {
		list = append(list, *f)
		return nil
	})
	s.stations[st] = list
	return list, err
}

func (s *supplies) layers(t TankID) ([]layer, error) {
	if list, ok := s.tanks[t]; ok {
		return list, nil
	}
	events, err := tankEvents(s.r, t)
	list := layersOf(events)
	s.tanks[t] = list
	return list, err
}

func (s *supplies) batch(id BatchID) (*Batch, error) {
	if b := s.batches[id]; b != nil {
		return b, nil
	}
	b, err := BatchByID(s.r, id)
	if err == nil {
		s.batches[id] = b
	}
	return b, err
}

// category returns what a batch is for.
func (s *supplies) category(id BatchID) (inventory.Category, error) {
	b, err := s.batch(id)
	if err != nil {
		return "", err
	}
	p, err := s.b.Product(s.r, b.Product)
	if err != nil || p == nil {
		return "", err
	}
	return p.Category, nil
}

// kinds returns what a tank's batches were for.
func (s *supplies) kinds(t TankID) (list []inventory.Category, err error) {
	layers, err := s.layers(t)
	for _, l := range layers {
		c, cerr := s.category(l.batch)
		if cerr != nil {
			return nil, cerr
		}
		if !slices.Contains(list, c) {
			list = append(list, c)
		}
	}
	return list, err
}

// A source is a batch that a station was, or may have been, fed from.
type source struct {
	feed  Feed
	batch *Batch
	// from and to are the time in which it was: of the feed and of the batch
	// in the tank; to is zero while it goes on.
	from, to time.Time
	// by are the entries that say what became of the batch in the tank.
	by []uint64
	// sure: it was, all of the time that was asked about, and nothing else of
	// its kind was.
	sure bool
}

// of returns what fed a station with a category in [from, to], as it was
// poured. unknown tells that something may have that is not on record.
func (s *supplies) of(st StationID, c inventory.Category, from, to time.Time) (list []source, unknown bool, err error) {
	feeds, err := s.feeds(st)
	if err != nil {
		return nil, false, err
	}
	tanks := map[TankID]bool{}
	for _, f := range feeds {
		if !f.meets(from, to) {
			continue
		}
		layers, err := s.layers(f.Tank)
		if err != nil {
			return nil, false, err
		}
		begin, end := later(from, f.From), to
		if !f.Until.IsZero() && f.Until.Before(to) {
			end = f.Until
		}
		found, other := false, false
		for _, l := range layers {
			if !l.meets(begin, end) {
				continue
			}
			kind, err := s.category(l.batch)
			if err != nil {
				return nil, false, err
			}
			if kind != c {
				other = true
				continue
			}
			b, err := s.batch(l.batch)
			if err != nil {
				return nil, false, err
			}
			found = true
			tanks[f.Tank] = true
			x := source{feed: f, batch: b, from: later(f.From, l.from), to: sooner(f.Until, l.to), by: l.by}
			x.sure = !f.From.After(from) && (f.Until.IsZero() || !f.Until.Before(to)) && l.throughout(from, to)
			list = append(list, x)
		}
		if !found && !other {
			unknown = true // a tank of which no batch is on record
		}
	}
	if unknown || len(tanks) > 1 {
		for i := range list {
			list[i].sure = false
		}
	}
	return list, unknown, nil
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// sooner returns the sooner of two times, of which zero is never.
func sooner(a, b time.Time) time.Time {
	if a.IsZero() || (!b.IsZero() && b.Before(a)) {
		return b
	}
	return a
}

// A fedGrade is what a treatment's record leaves of the feeds of its station.
type fedGrade struct {
	grade Grade
	why   string
	// excluded says why the treatment took nothing from the feed.
	excluded LeftOutCode
}

// span is the time of a treatment; an open one goes on.
func (t *Treatment) span() (from, to time.Time) {
	if t.End.IsZero() {
		return t.Start, rowcode.MaxTime
	}
	return t.Start, t.End
}

// setupTime is how long a treatment takes to set up, at most: what it began with
// was there by then (15 to 25 minutes are common practice, no source).
const setupTime = time.Hour

// usedBy reports whether a use of a category began by a time.
func (t *Treatment) usedBy(c inventory.Category, at time.Time) bool {
	return slices.ContainsFunc(t.Uses, func(u Use) bool {
		return u.Struck == 0 && u.Counts(c) > 0 && !u.From.After(at)
	})
}

// judge says how surely a treatment took from a source. It did from what fed its
// station, unless its record says that a container was used.
func (s *supplies) judge(t *Treatment, c inventory.Category, x *source) (fedGrade, error) {
	where := fmt.Sprintf("station %s was fed from tank %s", t.Station, x.feed.Tank)
	said, without := false, false
	for _, a := range t.Absences {
		if a.Category == c {
			said, without = said || a.Used, without || !a.Used
		}
	}
	unlotted := false
	for i := range t.Uses {
		u := &t.Uses[i]
		unlotted = unlotted || (u.Struck == 0 && u.Lot == "" && u.Counts(c) > 0)
	}
	missing := slices.ContainsFunc(t.Missing(), func(m Missing) bool { return m.Category == c })
	switch {
	case t.recorded(c) > 0 && !missing && !t.usedBy(c, t.Start.Add(setupTime)):
		return fedGrade{grade: Probable, why: where + "; a container is recorded only from later on"}, nil
	case t.recorded(c) > 0 && !missing:
		return fedGrade{excluded: LeftOutRecorded}, nil
	case t.recorded(c) > 0:
		return fedGrade{grade: Probable, why: where + ", and less is recorded than the treatment needed"}, nil
	case said:
		return fedGrade{grade: Probable, why: where + "; somebody said that a container was used and not recorded"}, nil
	case unlotted:
		return fedGrade{grade: NotExcluded, why: where + "; a container is recorded without a lot"}, nil
	case without:
		return fedGrade{grade: Probable, why: where + ", and the record says that it did without a container"}, nil
	}
	fits, told, err := s.prescribed(t, x.batch, c)
	switch {
	case err != nil:
		return fedGrade{}, err
	case !fits:
		return fedGrade{grade: NotExcluded, why: where + "; another concentrate was prescribed, and no container is recorded"}, nil
	case told:
		return fedGrade{grade: Probable, why: where + "; the nurse was told not to use it, and no container is recorded"}, nil
	case t.End.IsZero():
		return fedGrade{grade: Probable, why: where + ", and the treatment is not closed: a container may still be recorded"}, nil
	case !x.sure:
		return fedGrade{grade: Probable, why: where + ", not surely with this batch, or not all of the time, and no container is recorded"}, nil
	}
	return fedGrade{grade: Confirmed, why: where + " all of the time, and no container is recorded"}, nil
}

// prescribed reports whether a batch is what a treatment was to have; told,
// whether the nurse was stopped from taking what the station was fed with.
func (s *supplies) prescribed(t *Treatment, batch *Batch, c inventory.Category) (fits, told bool, err error) {
	e, err := s.r.Entry(t.Opened)
	if err != nil {
		return false, false, err
	}
	ev, err := s.b.Registry().Decode(e)
	if err != nil {
		return false, false, err
	}
	o := ev.(*Opened)
	for _, sup := range o.Supplied {
		told = told || (sup.Category == c && inventory.HasStop(sup.Findings))
	}
	if c != inventory.AcidConcentrate {
		return true, told, nil
	}
	p, err := s.b.Product(s.r, batch.Product)
	if err != nil || p == nil {
		return false, told, err
	}
	req, _ := t.required(c)
	want, err := s.b.wanted(s.r, &o.Prescription, req)
	return err == nil && !contradicts(want, p.Facts), told, err
}

// only reports whether a treatment surely took what it has no record of from
// what fed its station, and adds what that rests on to gr, unless it is nil.
func (s *supplies) only(g *Gap, gr *grounds) (bool, error) {
	if none, err := s.none(); none || err != nil {
		return false, err
	}
	list, _, err := s.of(g.Station, g.Category, g.Start, g.end())
	if err != nil || len(list) == 0 {
		return false, err
	}
	var t *Treatment
	for i := range list {
		if !list[i].sure {
			continue
		}
		if t == nil {
			if t, err = TreatmentByID(s.r, g.Treatment); err != nil {
				return false, err
			}
		}
		v, err := s.judge(t, g.Category, &list[i])
		if err != nil {
			return false, err
		}
		if v.grade == Confirmed {
			gr.feed(&list[i], g.end())
			return true, nil
		}
	}
	return false, nil
}

// none reports whether no tank ever fed anything.
func (s *supplies) none() (bool, error) {
	if s.any == nil {
		found := false
		err := s.r.Scan(ixFeed, nil, nil, func(_, _ []byte) error {
			found = true
			return inventory.ErrStop
		})
		if err != nil {
			return false, err
		}
		s.any = &found
	}
	return !*s.any, nil
}
