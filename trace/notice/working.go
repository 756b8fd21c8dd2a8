package notice

import (
	"context"
	"slices"
	"strings"

	"lotbook/inventory"
	"lotbook/trace"
)

// act records something about a notice that is on record, if check has nothing
// against it.
func (b *Book) act(ctx context.Context, call inventory.Call, id ID, ev inventory.Event, check func(inventory.Reader, *State, *Progress) error) (inventory.Receipt, error) {
	return b.Record(ctx, call, ev, func(r inventory.Reader) ([]inventory.Event, error) {
		s, err := ByID(r, id)
		if err != nil {
			return nil, err
		}
		p, err := ProgressOf(r, s)
		if err != nil {
			return nil, err
		}
		return []inventory.Event{ev}, check(r, s, p)
	})
}

func need(field, value, hint string) error {
	if strings.TrimSpace(value) == "" {
		return inventory.Invalid(field, hint, "it is not said")
	}
	if len(value) > 4000 {
		return inventory.Invalid(field, "Keep it under 4,000 characters.", "it is too long")
	}
	return nil
}

func needAction(p *Progress, id string) error {
	if p.action(id) == nil {
		return inventory.NotFound("action", id, "Choose one of the notice's actions.")
	}
	return nil
}

// Assign records who sees to an action.
func (b *Book) Assign(ctx context.Context, call inventory.Call, v ActionAssigned) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(_ inventory.Reader, _ *State, p *Progress) error {
		if err := needAction(p, v.Action); err != nil {
			return err
		}
		if err := checkDay("due", v.Due); err != nil {
			return err
		}
		return need("to", v.To, "Name who sees to it.")
	})
}

// MarkDone records that an action was done, or why it does not concern the unit.
func (b *Book) MarkDone(ctx context.Context, call inventory.Call, v ActionDone) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(_ inventory.Reader, _ *State, p *Progress) error {
		if err := needAction(p, v.Action); err != nil {
			return err
		}
		if v.NotConcerned {
			return need("note", v.Note, "Say why it does not concern the unit.")
		}
		return nil
	})
}

// Review records that a clinician looked after a patient.
func (b *Book) Review(ctx context.Context, call inventory.Call, v PatientReviewed) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(r inventory.Reader, _ *State, _ *Progress) error {
		if _, err := trace.PatientByID(r, v.Patient); err != nil {
			return err
		}
		if err := need("clinician", v.Clinician, "Name who looked after the patient."); err != nil {
			return err
		}
		return need("how", v.How, "Say what was done: the record read, the patient seen, tests taken.")
	})
}

// HandleMachine records what was done to a machine.
func (b *Book) HandleMachine(ctx context.Context, call inventory.Call, v MachineHandled) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(r inventory.Reader, _ *State, _ *Progress) error {
		if _, err := trace.MachineByID(r, v.Machine); err != nil {
			return err
		}
		return need("what", v.What, "Say what was done to the machine.")
	})
}

// Tell records who was told.
func (b *Book) Tell(ctx context.Context, call inventory.Call, v Told) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(inventory.Reader, *State, *Progress) error {
		if err := need("who", v.Who, "Name who was told."); err != nil {
			return err
		}
		return need("how", v.How, "Say how: at the handover, by letter, by telephone.")
	})
}

// CheckEffectiveness records a check of effectiveness.
func (b *Book) CheckEffectiveness(ctx context.Context, call inventory.Call, v EffectivenessChecked) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(inventory.Reader, *State, *Progress) error {
		if v.Asked < 0 || v.Reached < 0 || v.Reached > v.Asked {
			return inventory.Invalid("reached", "Of those asked, count who had read the notice and acted on it.", "%d of %d", v.Reached, v.Asked)
		}
		return need("how", v.How, "Say how it was checked.")
	})
}

// A ClosingUp asks to close a notice. Whoever calls has made sure, by the
// password, that the signature is the signer's.
type ClosingUp struct {
	Notice   ID     `json:"notice"`
	Accepted string `json:"accepted,omitempty"`
	// Name is the signer's; Meaning what the signature says.
	Name    string `json:"name"`
	Meaning string `json:"meaning"`
}

// CloseNotice closes a notice, signed by the call's actor. What is not done is kept
// with it, and needs a word on why it is closed all the same. The receipt's one
// entry is a Closed.
func (b *Book) CloseNotice(ctx context.Context, call inventory.Call, c ClosingUp) (inventory.Receipt, error) {
	a, err := b.Answer(ctx, c.Notice, 0)
	if err != nil {
		return inventory.Receipt{}, err
	}
	return b.Record(ctx, call, c, func(r inventory.Reader) ([]inventory.Event, error) {
		s, err := ByID(r, c.Notice)
		if err != nil {
			return nil, err
		}
		p, err := ProgressOf(r, s)
		if err != nil {
			return nil, err
		}
		if p.Closed != nil {
			return nil, inventory.Conflict("closed", "Reopen it first, with a reason.", "notice %s was closed by %s", s.ID, p.Closed.Signature.Name)
		}
		if err := need("meaning", c.Meaning, "Say what the signature means: reviewed and closed."); err != nil {
			return nil, err
		}
		open := p.Open(s, a)
		if len(open) > 0 && strings.TrimSpace(c.Accepted) == "" {
			return nil, inventory.Conflict("not_done", "Do it, or say in accepted why the notice is closed all the same.", "this is not done: %s", strings.Join(open, " "))
		}
		return []inventory.Event{&Closed{
			Notice: s.ID, Open: open, Accepted: c.Accepted, Signature: Signature{User: call.Actor, Name: c.Name, Meaning: c.Meaning, Head: r.Head()},
		}}, nil
	})
}

// Reopen takes up the work again.
func (b *Book) Reopen(ctx context.Context, call inventory.Call, v Reopened) (inventory.Receipt, error) {
	return b.act(ctx, call, v.Notice, &v, func(_ inventory.Reader, s *State, p *Progress) error {
		if p.Closed == nil {
			return inventory.Conflict("not_closed", "Go on with it.", "notice %s is open", s.ID)
		}
		return need("reason", v.Reason, "Say why the work is taken up again.")
	})
}

// ByID returns a notice and how far the work on it is.
func (b *Book) ByID(ctx context.Context, id ID) (s *State, p *Progress, err error) {
	err = b.View(ctx, func(r inventory.Reader) error {
		if s, err = ByID(r, id); err != nil {
			return err
		}
		p, err = ProgressOf(r, s)
		return err
	})
	return s, p, err
}

// A Standing is a notice and how far the work on it is, for a list.
type Standing struct {
	*State
	Progress *Progress
	// Dues are what is to be done until a day, Overdue how many of these days
	// are past.
	Dues    []Due
	Overdue int
}

// List returns the notices, the newest first.
func (b *Book) List(ctx context.Context) (list []Standing, err error) {
	err = b.View(ctx, func(r inventory.Reader) error {
		list, err = b.Standings(r)
		return err
	})
	return list, err
}

// Standings returns the notices of a snapshot, the newest first.
func (b *Book) Standings(r inventory.Reader) ([]Standing, error) {
	today, err := b.today(r)
	if err != nil {
		return nil, err
	}
	var list []Standing
	err = Each(r, func(s *State) error {
		p, err := ProgressOf(r, s)
		if err != nil {
			return err
		}
		st := Standing{State: s, Progress: p, Dues: []Due{}}
		if p.Closed == nil {
			st.Dues = append(st.Dues, s.dues(p)...)
		}
		for _, d := range st.Dues {
			if d.Due < today {
				st.Overdue++
			}
		}
		list = append(list, st)
		return nil
	})
	slices.Reverse(list)
	return list, err
}

// Overdue returns what should have been done before today on open notices.
func (b *Book) Overdue(ctx context.Context) ([]Due, error) {
	var list []Due
	err := b.View(ctx, func(r inventory.Reader) error {
		today, err := b.today(r)
		if err != nil {
			return err
		}
		list, err = Dues(r, today.AddDays(-1))
		return err
	})
	return list, err
}

// today is the date in the unit.
func (b *Book) today(r inventory.Reader) (inventory.Date, error) {
	u, err := b.Unit(r)
	if err != nil {
		return "", err
	}
	zone, err := u.Zone()
	if err != nil {
		return "", err
	}
	return inventory.DateOf(b.Now(), zone), nil
}
