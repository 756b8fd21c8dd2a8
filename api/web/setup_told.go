package web

import (
	"errors"
	"slices"
	"strings"

	"lotbook/inventory"
	"lotbook/trace"
)

// treatmentOf returns the treatment that an entry belongs to, empty if it is
// about something else.
func treatmentOf(ev inventory.Event) trace.TreatmentID {
	switch ev := ev.(type) {
	case *trace.Opened:
		return ev.Treatment
	case *trace.Used:
		return ev.Treatment
	case *trace.ScanStopped:
		return ev.Treatment
	case *trace.SetAside:
		return ev.Treatment
	case *trace.NotRecorded:
		return ev.Treatment
	case *trace.Closed:
		return ev.Treatment
	case *trace.ProblemReported:
		return ev.Treatment
	}
	return ""
}

// event returns the entry of a number and what it says; nil if there is none.
func (p *Pages) event(r inventory.Reader, seq uint64) (inventory.Event, error) {
	e, err := r.Entry(seq)
	if errors.Is(err, inventory.ErrNoEntry) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	ev, err := p.Book.Registry().Decode(e)
	if errors.Is(err, inventory.ErrUnknownKind) {
		return nil, nil
	}
	return ev, err
}

// told says in big type what the last entry recorded. An entry of something
// else, which an address may name, is passed over.
func (b *setupBuilder) told(done uint64) error {
	if done == 0 {
		return nil
	}
	ev, err := b.p.event(b.r, done)
	if err != nil || ev == nil {
		return err
	}
	if c, ok := ev.(*inventory.Corrected); ok {
		return b.toldStruck(c)
	}
	if treatmentOf(ev) != b.t.ID {
		return nil
	}
	struck, err := inventory.StruckBy(b.r, done)
	if err != nil {
		return err
	}
	t := &told{Sign: "info"}
	switch ev := ev.(type) {
	case *trace.Used:
		if err := b.toldUsed(t, ev, done); err != nil {
			return err
		}
	case *trace.SetAside:
		t.Lead = "Set aside, not used"
		if ev.Reason == reasonTwice {
			t.Lead = "Not counted a second time"
		}
		if err := b.toldAside(t, ev.Answers); err != nil {
			return err
		}
	case *trace.NotRecorded:
		t.Lead, t.Rest = "Noted: "+ev.Category.Title()+" done without", ev.Cause
		if ev.Used {
			t.Lead = "Noted: " + ev.Category.Title() + " used, lot not recorded"
		}
		t.Undo, t.UndoText = done, "Entered by mistake"
	case *trace.Closed:
		t.Sign, t.Lead = "ok", "Closed after "+itoa(ev.Minutes)+" min"
		t.Undo, t.UndoText = done, "Closed by mistake"
		if ev.NotDone {
			t.Sign, t.Lead, t.Rest, t.Undo = "info", "Closed as not done. What was prepared is recorded as wasted.", ev.Note, done
		}
	case *trace.ProblemReported:
		if err := b.toldProblem(t, ev, done); err != nil {
			return err
		}
	default: // a stopped scan is shown among those that wait
		return nil
	}
	if struck != 0 {
		*t = told{Sign: "info", Lead: "This entry was struck out later."}
	}
	switch {
	case b.t.Struck != 0 || b.t.NotDone:
	case b.t.Closed:
		if _, ok := ev.(*trace.Closed); !ok {
			t.Next = "The treatment was closed before; this is added to it."
		}
	case len(b.page.Missing) > 0:
		t.Next = "Still missing: " + strings.Join(b.page.Missing, ", ") + "."
	case len(b.page.Said) > 0:
		t.Next = "All else is there. Not recorded: " + strings.Join(b.page.Said, ", ") + "."
	default:
		t.Next = "Nothing is missing."
	}
	b.page.Told = t
	return nil
}

func (b *setupBuilder) toldUsed(t *told, ev *trace.Used, done uint64) error {
	var err error
	if t.Product, err = b.productName(ev.Product); err != nil {
		return err
	}
	t.Sign, t.Lead = "ok", "Taken as "+lower(ev.Category.Title())
	if ev.Category == "" {
		t.Lead = "Recorded, not counted as anything needed"
	}
	t.Lot, t.NoLot = ev.Lot, ev.Lot == ""
	rest := []string{}
	if ev.Expires != "" {
		rest = append(rest, "expires "+string(ev.Expires))
	}
	switch {
	case ev.Quantity == 1:
		rest = append(rest, "1 piece")
	case ev.Quantity == 0:
		rest = append(rest, "from a piece opened before")
	default:
		rest = append(rest, itoa(ev.Quantity)+" pieces")
	}
	rest = append(rest, howWords(ev.How))
	if ev.Replaces != 0 {
		rest = append(rest, "takes over: "+ev.Cause)
	}
	if ev.Reason != "" {
		rest = append(rest, "used all the same: "+ev.Reason)
	}
	t.Rest = strings.Join(rest, " · ")
	t.Findings = findingsOf(ev.Findings, true)
	for _, f := range t.Findings {
		switch {
		case f.Stop:
			t.Sign = "stop"
		case t.Sign == "ok":
			t.Sign = "caution"
		}
	}
	if t.Known, err = b.known(ev.Product, ev.Lot); err != nil {
		return err
	}
	t.Undo, t.UndoText = done, "Scanned by mistake"
	if ev.How == trace.Typed {
		t.UndoText = "Entered by mistake"
	}
	b.instead(t, ev, done)
	if slices.ContainsFunc(ev.Findings, func(f inventory.Finding) bool { return f.Code == inventory.FindingNotRecorded }) {
		t.Notes = b.notes(ev.Category)
	}
	if ev.Category == "" {
		for _, q := range b.t.Required {
			t.Assign = append(t.Assign, option{Value: string(q.Category), Title: q.Category.Title()})
		}
	}
	return nil
}

// toldAside names the pack that was set aside.
func (b *setupBuilder) toldAside(t *told, stopped uint64) error {
	ev, err := b.p.event(b.r, stopped)
	if err != nil {
		return err
	}
	if s, ok := ev.(*trace.ScanStopped); ok {
		t.Product, err = b.productName(s.Product)
		t.Lot, t.NoLot = s.Lot, s.Lot == ""
	}
	return err
}

// instead offers that a second of its kind took over from the first.
func (b *setupBuilder) instead(t *told, ev *trace.Used, done uint64) {
	second := slices.ContainsFunc(ev.Findings, func(f inventory.Finding) bool { return f.Code == inventory.FindingSecondOfKind })
	for i := range b.t.Uses {
		u := &b.t.Uses[i]
		if second && ev.Replaces == 0 && u.Entry < done && u.Category == ev.Category && u.Struck == 0 && u.Until.IsZero() {
			t.Instead, t.InsteadLot = u.Entry, u.Lot
		}
	}
}

// notes returns the entries, as they stand, by which somebody said that a pack
// of a kind was used and not recorded.
func (b *setupBuilder) notes(c inventory.Category) (rows []absenceRow) {
	for _, a := range b.t.Absences {
		if a.Category == c && a.Used && a.Replaces == 0 {
			rows = append(rows, absenceRow{a.Entry, a.Cause, b.who(a.By), b.k.near(a.At, b.t.Start)})
		}
	}
	return rows
}

// toldStruck says that an entry of this treatment was struck out.
func (b *setupBuilder) toldStruck(c *inventory.Corrected) error {
	ev, err := b.p.event(b.r, c.Corrects)
	if err != nil || ev == nil || treatmentOf(ev) != b.t.ID {
		return err
	}
	t := &told{Sign: "info", Lead: "Entry " + itoa(c.Corrects) + " is struck out", Rest: c.Reason}
	switch ev := ev.(type) {
	case *trace.Used:
		t.Lead = "Struck out: " + lower(ev.Category.Title())
		t.Lot, t.NoLot = ev.Lot, ev.Lot == ""
	case *trace.NotRecorded:
		t.Lead = "Struck out: “" + lower(ev.Category.Title()) + " used, lot not recorded”"
		if !ev.Used {
			t.Lead = "Struck out: “" + lower(ev.Category.Title()) + " done without”"
		}
	case *trace.ProblemReported:
		t.Lead, t.Lot, t.NoLot = "Struck out: that problem", ev.Lot, false
	case *trace.Closed:
		t.Lead = "The treatment is open again"
		if ev.NotDone {
			t.Rest = "What had been prepared counts as used again, not as wasted."
		}
	}
	b.page.Told = t
	return nil
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// product returns the number of a product and what people call it.
func (b *setupBuilder) product(gtin string, id inventory.ProductID) (number, name string, err error) {
	if gtin != "" {
		q, _, err := b.p.Book.ProductByGTIN(b.r, gtin)
		if err != nil {
			return "", "", err
		}
		if q == nil {
			return gtin, "Not in the catalogue", nil
		}
		return gtin, q.Name, nil
	}
	name, err = b.productName(id)
	return string(id), name, err
}
