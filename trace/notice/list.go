package notice

import (
	"cmp"
	"slices"

	"lotbook/inventory"
)

// A Stage is how far a notice is.
type Stage string

// The stages, in order.
const (
	StageWritten   Stage = "written"   // its scope, or that of the last version, is not confirmed
	StageConfirmed Stage = "confirmed" // what the last version means is held
	StageReplied   Stage = "replied"   // and it was answered
	StageClosed    Stage = "closed"
)

// Stage says how far the notice is. A further version takes it back to written.
func (s *Standing) Stage() Stage {
	last := s.Latest()
	switch {
	case s.Progress.Closed != nil:
		return StageClosed
	case s.Confirmed == nil || s.Confirmed.Version < len(s.Versions):
		return StageWritten
	case slices.ContainsFunc(s.Progress.Replied, func(d ReplyDone) bool { return d.Entry > last.Entry }):
		return StageReplied
	}
	return StageConfirmed
}

// Said returns what the versions up to one (0: the last) say of the notice as a
// whole. What a later version says nothing of stays as it was.
func (s *State) Said(version int) (subject, class string, deadline inventory.Date) {
	if version <= 0 || version > len(s.Versions) {
		version = len(s.Versions)
	}
	for i := range s.Versions[:version] {
		v := &s.Versions[i]
		subject, class, deadline = cmp.Or(v.Subject, subject), cmp.Or(v.Class, class), cmp.Or(v.Deadline, deadline)
	}
	return subject, class, deadline
}

// asks are the actions that the versions up to one ask for together, each in the
// words of the last that has it.
func (s *State) asks(version int) []Action {
	var p Progress
	p.actions(&State{Versions: s.Versions[:version]})
	var list []Action
	for i := range p.Actions {
		if !p.Actions[i].Dropped {
			list = append(list, p.Actions[i].Action)
		}
	}
	return list
}
