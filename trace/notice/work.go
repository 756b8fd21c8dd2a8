package notice

import (
	"encoding/json"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
	"lotbook/trace"
)

// What was done about a notice is a log: an entry each, none of them changed. A
// mistake is struck out by a correction, as everywhere.

// ActionAssigned says who sees to an action, and until when.
type ActionAssigned struct {
	Notice ID     `json:"notice"`
	Action string `json:"action"`
	To     string `json:"to"`
	// Due takes the place of the action's own last day; empty: unchanged.
	Due inventory.Date `json:"due,omitempty"`
}

// ActionDone says that an action that the notice asks for was done, or why it
// does not concern this unit. The entry's time is when it was done.
type ActionDone struct {
	Notice ID     `json:"notice"`
	Action string `json:"action"`
	// DoneBy is who did it, if it is not who records it.
	DoneBy string `json:"done_by,omitempty"`
	Note   string `json:"note,omitempty"`
	// NotConcerned says that the action does not concern the unit; Note says
	// why.
	NotConcerned bool `json:"not_concerned,omitempty"`
}

// PatientReviewed says that a clinician looked after a patient whom a lot met,
// or may have met. The tool keeps that and how; it advises nothing.
type PatientReviewed struct {
	Notice    ID              `json:"notice"`
	Patient   trace.PatientID `json:"patient"`
	Clinician string          `json:"clinician"`
	// How is what was done: the record read, the patient seen, tests taken.
	How  string `json:"how"`
	Note string `json:"note,omitempty"`
}

// MachineHandled says what was done to a machine that the answer lists: a notice
// may ask for its disinfection.
type MachineHandled struct {
	Notice  ID              `json:"notice"`
	Machine trace.MachineID `json:"machine"`
	What    string          `json:"what"`
	// DoneBy is who did it, if it is not who records it.
	DoneBy string `json:"done_by,omitempty"`
}

// Told says who was told of the notice: staff, another unit that borrowed, a
// home patient, the water technician.
type Told struct {
	Notice ID     `json:"notice"`
	Who    string `json:"who"`
	How    string `json:"how"`
	Note   string `json:"note,omitempty"`
}

// EffectivenessChecked says how it was checked that the notice reached whom it
// concerns and that nothing held is used: how many were asked and how many had
// read it and acted. Level is the issuer's: A to E in the United States, by 21 CFR
// 7.42(b)(3), from memory.
type EffectivenessChecked struct {
	Notice  ID     `json:"notice"`
	Level   string `json:"level,omitempty"`
	Asked   int    `json:"asked"`
	Reached int    `json:"reached"`
	How     string `json:"how"`
}

// Closed ends the work on a notice. Who closes it signs.
type Closed struct {
	Notice ID `json:"notice"`
	// Open are what was not done when it was closed, in words, and Accepted
	// why it was closed all the same.
	Open      []string  `json:"open,omitempty"`
	Accepted  string    `json:"accepted,omitempty"`
	Signature Signature `json:"signature"`
}

// A Signature is that of a person who gave their password again for it.
type Signature struct {
	User string `json:"user"`
	Name string `json:"name"`
	// Meaning is what the signature says (21 CFR 11.50(a)(3) asks for it).
	Meaning string `json:"meaning"`
	// Head is the journal as it was signed.
	Head journal.Head `json:"head"`
}

// Reopened takes up the work again. A further version does so by itself.
type Reopened struct {
	Notice ID     `json:"notice"`
	Reason string `json:"reason"`
}

// What a row of the log holds.
const (
	workAssigned  = "notice.assigned"
	workDone      = "notice.done"
	workReviewed  = "notice.reviewed"
	workMachine   = "notice.machine"
	workTold      = "notice.told"
	workEffective = "notice.effective"
	workReplied   = "notice.replied"
	workClosed    = "notice.closed"
	workReopened  = "notice.reopened"
)

// Kind implements inventory.Event.
func (*ActionAssigned) Kind() string { return workAssigned }

// Project implements inventory.Event.
func (v *ActionAssigned) Project(w inventory.Writer, e journal.Entry) error {
	return logWork(w, v.Notice, e)
}

// Void implements inventory.Voider.
func (v *ActionAssigned) Void(w inventory.Writer, e, _ journal.Entry) error {
	return dropWork(w, v.Notice, e)
}

// Kind implements inventory.Event.
func (*ActionDone) Kind() string { return workDone }

// Project implements inventory.Event.
func (v *ActionDone) Project(w inventory.Writer, e journal.Entry) error {
	return logWork(w, v.Notice, e)
}

// Void implements inventory.Voider.
func (v *ActionDone) Void(w inventory.Writer, e, _ journal.Entry) error {
	return dropWork(w, v.Notice, e)
}

// Kind implements inventory.Event.
func (*PatientReviewed) Kind() string { return workReviewed }

// Project implements inventory.Event.
func (v *PatientReviewed) Project(w inventory.Writer, e journal.Entry) error {
	return logWork(w, v.Notice, e)
}

// Void implements inventory.Voider.
func (v *PatientReviewed) Void(w inventory.Writer, e, _ journal.Entry) error {
	return dropWork(w, v.Notice, e)
}

// Kind implements inventory.Event.
func (*MachineHandled) Kind() string { return workMachine }

// Project implements inventory.Event.
func (v *MachineHandled) Project(w inventory.Writer, e journal.Entry) error {
	return logWork(w, v.Notice, e)
}

// Void implements inventory.Voider.
func (v *MachineHandled) Void(w inventory.Writer, e, _ journal.Entry) error {
	return dropWork(w, v.Notice, e)
}

// Kind implements inventory.Event.
func (*Told) Kind() string { return workTold }

// Project implements inventory.Event.
func (v *Told) Project(w inventory.Writer, e journal.Entry) error { return logWork(w, v.Notice, e) }

// Void implements inventory.Voider.
func (v *Told) Void(w inventory.Writer, e, _ journal.Entry) error { return dropWork(w, v.Notice, e) }

// Kind implements inventory.Event.
func (*EffectivenessChecked) Kind() string { return workEffective }

// Project implements inventory.Event.
func (v *EffectivenessChecked) Project(w inventory.Writer, e journal.Entry) error {
	return logWork(w, v.Notice, e)
}

// Void implements inventory.Voider.
func (v *EffectivenessChecked) Void(w inventory.Writer, e, _ journal.Entry) error {
	return dropWork(w, v.Notice, e)
}

// Kind implements inventory.Event.
func (*Closed) Kind() string { return workClosed }

// Project implements inventory.Event. What was signed is not struck out: it is
// reopened.
func (v *Closed) Project(w inventory.Writer, e journal.Entry) error { return logWork(w, v.Notice, e) }

// Kind implements inventory.Event.
func (*Reopened) Kind() string { return workReopened }

// Project implements inventory.Event.
func (v *Reopened) Project(w inventory.Writer, e journal.Entry) error { return logWork(w, v.Notice, e) }

// ixWork is the log: notice, entry -> row.
const ixWork inventory.Index = "notice.work"

type workRow struct {
	Kind string          `json:"kind"`
	By   string          `json:"by"`
	At   time.Time       `json:"at"`
	Body json.RawMessage `json:"body"`
}

func workKey(id ID, seq uint64) []byte { return rowcode.AppendNumber(noticeKey(id), seq) }

// logWork puts an entry into a notice's log.
func logWork(w inventory.Writer, id ID, e journal.Entry) error {
	doc, err := json.Marshal(workRow{e.Kind, e.Actor, e.Happened, e.Body})
	if err != nil {
		return err
	}
	if err := w.Put(ixWork, workKey(id, e.Seq), doc); err != nil {
		return err
	}
	return setDues(w, id)
}

// dropWork takes it out again. The entry and its correction stay in the journal.
func dropWork(w inventory.Writer, id ID, e journal.Entry) error {
	if err := w.Delete(ixWork, workKey(id, e.Seq)); err != nil {
		return err
	}
	return setDues(w, id)
}
