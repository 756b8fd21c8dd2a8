package notice

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace"
)

// An Answer is who met what a notice names, and where every piece of it is. It
// is plain data: it can be kept as JSON, and read again it draws the same.
type Answer struct {
	Notice    ID     `json:"notice"`
	Reference string `json:"reference"`
	Issuer    string `json:"issuer"`
	// Version is the one whose scope was answered, with those before it. What
	// follows of it is as it was written.
	Version  int            `json:"version"`
	Subject  string         `json:"subject,omitempty"`
	Class    string         `json:"class,omitempty"`
	Dated    inventory.Date `json:"dated,omitempty"`
	Received inventory.Date `json:"received"`
	Deadline inventory.Date `json:"deadline,omitempty"`
	Actions  []Action       `json:"actions,omitempty"`
	// Products are those that the notice names.
	Products []ProductLine `json:"products"`
	// AsOf is the journal's head that it was made from, and At when. Moved is
	// set if entries came in while it was made, so that some of its lines may
	// know more than the head says.
	AsOf  journal.Head `json:"as_of"`
	At    time.Time    `json:"at"`
	Moved bool         `json:"moved,omitempty"`

	// Lots are the lots that the notice means, or may.
	Lots []LotLine `json:"lots"`
	// Unmatched are lines of the notice whose product nobody could tell yet.
	Unmatched []Line `json:"unmatched,omitempty"`
	// Undecided is how many lots on record a person has to decide on.
	Undecided int `json:"undecided"`

	// Treatments are those that met one of the lots, or may have, each once
	// under its surest grade: surest first, then by start.
	Treatments []Exposed `json:"treatments"`
	// Patients are those of Treatments and of Homes, each once.
	Patients []PatientLine `json:"patients"`
	Machines []PlaceLine   `json:"machines"`
	Stations []PlaceLine   `json:"stations"`
	// Homes are home patients whose stores have or had some of it.
	Homes  []trace.HomeExposure `json:"home_patients,omitempty"`
	Counts []trace.GradeCount   `json:"counts"`
	// Serials is how many recorded uses are not listed since the piece's
	// serial number is not among those that are meant.
	Serials int `json:"other_serials,omitempty"`

	// Left is what is on the shelf, by place; Lent what other units have;
	// OnOrder what is on its way of the products, of which no lot is known.
	Left    []inventory.Balance `json:"left"`
	Lent    []inventory.Balance `json:"lent,omitempty"`
	OnOrder []OnOrder           `json:"on_order,omitempty"`
	// Mass accounts for every piece of the lots that are meant, InDoubt for
	// those of the lots in doubt.
	Mass    inventory.MassBalance `json:"mass_balance"`
	InDoubt inventory.MassBalance `json:"mass_balance_in_doubt"`
	// Limits are sentences on what this answer can't tell.
	Limits []string `json:"limits,omitempty"`
}

// A ProductLine is a product of a notice, as the catalogue and the notice have
// it.
type ProductLine struct {
	Product inventory.ProductID `json:"product"`
	Name    string              `json:"product_name,omitempty"`
	Maker   string              `json:"maker,omitempty"`
	// DIs are the device identifiers of its packs: GTINs, or other agencies'
	// codes.
	DIs []string `json:"device_identifiers"`
	// Printed is how the notice names it, Means its lots in words.
	Printed []string `json:"printed,omitempty"`
	Means   []string `json:"means"`
}

// A LotLine is a lot of an Answer.
type LotLine struct {
	LotMatch
	// First and Last are when it may have been in the unit; Last is zero if
	// it may still be. Both are zero if it is not on record.
	First time.Time             `json:"first,omitzero"`
	Last  time.Time             `json:"last,omitzero"`
	Mass  inventory.MassBalance `json:"mass_balance"`
	// Counts are of this lot alone: a treatment that met two lots is counted
	// with each.
	Counts []trace.GradeCount `json:"counts"`
	// Differences are what counts of it found against the book.
	Differences []inventory.Difference `json:"count_differences,omitempty"`
	// Units are the other units that had some of it from here, or gave some.
	Units []trace.UnitLoan `json:"other_units,omitempty"`
	// Record says how completely its kind was recorded in its time, in all:
	// Weeks is empty.
	Record []trace.Completeness `json:"record_completeness,omitempty"`
}

// An Exposed is a treatment and the lots that it met, or may have.
type Exposed struct {
	Grade     trace.Grade       `json:"grade"`
	Patient   trace.PatientID   `json:"patient"`
	Name      string            `json:"patient_name,omitempty"`
	Treatment trace.TreatmentID `json:"treatment"`
	Start     time.Time         `json:"start"`
	Machine   trace.MachineID   `json:"machine"`
	Station   trace.StationID   `json:"station"`
	// Lots are the exposures, the surest first.
	Lots []LotGrade `json:"lots"`
}

// A LotGrade is one lot that a treatment met, or may have.
type LotGrade struct {
	Product  inventory.ProductID `json:"product"`
	Lot      string              `json:"lot"`
	Grade    trace.Grade         `json:"grade"`
	Quantity int64               `json:"quantity,omitempty"`
	Serial   string              `json:"serial,omitempty"`
	How      trace.How           `json:"how_known,omitempty"`
	By       string              `json:"by,omitempty"`
	Entry    uint64              `json:"entry,omitempty"`
	Why      string              `json:"why"`
	Via      *trace.Holder       `json:"via,omitempty"`
}

// A PatientLine is a patient and the surest grade of the treatments.
type PatientLine struct {
	Patient trace.PatientID `json:"patient"`
	Name    string          `json:"patient_name,omitempty"`
	Grade   trace.Grade     `json:"grade"`
	// Treatments is how many are listed, Home tells that the store at home
	// has or had some.
	Treatments int       `json:"treatments"`
	Home       bool      `json:"home,omitempty"`
	First      time.Time `json:"first"`
	Last       time.Time `json:"last"`
}

// A PlaceLine is a machine or a station that treatments listed ran on.
type PlaceLine struct {
	ID         string      `json:"id"`
	Grade      trace.Grade `json:"grade"`
	Treatments int         `json:"treatments"`
	First      time.Time   `json:"first"`
	Last       time.Time   `json:"last"`
}

// An OnOrder is what is on its way of a product that the notice names. Which
// lots will come is not known before they do; those that are meant meet a stop
// then.
type OnOrder struct {
	Order    inventory.OrderID   `json:"order"`
	Supplier string              `json:"supplier"`
	Product  inventory.ProductID `json:"product"`
	Pieces   int64               `json:"pieces"`
	Expected inventory.Date      `json:"expected,omitempty"`
}
