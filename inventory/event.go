package inventory

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"lotbook/inventory/journal"
)

// An Event is the content of a journal entry: what happened, in the words of
// one kind. Its JSON form is the entry's body and is never changed once a
// version that writes it has been released; a new member is optional.
//
// Project writes the rows that the entry derives. It MUST depend on nothing
// but the entry and the rows derived from the entries before it, since verify
// runs it again over the whole journal and compares.
type Event interface {
	Kind() string
	Project(w Writer, e journal.Entry) error
}

// A Voider is an Event that a correction can strike out. Void writes the rows
// as they would be if the entry e had never been written, and leaves a mark of
// the correction c wherever the entry is listed.
type Voider interface {
	Event
	Void(w Writer, e, c journal.Entry) error
}

// ErrUnknownKind says that the journal holds a kind of entry that this version
// does not know.
var ErrUnknownKind = errors.New("unknown kind of entry")

// ErrCannotCorrect says that an entry can't be struck out: its kind has no
// effects of its own to take back, or it has been struck out already.
var ErrCannotCorrect = errors.New("this entry can't be struck out")

// A Registry knows the kinds of entries of all packages. It is made once, by
// whoever opens the store, and not changed.
type Registry struct {
	kinds map[string]func() Event
}

// NewRegistry returns a Registry of the given kinds. Each function returns a
// new, empty Event to decode into. Two of the same kind are a mistake in the
// program, and it panics.
func NewRegistry(kinds ...[]func() Event) *Registry {
	g := &Registry{kinds: make(map[string]func() Event)}
	for _, list := range kinds {
		for _, f := range list {
			k := f().Kind()
			if _, dup := g.kinds[k]; dup {
				panic("two kinds of entry are called " + k)
			}
			g.kinds[k] = f
		}
	}
	return g
}

// Decode returns the Event that an entry's body holds.
func (g *Registry) Decode(e journal.Entry) (Event, error) {
	f, ok := g.kinds[e.Kind]
	if !ok {
		return nil, fmt.Errorf("entry %d: %w: %s", e.Seq, ErrUnknownKind, e.Kind)
	}
	ev := f()
	if err := json.Unmarshal(e.Body, ev); err != nil {
		return nil, fmt.Errorf("entry %d (%s): %w", e.Seq, e.Kind, err)
	}
	return ev, nil
}

// Project derives the rows of an entry read from a journal.
func (g *Registry) Project(w Writer, e journal.Entry) error {
	ev, err := g.Decode(e)
	if err != nil {
		return err
	}
	return g.project(w, e, ev)
}

func (g *Registry) project(w Writer, e journal.Entry, ev Event) error {
	if c, ok := ev.(*Corrected); ok {
		if err := g.strikeOut(w, e, c); err != nil {
			return err
		}
	}
	return ev.Project(w, e)
}

// strikeOut takes back what the entry named by a correction derived.
func (g *Registry) strikeOut(w Writer, e journal.Entry, c *Corrected) error {
	first, err := w.Entry(c.Corrects)
	if err != nil {
		return err
	}
	ev, err := g.Decode(first)
	if err != nil {
		return err
	}
	v, ok := ev.(Voider)
	if !ok {
		return fmt.Errorf("entry %d (%s): %w", first.Seq, first.Kind, ErrCannotCorrect)
	}
	return v.Void(w, first, e)
}

// Draft makes a Draft of an event; happened zero means now.
func (g *Registry) Draft(ev Event, happened time.Time) (Draft, error) {
	body, err := json.Marshal(ev)
	if err != nil {
		return Draft{}, fmt.Errorf("%s: %w", ev.Kind(), err)
	}
	return Draft{
		Kind:     ev.Kind(),
		Happened: happened,
		Body:     body,
		Rows:     func(w Writer, e journal.Entry) error { return g.project(w, e, ev) },
	}, nil
}

// A Dated is an event that happened at another time than the rest of what is
// recorded with it.
type Dated struct {
	Event
	At time.Time
}

// Drafts makes Drafts of several events that happened at the same time, but for
// those that are Dated.
func (g *Registry) Drafts(happened time.Time, evs ...Event) ([]Draft, error) {
	ds := make([]Draft, len(evs))
	for i, ev := range evs {
		at := happened
		if d, ok := ev.(Dated); ok {
			ev, at = d.Event, d.At
		}
		d, err := g.Draft(ev, at)
		if err != nil {
			return nil, err
		}
		ds[i] = d
	}
	return ds, nil
}
