package trace

import (
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// Events returns the kinds of entries of this package, for a Registry beside
// inventory.Events.
func Events() []func() inventory.Event {
	return []func() inventory.Event{
		func() inventory.Event { return new(PatientSet) },
		func() inventory.Event { return new(PrescriptionSet) },
		func() inventory.Event { return new(StationSet) },
		func() inventory.Event { return new(MachineSet) },
		func() inventory.Event { return new(Scheduled) },
		func() inventory.Event { return new(Opened) },
		func() inventory.Event { return new(Used) },
		func() inventory.Event { return new(ScanStopped) },
		func() inventory.Event { return new(SetAside) },
		func() inventory.Event { return new(NotRecorded) },
		func() inventory.Event { return new(Closed) },
		func() inventory.Event { return new(TankSet) },
		func() inventory.Event { return new(LoopSet) },
		func() inventory.Event { return new(TankFed) },
		func() inventory.Event { return new(FeedEnded) },
		func() inventory.Event { return new(TankEmptied) },
		func() inventory.Event { return new(BatchMade) },
		func() inventory.Event { return new(BatchInput) },
		func() inventory.Event { return new(BatchReading) },
		func() inventory.Event { return new(BatchEnded) },
		func() inventory.Event { return new(ContainerOpened) },
		func() inventory.Event { return new(ContainerClosed) },
		func() inventory.Event { return new(ContainerMoved) },
		func() inventory.Event { return new(ProblemReported) },
		func() inventory.Event { return new(ProblemFollowed) },
		func() inventory.Event { return new(ProblemPictured) },
		func() inventory.Event { return new(ProblemsSet) },
	}
}

// Opened begins a treatment. It holds the prescription and what is required,
// so that neither changes when the patient's prescription or the unit's rules
// do.
type Opened struct {
	Treatment    TreatmentID            `json:"treatment"`
	Patient      PatientID              `json:"patient"`
	Machine      MachineID              `json:"machine"`
	Station      StationID              `json:"station"`
	Location     inventory.LocationID   `json:"location"`
	Prescription inventory.Prescription `json:"prescription"`
	Required     []Required             `json:"required"`
	// Supplied is what the station was fed with, as the nurse was told.
	Supplied []Supply `json:"supplied,omitempty"`
}

// Kind implements inventory.Event.
func (*Opened) Kind() string { return "treatment.opened" }

func (o *Opened) treatment(e journal.Entry) *Treatment {
	return &Treatment{
		ID: o.Treatment, Patient: o.Patient, Machine: o.Machine, Station: o.Station, Location: o.Location,
		Start: e.Happened, Planned: o.Prescription.Minutes, Opened: e.Seq, By: e.Actor, Required: o.Required,
	}
}

// Project implements inventory.Event.
func (o *Opened) Project(w inventory.Writer, e journal.Entry) error {
	t := o.treatment(e)
	for _, put := range t.listKeys() {
		if err := w.Put(put.ix, put.key, nil); err != nil {
			return err
		}
	}
	return t.save(w)
}

// listKeys are the rows that list the treatment.
func (t *Treatment) listKeys() []rowRef {
	start := t.startKey()
	return []rowRef{
		{ixOpen, start},
		{ixStart, start},
		{ixPatientStart, append(rowcode.AppendText(nil, string(t.Patient)), start...)},
	}
}

type rowRef struct {
	ix  inventory.Index
	key []byte
}

// Void implements inventory.Voider: a treatment that never was. Its uses must
// have been struck out before.
func (o *Opened) Void(w inventory.Writer, e, c journal.Entry) error {
	t, err := TreatmentByID(w, o.Treatment)
	if err != nil {
		return err
	}
	for i := range t.Uses {
		if t.Uses[i].Struck == 0 {
			return fmt.Errorf("treatment %s has uses that stand, strike them out first: %w", t.ID, inventory.ErrCannotCorrect)
		}
	}
	for _, del := range t.listKeys() {
		if err := w.Delete(del.ix, del.key); err != nil {
			return err
		}
	}
	t.Struck = c.Seq
	return t.save(w)
}

// Used records that a treatment used a lot.
type Used struct {
	Treatment TreatmentID `json:"treatment"`
	inventory.Stock
	// Name is what the catalogue called the product when it was scanned:
	// what the nurse was told it was taken as.
	Name     string               `json:"product_name,omitempty"`
	Category inventory.Category   `json:"category"`
	Location inventory.LocationID `json:"location"`
	How      How                  `json:"how"`
	// Code is what was scanned, as it was carried.
	Code string `json:"code,omitempty"`
	// Order are the application identifiers in the order in which the label
	// has them, where the scan left no doubt: see Scan.
	Order []string `json:"order,omitempty"`
	// OpenedBefore is set for something from a piece that was opened for
	// another treatment; Quantity may then be 0.
	OpenedBefore bool `json:"opened_before,omitempty"`
	// Container is the opened container that it was drawn from, if that is
	// known; then Quantity is 0.
	Container ContainerID `json:"container,omitempty"`
	// Also is what a kit counts as beside its category.
	Also     []Part `json:"also,omitempty"`
	Reason   string `json:"reason,omitempty"`
	Replaces uint64 `json:"replaces,omitempty"`
	Cause    string `json:"cause,omitempty"`
	// Answers is the stopped scan that this answers.
	Answers uint64 `json:"answers,omitempty"`
	// Missing is what the treatment lacked after this.
	Missing []Missing `json:"missing,omitempty"`
}

// Kind implements inventory.Event.
func (*Used) Kind() string { return "treatment.used" }

func (u *Used) use(e journal.Entry) Use {
	x := Use{
		Entry: e.Seq, Category: u.Category, Product: u.Product, Lot: u.Lot, Serial: u.Serial, Expires: u.Expires,
		Quantity: u.Quantity, Location: u.Location, How: u.How, By: e.Actor, From: e.Happened,
		Replaces: u.Replaces, Cause: u.Cause, Reason: u.Reason, Also: u.Also, Container: u.Container,
	}
	for _, f := range u.Findings {
		x.Findings = append(x.Findings, f.Code)
	}
	return x
}

// Project implements inventory.Event.
func (u *Used) Project(w inventory.Writer, e journal.Entry) error {
	t, err := TreatmentByID(w, u.Treatment)
	if err != nil {
		return err
	}
	x := u.use(e)
	if err := t.dropStopped(w, u.Answers); err != nil {
		return err
	}
	if u.Replaces != 0 {
		if err := t.end(w, u.Replaces, e.Happened); err != nil {
			return err
		}
	}
	t.Uses = append(t.Uses, x)
	if err := inventory.NoteLot(w, e, inventory.Lot{Product: u.Product, Number: u.Lot}, u.Expires, u.Made); err != nil {
		return err
	}
	if len(u.Order) > 0 {
		if err := inventory.LearnLayout(w, e, inventory.Layout{GTIN: u.GTIN, Order: u.Order, Lot: u.Lot, Serial: u.Serial}); err != nil {
			return err
		}
	}
	if err := inventory.Post(w, e, t.movement(&x)); err != nil {
		return err
	}
	return t.save(w)
}

// Void implements inventory.Voider. What it had replaced is in use again.
func (u *Used) Void(w inventory.Writer, e, c journal.Entry) error {
	t, err := TreatmentByID(w, u.Treatment)
	if err != nil {
		return err
	}
	x := t.use(e.Seq)
	if x == nil {
		return fmt.Errorf("treatment %s has no use of entry %d", t.ID, e.Seq)
	}
	x.Struck = c.Seq
	if u.Replaces != 0 {
		if err := t.end(w, u.Replaces, time.Time{}); err != nil {
			return err
		}
	}
	if len(u.Order) > 0 {
		if err := inventory.ForgetLayout(w, e, u.GTIN); err != nil {
			return err
		}
	}
	if err := inventory.Strike(w, e, c, t.movement(x)); err != nil {
		return err
	}
	return t.save(w)
}

// end sets when the use of an entry ended and rewrites its line in the lot's
// ledger.
func (t *Treatment) end(w inventory.Writer, entry uint64, at time.Time) error {
	x := t.use(entry)
	if x == nil {
		return nil
	}
	x.Until = at
	m := t.movement(x)
	m.Entry, m.Happened, m.Actor, m.Struck = x.Entry, x.From, x.By, x.Struck
	return inventory.Rewrite(w, m)
}

// dropStopped takes an answered scan off the lists.
func (t *Treatment) dropStopped(w inventory.Writer, entry uint64) error {
	for i := range t.Stopped {
		if s := t.Stopped[i]; s.Entry == entry {
			t.Stopped = append(t.Stopped[:i], t.Stopped[i+1:]...)
			return w.Delete(ixStopped, t.stoppedKey(&s))
		}
	}
	return nil
}

func (t *Treatment) stoppedKey(s *Stopped) []byte {
	key := rowcode.AppendTime(rowcode.AppendText(nil, string(s.Product), s.Lot), s.At)
	return rowcode.AppendText(rowcode.AppendNumber(key, s.Entry), string(t.ID))
}

// ScanStopped records that a scan met a finding at level Stop and that the
// nurse was told.
type ScanStopped struct {
	Treatment TreatmentID `json:"treatment"`
	inventory.Stock
	Name     string             `json:"product_name,omitempty"`
	Category inventory.Category `json:"category"`
	How      How                `json:"how"`
	Code     string             `json:"code,omitempty"`
	Order    []string           `json:"order,omitempty"`
	// What the Used that answers it will say: see there.
	OpenedBefore bool        `json:"opened_before,omitempty"`
	Container    ContainerID `json:"container,omitempty"`
	Also         []Part      `json:"also,omitempty"`
	Replaces     uint64      `json:"replaces,omitempty"`
	Cause        string      `json:"cause,omitempty"`
	Missing      []Missing   `json:"missing,omitempty"`
}

// Kind implements inventory.Event.
func (*ScanStopped) Kind() string { return "treatment.stopped" }

// Project implements inventory.Event.
func (s *ScanStopped) Project(w inventory.Writer, e journal.Entry) error {
	t, err := TreatmentByID(w, s.Treatment)
	if err != nil {
		return err
	}
	stop := Stopped{
		Entry: e.Seq, Category: s.Category, Product: s.Product, Lot: s.Lot, Findings: s.Findings, By: e.Actor, At: e.Happened,
	}
	t.Stopped = append(t.Stopped, stop)
	if err := inventory.NoteLot(w, e, inventory.Lot{Product: s.Product, Number: s.Lot}, "", ""); err != nil {
		return err
	}
	if err := w.Put(ixStopped, t.stoppedKey(&stop), nil); err != nil {
		return err
	}
	return t.save(w)
}

// SetAside answers a stopped scan: the pack was not used.
type SetAside struct {
	Treatment TreatmentID `json:"treatment"`
	Answers   uint64      `json:"answers"`
	Reason    string      `json:"reason,omitempty"`
	Missing   []Missing   `json:"missing,omitempty"`
}

// Kind implements inventory.Event.
func (*SetAside) Kind() string { return "treatment.set_aside" }

// Project implements inventory.Event.
func (s *SetAside) Project(w inventory.Writer, _ journal.Entry) error {
	t, err := TreatmentByID(w, s.Treatment)
	if err != nil {
		return err
	}
	if err := t.dropStopped(w, s.Answers); err != nil {
		return err
	}
	return t.save(w)
}

// NotRecorded says that something required is not recorded by lot, and why.
type NotRecorded struct {
	Treatment TreatmentID        `json:"treatment"`
	Category  inventory.Category `json:"category"`
	Used      bool               `json:"used"`
	Cause     string             `json:"cause"`
	// Replaces is the use that the unrecorded thing took over from.
	Replaces uint64    `json:"replaces,omitempty"`
	Missing  []Missing `json:"missing,omitempty"`
}

// Kind implements inventory.Event.
func (*NotRecorded) Kind() string { return "treatment.not_recorded" }

func (n *NotRecorded) absence(e journal.Entry) Absence {
	return Absence{e.Seq, n.Category, n.Used, n.Cause, n.Replaces, e.Actor, e.Happened}
}

// Project implements inventory.Event.
func (n *NotRecorded) Project(w inventory.Writer, e journal.Entry) error {
	t, err := TreatmentByID(w, n.Treatment)
	if err != nil {
		return err
	}
	if n.Replaces != 0 {
		if err := t.end(w, n.Replaces, e.Happened); err != nil {
			return err
		}
	}
	t.Absences = append(t.Absences, n.absence(e))
	return t.save(w)
}

// Void implements inventory.Voider.
func (n *NotRecorded) Void(w inventory.Writer, e, _ journal.Entry) error {
	t, err := TreatmentByID(w, n.Treatment)
	if err != nil {
		return err
	}
	if n.Replaces != 0 {
		if err := t.end(w, n.Replaces, time.Time{}); err != nil {
			return err
		}
	}
	for i := range t.Absences {
		if t.Absences[i].Entry == e.Seq {
			t.Absences = append(t.Absences[:i], t.Absences[i+1:]...)
			break
		}
	}
	return t.save(w)
}

// Closed ends a treatment.
type Closed struct {
	Treatment TreatmentID `json:"treatment"`
	// Minutes is the real length.
	Minutes int64 `json:"minutes"`
	// NotDone is set when the treatment did not take place after all: what
	// had been prepared was struck out as used and recorded as wasted.
	NotDone bool      `json:"not_done,omitempty"`
	Note    string    `json:"note,omitempty"`
	Missing []Missing `json:"missing,omitempty"`
	// Required is what the real length made required, if it differs from
	// what the planned one did: a longer run empties another container.
	Required []Required `json:"required,omitempty"`
}

// Kind implements inventory.Event.
func (*Closed) Kind() string { return "treatment.closed" }

// Project implements inventory.Event.
func (c *Closed) Project(w inventory.Writer, e journal.Entry) error {
	t, err := TreatmentByID(w, c.Treatment)
	if err != nil {
		return err
	}
	t.Closed, t.End, t.Minutes = true, e.Happened, c.Minutes
	t.NotDone = c.NotDone
	if c.Required != nil {
		t.Required = c.Required
	}
	if err := w.Delete(ixOpen, t.startKey()); err != nil {
		return err
	}
	return t.save(w)
}

// Void implements inventory.Voider: the treatment is open again. What closing it
// as not done had turned into waste is put back by entries of their own: see
// Book.Correct.
func (c *Closed) Void(w inventory.Writer, e, _ journal.Entry) error {
	t, err := TreatmentByID(w, c.Treatment)
	if err != nil {
		return err
	}
	t.Closed, t.NotDone, t.End, t.Minutes = false, false, time.Time{}, 0
	if err := w.Put(ixOpen, t.startKey(), nil); err != nil {
		return err
	}
	if err := t.dropGaps(w); err != nil {
		return err
	}
	if err := t.saveKept(w); err != nil {
		return err
	}
	return t.save(w)
}
