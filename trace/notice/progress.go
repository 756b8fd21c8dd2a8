package notice

import (
	"encoding/json"
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
	"lotbook/trace"
)

// A Done is who recorded something and when it was done.
type Done struct {
	Entry uint64    `json:"entry"`
	By    string    `json:"by"`
	At    time.Time `json:"at"`
}

// A Progress is how far the work on a notice is.
type Progress struct {
	Actions  []ActionState `json:"actions"`
	Reviews  []Review      `json:"reviews"`
	Machines []Handled     `json:"machines"`
	Told     []TellingDone `json:"told"`
	Checks   []Check       `json:"effectiveness_checks"`
	// Replied are the replies that were sent.
	Replied []ReplyDone `json:"replied"`
	// Closed is the closing that stands, nil if the notice is open.
	Closed *Closing `json:"closed,omitempty"`
	// Closings and Reopenings are how many there were.
	Closings   int `json:"closings"`
	Reopenings int `json:"reopenings"`
}

// An ActionState is an action that a notice asks for, and what became of it.
type ActionState struct {
	Action
	// Version is the first that asks for it; Dropped tells that the last
	// version, which stands alone, does not any more.
	Version int    `json:"version"`
	Dropped bool   `json:"dropped,omitempty"`
	To      string `json:"to,omitempty"`
	// Done is nil while it is not.
	Done         *Done  `json:"done,omitempty"`
	DoneBy       string `json:"done_by,omitempty"`
	Note         string `json:"note,omitempty"`
	NotConcerned bool   `json:"not_concerned,omitempty"`
}

// A Review is a PatientReviewed with who recorded it.
type Review struct {
	PatientReviewed
	Done
}

// A Handled is a MachineHandled with who recorded it.
type Handled struct {
	MachineHandled
	Done
}

// A TellingDone is a Told with who recorded it.
type TellingDone struct {
	Told
	Done
}

// A Check is an EffectivenessChecked with who recorded it.
type Check struct {
	EffectivenessChecked
	Done
}

// A ReplyDone is a Reply with who recorded it.
type ReplyDone struct {
	Reply
	Done
}

// A Closing is a Closed with who recorded it.
type Closing struct {
	Closed
	Done
}

// ProgressOf returns how far the work on a notice is.
func ProgressOf(r inventory.Reader, s *State) (*Progress, error) {
	p := &Progress{Actions: []ActionState{}, Reviews: []Review{}, Machines: []Handled{}, Told: []TellingDone{}, Checks: []Check{}, Replied: []ReplyDone{}}
	p.actions(s)
	reopenedBy := uint64(0)
	if n := len(s.Versions); n > 0 {
		reopenedBy = s.Versions[n-1].Entry
	}
	err := r.Scan(ixWork, noticeKey(s.ID), nil, func(key, doc []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		seq := k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		var row workRow
		if err := json.Unmarshal(doc, &row); err != nil {
			return err
		}
		if row.Kind == workReopened {
			p.Reopenings++
			reopenedBy = max(reopenedBy, seq)
		}
		return p.take(&row, Done{seq, row.By, row.At})
	})
	if p.Closed != nil && p.Closed.Entry < reopenedBy {
		p.Closed = nil
	}
	return p, err
}

// take adds a row of the log.
func (p *Progress) take(row *workRow, d Done) error {
	switch row.Kind {
	case workAssigned:
		var v ActionAssigned
		if err := json.Unmarshal(row.Body, &v); err != nil {
			return err
		}
		if a := p.action(v.Action); a != nil {
			a.To = v.To
			if v.Due != "" {
				a.Due = v.Due
			}
		}
	case workDone:
		var v ActionDone
		if err := json.Unmarshal(row.Body, &v); err != nil {
			return err
		}
		if a := p.action(v.Action); a != nil {
			a.Done, a.DoneBy, a.Note, a.NotConcerned = &d, v.DoneBy, v.Note, v.NotConcerned
		}
	case workReviewed:
		return add(&p.Reviews, row, func(v PatientReviewed) Review { return Review{v, d} })
	case workMachine:
		return add(&p.Machines, row, func(v MachineHandled) Handled { return Handled{v, d} })
	case workTold:
		return add(&p.Told, row, func(v Told) TellingDone { return TellingDone{v, d} })
	case workEffective:
		return add(&p.Checks, row, func(v EffectivenessChecked) Check { return Check{v, d} })
	case workClosed:
		p.Closings++
		var v Closed
		if err := json.Unmarshal(row.Body, &v); err != nil {
			return err
		}
		p.Closed = &Closing{v, d}
	case workReplied:
		return add(&p.Replied, row, func(v Reply) ReplyDone { return ReplyDone{v, d} })
	}
	return nil
}

func add[V, T any](list *[]T, row *workRow, of func(V) T) error {
	var v V
	if err := json.Unmarshal(row.Body, &v); err != nil {
		return err
	}
	*list = append(*list, of(v))
	return nil
}

// actions lists what the versions ask for: the words and last days are those of
// the last version that has the action.
func (p *Progress) actions(s *State) {
	for n, v := range s.Versions {
		if v.Alone {
			for i := range p.Actions {
				p.Actions[i].Dropped = true
			}
		}
		for _, a := range v.Actions {
			if a.Due == "" {
				a.Due = v.Deadline
			}
			if old := p.action(a.ID); old != nil {
				old.Action, old.Dropped = a, false
				continue
			}
			p.Actions = append(p.Actions, ActionState{Action: a, Version: n + 1})
		}
	}
}

func (p *Progress) action(id string) *ActionState {
	for i := range p.Actions {
		if p.Actions[i].ID == id {
			return &p.Actions[i]
		}
	}
	return nil
}

// Reviewed reports whether a clinician looked after a patient.
func (p *Progress) Reviewed(id trace.PatientID) bool {
	for i := range p.Reviews {
		if p.Reviews[i].Patient == id {
			return true
		}
	}
	return false
}

// HandledMachine reports whether something was done to a machine.
func (p *Progress) HandledMachine(id trace.MachineID) bool {
	for i := range p.Machines {
		if p.Machines[i].Machine == id {
			return true
		}
	}
	return false
}

// Open are what is not done yet, in words, for whoever closes the notice. The
// answer is needed for the patients: those of whom a use is confirmed or
// probable are to be reviewed; nil leaves them out.
func (p *Progress) Open(s *State, a *Answer) []string {
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	switch {
	case s.Confirmed == nil:
		say("The scope is not confirmed: nothing is held.")
	case s.Confirmed.Version < len(s.Versions):
		say("The scope of version %d is not confirmed.", len(s.Versions))
	}
	if n := len(s.Unmatched(0)); n > 0 {
		say("%s whose product nobody could tell.", plural(n, "line of the notice", "lines of the notice"))
	}
	for i := range p.Actions {
		if x := &p.Actions[i]; x.Done == nil && !x.Dropped {
			say("Not done: %s (%s).", x.Text, x.ID)
		}
	}
	if a != nil {
		if a.Undecided > 0 {
			say("%s in doubt, on which nobody has decided.", plural(a.Undecided, "lot", "lots"))
		}
		n := 0
		for _, pat := range a.Patients {
			if pat.Grade != trace.NotExcluded && !p.Reviewed(pat.Patient) {
				n++
			}
		}
		if n > 0 {
			say("%s, confirmed or probable, not reviewed by a clinician.", plural(n, "patient", "patients"))
		}
	}
	if len(p.Told) == 0 {
		say("It is not recorded that anybody was told.")
	}
	if len(p.Replied) == 0 {
		say("No reply was sent.")
	}
	if len(p.Checks) == 0 {
		say("No check of effectiveness is recorded.")
	}
	return list
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
