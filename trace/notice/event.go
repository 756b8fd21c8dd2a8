package notice

import (
	"encoding/json"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// ixNotice holds the notices: notice -> State.
const ixNotice inventory.Index = "notice"

// Events returns the kinds of entries of this package, for a Registry beside
// inventory.Events and trace.Events.
func Events() []func() inventory.Event {
	return []func() inventory.Event{
		func() inventory.Event { return new(VersionWritten) },
		func() inventory.Event { return new(LotDecided) },
		func() inventory.Event { return new(ScopeConfirmed) },
		func() inventory.Event { return new(HoldReleased) },
		func() inventory.Event { return new(ActionAssigned) },
		func() inventory.Event { return new(ActionDone) },
		func() inventory.Event { return new(PatientReviewed) },
		func() inventory.Event { return new(MachineHandled) },
		func() inventory.Event { return new(Told) },
		func() inventory.Event { return new(EffectivenessChecked) },
		func() inventory.Event { return new(Closed) },
		func() inventory.Event { return new(Reopened) },
		func() inventory.Event { return new(DrillBegun) },
		func() inventory.Event { return new(DrillEnded) },
		func() inventory.Event { return new(Replied) },
	}
}

// VersionWritten records a version of a notice; the first one begins it.
type VersionWritten struct {
	Notice ID `json:"notice"`
	Version
}

// Kind implements inventory.Event.
func (*VersionWritten) Kind() string { return "notice.version" }

// Project implements inventory.Event.
func (v *VersionWritten) Project(w inventory.Writer, e journal.Entry) error {
	return change(w, v.Notice, func(s *State) {
		s.Versions = append(s.Versions, Written{v.Version, e.Seq, e.Actor, e.Happened})
	})
}

// LotDecided says of a lot on record that it is meant, or that it is not.
type LotDecided struct {
	Notice  ID                  `json:"notice"`
	Product inventory.ProductID `json:"product"`
	Lot     string              `json:"lot"`
	Meant   bool                `json:"meant"`
	Reason  string              `json:"reason"`
}

// Kind implements inventory.Event.
func (*LotDecided) Kind() string { return "notice.decided" }

// Project implements inventory.Event.
func (d *LotDecided) Project(w inventory.Writer, e journal.Entry) error {
	return change(w, d.Notice, func(s *State) {
		s.Decided = append(s.Decided, Decision{d.Product, d.Lot, d.Meant, d.Reason, e.Seq, e.Actor, e.Happened})
	})
}

// ScopeConfirmed says that the scope of the versions up to one is right. The
// hold is an entry of its own beside it.
type ScopeConfirmed struct {
	Notice  ID  `json:"notice"`
	Version int `json:"version"`
}

// Kind implements inventory.Event.
func (*ScopeConfirmed) Kind() string { return "notice.confirmed" }

// Project implements inventory.Event.
func (c *ScopeConfirmed) Project(w inventory.Writer, e journal.Entry) error {
	return change(w, c.Notice, func(s *State) { s.Confirmed = &Confirmation{c.Version, e.Seq, e.Actor, e.Happened} })
}

// HoldReleased says why the notice's hold ended on some lots, on a product or on
// all. The release is an entry of its own beside it.
type HoldReleased struct {
	Notice  ID                  `json:"notice"`
	Product inventory.ProductID `json:"product,omitempty"`
	Lots    []string            `json:"lots,omitempty"`
	Reason  string              `json:"reason"`
}

// Kind implements inventory.Event.
func (*HoldReleased) Kind() string { return "notice.released" }

// Project implements inventory.Event.
func (h *HoldReleased) Project(w inventory.Writer, e journal.Entry) error {
	return change(w, h.Notice, func(s *State) {
		s.Released = append(s.Released, Release{h.Product, h.Lots, h.Reason, e.Seq, e.Actor, e.Happened})
	})
}

func noticeKey(id ID) []byte { return rowcode.AppendText(nil, string(id)) }

// change rewrites a notice's row.
func change(w inventory.Writer, id ID, fn func(*State)) error {
	s, err := read(w, id)
	if err != nil {
		return err
	}
	if s == nil {
		s = &State{ID: id}
	}
	fn(s)
	doc, err := json.Marshal(s)
	if err != nil {
		return err
	}
	if err := w.Put(ixNotice, noticeKey(id), doc); err != nil {
		return err
	}
	return setDues(w, id)
}

func read(r inventory.Reader, id ID) (*State, error) {
	doc, err := r.Get(ixNotice, noticeKey(id))
	if err != nil || doc == nil {
		return nil, err
	}
	s := new(State)
	return s, json.Unmarshal(doc, s)
}

// ByID returns a notice, or a Refusal if there is none of that id.
func ByID(r inventory.Reader, id ID) (*State, error) {
	s, err := read(r, id)
	if err == nil && s == nil {
		err = inventory.NotFound("notice", string(id), "Choose one of the list, or write it down first.")
	}
	return s, err
}

// Each calls fn for the notices, in the order in which they were first written.
func Each(r inventory.Reader, fn func(*State) error) error {
	return r.Scan(ixNotice, nil, nil, func(_, doc []byte) error {
		s := new(State)
		if err := json.Unmarshal(doc, s); err != nil {
			return err
		}
		return fn(s)
	})
}
