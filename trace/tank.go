package trace

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A TankID names a tank.
type TankID string

// A Tank is a vessel from which a loop or stations draw concentrate. What is in
// it follows from the batches poured into it and from when it was emptied.
type Tank struct {
	ID   TankID `json:"id"`
	Name string `json:"name"`
}

// TankSet adds a tank or renames it.
type TankSet struct{ Tank }

// Kind implements inventory.Event.
func (*TankSet) Kind() string { return "tank.set" }

// Project implements inventory.Event.
func (t *TankSet) Project(w inventory.Writer, _ journal.Entry) error {
	return putDoc(w, ixTank, string(t.ID), &t.Tank)
}

// Tanks returns all tanks by id.
func Tanks(r inventory.Reader) ([]Tank, error) { return listDocs[Tank](r, ixTank) }

// TankByID returns a tank, or a Refusal that is inventory.ErrNotFound.
func TankByID(r inventory.Reader, id TankID) (*Tank, error) {
	t := new(Tank)
	return t, getDoc(r, ixTank, "tank", string(id), t)
}

// A LoopID names a loop.
type LoopID string

// A Loop is the stations that one line feeds together.
type Loop struct {
	ID       LoopID      `json:"id"`
	Name     string      `json:"name"`
	Stations []StationID `json:"stations"`
}

// LoopSet adds a loop or changes it. A feed keeps the stations that the loop
// had when the feed was recorded.
type LoopSet struct{ Loop }

// Kind implements inventory.Event.
func (*LoopSet) Kind() string { return "loop.set" }

// Project implements inventory.Event.
func (l *LoopSet) Project(w inventory.Writer, _ journal.Entry) error {
	return putDoc(w, ixLoop, string(l.ID), &l.Loop)
}

// Loops returns all loops by id.
func Loops(r inventory.Reader) ([]Loop, error) { return listDocs[Loop](r, ixLoop) }

// LoopByID returns a loop, or a Refusal that is inventory.ErrNotFound.
func LoopByID(r inventory.Reader, id LoopID) (*Loop, error) {
	l := new(Loop)
	return l, getDoc(r, ixLoop, "loop", string(id), l)
}

// A Feed is the time in which a tank fed stations.
type Feed struct {
	Entry    uint64      `json:"entry"`
	Tank     TankID      `json:"tank"`
	Loop     LoopID      `json:"loop,omitempty"`
	Stations []StationID `json:"stations"`
	From     time.Time   `json:"from"`
	// Until is zero while, or if, it went on.
	Until time.Time `json:"until,omitzero"`
	By    string    `json:"by"`
	// EndedBy is the entry that ended it, 0 if the entry that began it says
	// when it ended.
	EndedBy uint64 `json:"ended_by_entry,omitempty"`
}

// TankFed says that a tank feeds stations from now on, or fed them until a
// time.
type TankFed struct {
	Tank     TankID              `json:"tank"`
	Loop     LoopID              `json:"loop,omitempty"`
	Stations []StationID         `json:"stations"`
	Until    time.Time           `json:"until,omitzero"`
	Findings []inventory.Finding `json:"findings,omitempty"`
}

// Kind implements inventory.Event.
func (*TankFed) Kind() string { return "tank.fed" }

func feedKey(e uint64) []byte { return rowcode.AppendNumber(nil, e) }

func feedStationKey(s StationID, e uint64) []byte {
	return rowcode.AppendNumber(rowcode.AppendText(nil, string(s)), e)
}

func feedTankKey(t TankID, e uint64) []byte {
	return rowcode.AppendNumber(rowcode.AppendText(nil, string(t)), e)
}

// Project implements inventory.Event.
func (f *TankFed) Project(w inventory.Writer, e journal.Entry) error {
	for _, s := range f.Stations {
		if err := w.Put(ixFeedStation, feedStationKey(s, e.Seq), nil); err != nil {
			return err
		}
	}
	if err := w.Put(ixFeedTank, feedTankKey(f.Tank, e.Seq), nil); err != nil {
		return err
	}
	return putFeed(w, &Feed{Entry: e.Seq, Tank: f.Tank, Loop: f.Loop, Stations: f.Stations, From: e.Happened, Until: f.Until, By: e.Actor})
}

// Void implements inventory.Voider.
func (f *TankFed) Void(w inventory.Writer, e, _ journal.Entry) error {
	for _, s := range f.Stations {
		if err := w.Delete(ixFeedStation, feedStationKey(s, e.Seq)); err != nil {
			return err
		}
	}
	if err := w.Delete(ixFeedTank, feedTankKey(f.Tank, e.Seq)); err != nil {
		return err
	}
	return w.Delete(ixFeed, feedKey(e.Seq))
}

func putFeed(w inventory.Writer, f *Feed) error {
	doc, err := json.Marshal(f)
	if err != nil {
		return err
	}
	return w.Put(ixFeed, feedKey(f.Entry), doc)
}

// feedOf returns a feed that stands, nil if there is none.
func feedOf(r inventory.Reader, entry uint64) (*Feed, error) {
	row, err := r.Get(ixFeed, feedKey(entry))
	if err != nil || row == nil {
		return nil, err
	}
	f := new(Feed)
	return f, json.Unmarshal(row, f)
}

// FeedEnded says that a feed ended.
type FeedEnded struct {
	Feed uint64 `json:"feed"`
	Tank TankID `json:"tank"`
}

// Kind implements inventory.Event.
func (*FeedEnded) Kind() string { return "tank.feed_ended" }

// Project implements inventory.Event.
func (f *FeedEnded) Project(w inventory.Writer, e journal.Entry) error {
	return f.end(w, e.Happened, e.Seq)
}

// Void implements inventory.Voider: the feed goes on. One that was struck out
// itself stays so.
func (f *FeedEnded) Void(w inventory.Writer, _, _ journal.Entry) error {
	return f.end(w, time.Time{}, 0)
}

func (f *FeedEnded) end(w inventory.Writer, at time.Time, by uint64) error {
	feed, err := feedOf(w, f.Feed)
	if err != nil || feed == nil {
		return err
	}
	feed.Until, feed.EndedBy = at, by
	return putFeed(w, feed)
}

// scanFeeds calls fn for the feeds that stand, of a station or of a tank, in
// the order in which they were recorded.
func scanFeeds(r inventory.Reader, ix inventory.Index, prefix []byte, fn func(*Feed) error) error {
	return r.Scan(ix, prefix, nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		entry := k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		f, err := feedOf(r, entry)
		if err != nil || f == nil {
			return err
		}
		return fn(f)
	})
}

// FeedsOf returns a tank's feeds that stand, as recorded.
func FeedsOf(r inventory.Reader, t TankID) (list []Feed, err error) {
	err = scanFeeds(r, ixFeedTank, rowcode.AppendText(nil, string(t)), func(f *Feed) error {
		list = append(list, *f)
		return nil
	})
	return list, err
}

// TankEmptied says that a tank was emptied: what it held feeds nobody from then
// on.
type TankEmptied struct {
	Tank TankID `json:"tank"`
	Note string `json:"note,omitempty"`
}

// Kind implements inventory.Event.
func (*TankEmptied) Kind() string { return "tank.emptied" }

// Project implements inventory.Event.
func (t *TankEmptied) Project(w inventory.Writer, e journal.Entry) error {
	return putTankEvent(w, t.Tank, e, tankEvent{})
}

// Void implements inventory.Voider.
func (t *TankEmptied) Void(w inventory.Writer, e, _ journal.Entry) error {
	return w.Delete(ixTankEvent, tankEventKey(t.Tank, e))
}

// SetTank records a tank, new or renamed.
func (b *Book) SetTank(ctx context.Context, call inventory.Call, t Tank) (inventory.Receipt, error) {
	return b.Record(ctx, call, t, func(inventory.Reader) ([]inventory.Event, error) {
		return []inventory.Event{&TankSet{t}}, checkName("tank", string(t.ID), t.Name)
	})
}

// SetLoop records a loop, new or changed.
func (b *Book) SetLoop(ctx context.Context, call inventory.Call, l Loop) (inventory.Receipt, error) {
	return b.Record(ctx, call, l, func(r inventory.Reader) ([]inventory.Event, error) {
		if err := checkName("loop", string(l.ID), l.Name); err != nil {
			return nil, err
		}
		return []inventory.Event{&LoopSet{l}}, haveStations(r, l.Stations)
	})
}

// haveStations says whether there are stations, each on record and named once.
func haveStations(r inventory.Reader, list []StationID) error {
	if len(list) == 0 {
		return inventory.Invalid("stations", "Name the stations.", "there are no stations")
	}
	for i, s := range list {
		if _, err := StationByID(r, s); err != nil {
			return err
		}
		if slices.Contains(list[:i], s) {
			return inventory.Invalid("stations", "Name each station once.", "station %s is named twice", s)
		}
	}
	return nil
}

// Feed records that a tank feeds a loop or stations from the call's time on.
// That another tank feeds one of them at the same time is a finding: until that
// feed is ended, both are taken to have fed it.
func (b *Book) Feed(ctx context.Context, call inventory.Call, f TankFed) (inventory.Receipt, error) {
	return b.Record(ctx, call, f, func(r inventory.Reader) ([]inventory.Event, error) {
		ev := f
		ev.Findings = nil
		if _, err := TankByID(r, f.Tank); err != nil {
			return nil, err
		}
		if f.Loop != "" {
			l, err := LoopByID(r, f.Loop)
			if err != nil {
				return nil, err
			}
			if len(f.Stations) > 0 && !slices.Equal(f.Stations, l.Stations) {
				return nil, inventory.Invalid("stations", "Name the loop or the stations.", "loop %s has other stations than are named", f.Loop)
			}
			ev.Stations = l.Stations
		}
		if err := haveStations(r, ev.Stations); err != nil {
			return nil, err
		}
		from := b.when(call)
		if !ev.Until.IsZero() {
			ev.Until = ev.Until.UTC()
			if !ev.Until.After(from) {
				return nil, inventory.Invalid("until", "Give the time when the feed ended.", "the feed can't end at %s, it began at %s", ev.Until.Format(time.RFC3339), from.Format(time.RFC3339))
			}
		}
		return []inventory.Event{&ev}, b.feedFindings(r, &ev, from)
	})
}

// when is a call's time.
func (b *Book) when(call inventory.Call) time.Time {
	if call.Happened.IsZero() {
		return b.Now()
	}
	return call.Happened.UTC()
}

// feedFindings says which other feeds a station has in the time of a new one.
func (b *Book) feedFindings(r inventory.Reader, ev *TankFed, from time.Time) error {
	until := ev.Until
	if until.IsZero() {
		until = rowcode.MaxTime
	}
	s := newSupplies(b, r)
	kinds, err := s.kinds(ev.Tank)
	if err != nil {
		return err
	}
	for _, st := range ev.Stations {
		feeds, err := s.feeds(st)
		if err != nil {
			return err
		}
		for _, f := range feeds {
			if !f.overlaps(from, until) {
				continue
			}
			other, err := s.kinds(f.Tank)
			if err != nil {
				return err
			}
			if f.Tank != ev.Tank && len(kinds) > 0 && len(other) > 0 && !slices.ContainsFunc(other, func(c inventory.Category) bool { return slices.Contains(kinds, c) }) {
				continue // acid concentrate from one, bicarbonate from the other
			}
			ev.Findings = append(ev.Findings, inventory.Finding{
				Code: inventory.FindingFedTwice, Level: inventory.Caution,
				Message: fmt.Sprintf("By entry %d tank %s feeds station %s in that time too. If that feed was over, end it; until then both are taken to have fed the station.", f.Entry, f.Tank, st),
			})
		}
	}
	return nil
}

// overlaps reports whether the feed and a time have more than an instant in
// common, meets whether they have that.
func (f *Feed) overlaps(from, to time.Time) bool {
	return f.From.Before(to) && (f.Until.IsZero() || f.Until.After(from))
}

func (f *Feed) meets(from, to time.Time) bool {
	return !f.From.After(to) && (f.Until.IsZero() || !f.Until.Before(from))
}

// EndFeed records that a feed ended at the call's time.
func (b *Book) EndFeed(ctx context.Context, call inventory.Call, tank TankID, entry uint64) (inventory.Receipt, error) {
	ev := FeedEnded{Feed: entry, Tank: tank}
	return b.Record(ctx, call, ev, func(r inventory.Reader) ([]inventory.Event, error) {
		f, err := feedOf(r, entry)
		if err != nil {
			return nil, err
		}
		at := b.when(call)
		switch {
		case f == nil || f.Tank != tank:
			return nil, inventory.NotFound("feed", fmt.Sprint(entry), "Give the entry of a feed of this tank that stands.")
		case !f.Until.IsZero():
			return nil, inventory.Conflict("feed_ended", "Strike out the entry that ended it, if its time was wrong.", "the feed of entry %d ended at %s already", entry, f.Until.Format(time.RFC3339))
		case !at.After(f.From):
			return nil, inventory.Invalid("at", "Give the time when the feed ended.", "the feed can't end at %s, it began at %s", at.Format(time.RFC3339), f.From.Format(time.RFC3339))
		}
		return []inventory.Event{&ev}, nil
	})
}

// EmptyTank records that a tank was emptied at the call's time.
func (b *Book) EmptyTank(ctx context.Context, call inventory.Call, t TankEmptied) (inventory.Receipt, error) {
	return b.Record(ctx, call, t, func(r inventory.Reader) ([]inventory.Event, error) {
		_, err := TankByID(r, t.Tank)
		return []inventory.Event{&t}, err
	})
}
