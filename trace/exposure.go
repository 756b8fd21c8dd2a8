package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// A Grade says how sure it is that a treatment used a lot.
type Grade string

// The grades, surest first. A treatment of which another lot is recorded, or
// that the lot can't have reached, is not listed.
const (
	// Confirmed: recorded as used; or the station was fed from a batch that
	// holds the lot, and the record leaves no other source.
	Confirmed Grade = "confirmed"
	// Probable: of this kind nothing is recorded, and the lot was the open
	// one at that place and time, or fed its station; or it was scanned, met a
	// stop, and nobody said what became of it.
	Probable Grade = "probable"
	// NotExcluded: of this kind nothing is recorded, and the lot may have
	// been in the unit.
	NotExcluded Grade = "cannot be excluded"
)

// Excluded is what a treatment is that an answer leaves out, see Book.LeftOut:
// something on record says why. It is none of the Grades, which are listed.
const Excluded Grade = "excluded"

// Grades returns the grades that are listed, surest first.
func Grades() []Grade { return []Grade{Confirmed, Probable, NotExcluded} }

// Meaning says in words what a grade rests on.
func (g Grade) Meaning() string {
	switch g {
	case Confirmed:
		return "recorded as used in the treatment, itself or in a kit or batch; or its station was fed from a batch that holds it"
	case Probable:
		return "no lot of this kind recorded, and this lot was the open one at that place and time, or may have fed its station; or this lot was scanned, met a stop, and nobody said what became of it"
	case NotExcluded:
		return "no lot of this kind recorded, and this lot may have been in the unit"
	case Excluded:
		return "left out, because something on record says why"
	}
	return ""
}

// An Exposure is a patient, a treatment and a grade.
type Exposure struct {
	Grade     Grade               `json:"grade"`
	Patient   PatientID           `json:"patient"`
	Name      string              `json:"patient_name,omitempty"`
	Treatment TreatmentID         `json:"treatment"`
	Start     time.Time           `json:"start"`
	Machine   MachineID           `json:"machine"`
	Station   StationID           `json:"station"`
	Product   inventory.ProductID `json:"product"`
	Lot       string              `json:"lot"`
	// Of a confirmed one: from when until when, how many, how known, by
	// whom, and the entry that records it.
	From     time.Time `json:"from,omitzero"`
	Until    time.Time `json:"until,omitzero"`
	Quantity int64     `json:"quantity,omitempty"`
	Serial   string    `json:"serial,omitempty"`
	How      How       `json:"how_known,omitempty"`
	By       string    `json:"by,omitempty"`
	Entry    uint64    `json:"entry,omitempty"`
	// Why says in words what the grade rests on.
	Why string `json:"why"`
	// Via is the kit or the batch through which the treatment met the lot,
	// nil for a pack of the lot itself.
	Via *Holder `json:"via,omitempty"`
}

// A LotAnswer is the answer to "who received this lot", without the confirmed
// lines, which are read by EachConfirmed.
type LotAnswer struct {
	Question Question            `json:"question"`
	Product  inventory.ProductID `json:"product"`
	Name     string              `json:"product_name,omitempty"`
	Category inventory.Category  `json:"category,omitempty"`
	Lot      string              `json:"lot"`
	Expires  inventory.Date      `json:"expires,omitempty"`
	// OnRecord tells that some entry names the lot. A lot that no entry
	// names was never seen here, which is another answer than "no patient".
	OnRecord bool            `json:"on_record"`
	Hold     *inventory.Hold `json:"hold,omitempty"`
	// Similar are lots on record that read almost the same.
	Similar []inventory.Lot `json:"similar_lots,omitempty"`
	// AsOf is the journal's head that the answer was made from, and At when.
	AsOf journal.Head `json:"as_of"`
	At   time.Time    `json:"at"`

	// First and Last are when the lot may have been in the unit; Last is
	// zero if it may still be.
	First time.Time `json:"first,omitzero"`
	Last  time.Time `json:"last,omitzero"`

	Counts   []GradeCount   `json:"counts"`
	Machines []MachineCount `json:"machines"`
	Stations []StationCount `json:"stations"`
	// Unrecorded are the exposures graded probable and cannot be excluded.
	Unrecorded []Exposure `json:"-"`
	// Gaps is how many treatments lack a record of this kind in the time
	// when the lot may have been here, and Excluded how many of those are
	// not listed, by reason.
	Gaps     int         `json:"treatments_without_record"`
	Excluded []Exclusion `json:"excluded,omitempty"`
	// Completeness says how complete the record is, by kind of product.
	Completeness []Completeness `json:"record_completeness"`
	// Counted is how often a count named the lot; Differences are those that
	// found something else than the book had.
	Counted int `json:"counted"`
	// Limits are sentences on what this answer can't tell.
	Limits []string `json:"limits,omitempty"`
	// StruckOut are uses that were recorded and struck out.
	StruckOut []Exposure `json:"struck_out,omitempty"`
	// Outside is what was used outside treatments, Mixed what went into
	// batches, Opened what was opened for several treatments.
	Outside int64 `json:"used_outside_treatments"`
	Mixed   int64 `json:"used_in_batches,omitempty"`
	Opened  int64 `json:"opened_for_several,omitempty"`
	// Holders are the kits' lots and the batches that hold the lot, or may.
	Holders []Holder `json:"holders,omitempty"`
	// Homes are the home patients whose stores have or had some of it.
	Homes []HomeExposure `json:"home_patients,omitempty"`

	// Units are the other units that had some of it from here, or gave some.
	Units []UnitLoan `json:"other_units,omitempty"`

	Left []inventory.Balance `json:"left"`
	// Lent is what other units have of it; below zero, what was taken in
	// from them and not given back.
	Lent        []inventory.Balance    `json:"lent,omitempty"`
	Mass        inventory.MassBalance  `json:"mass_balance"`
	Differences []inventory.Difference `json:"count_differences,omitempty"`
	// Refused came and went back at once: it never was received, and is no
	// part of Mass.
	Refused []inventory.RefusedPieces `json:"refused,omitempty"`

	keys     keys
	carriers []*carrier
	places   places
	// fed are the confirmed exposures through what fed a station.
	fed    []Exposure
	sure   map[TreatmentID]bool // in fed
	listed map[TreatmentID]int  // in Unrecorded
	// outcomes are the treatments that lack a record, each with why it is
	// left out, empty if it is listed.
	outcomes map[TreatmentID]outcome
}

// An Exclusion is why treatments without a record are not listed.
type Exclusion struct {
	Code       LeftOutCode `json:"code"`
	Reason     string      `json:"reason"`
	Treatments int         `json:"treatments"`
}
