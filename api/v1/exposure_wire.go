package v1

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/reports"
	"lotbook/trace"
)

// head is where the journal stood.
type head struct {
	Seq  uint64 `json:"seq"`
	Hash string `json:"hash"`
}

func headOf(h journal.Head) head { return head{h.Seq, h.Hash.String()} }

// lotAnswer is the answer to "who received this lot".
type lotAnswer struct {
	Question    question       `json:"question"`
	Product     string         `json:"product"`
	ProductName string         `json:"product_name,omitempty"`
	Category    *category      `json:"category,omitempty"`
	Lot         string         `json:"lot"`
	Expires     string         `json:"expires,omitempty"`
	OnRecord    bool           `json:"on_record"`
	Hold        *hold          `json:"hold,omitempty"`
	Similar     []lotName      `json:"similar_lots"`
	AsOf        head           `json:"as_of"`
	At          time.Time      `json:"at"`
	AskedBy     string         `json:"asked_by"`
	Caution     string         `json:"caution"`
	First       time.Time      `json:"first,omitzero"`
	Last        time.Time      `json:"last,omitzero"`
	Counts      []gradeCount   `json:"counts"`
	Machines    []machineCount `json:"machines"`
	Stations    []stationCount `json:"stations"`
	Record      []completeness `json:"record_completeness"`
	Counted     int            `json:"counted"`
	Gaps        int            `json:"treatments_without_record"`
	Limits      []string       `json:"limits"`
	Excluded    []exclusion    `json:"excluded"`
	StruckOut   []exposure     `json:"struck_out"`
	Outside     int64          `json:"used_outside_treatments"`
	Mixed       int64          `json:"used_in_batches"`
	Opened      int64          `json:"opened_for_several"`
	Holders     []holder       `json:"holders"`
	Homes       []homePatient  `json:"home_patients"`
	Left        []balance      `json:"left"`
	Lent        []balance      `json:"lent"`
	Units       []unitLoan     `json:"other_units"`
	Mass        massBalance    `json:"mass_balance"`
	Differences []difference   `json:"count_differences"`
	// Refused never was received, and is no part of the balance.
	Refused []refused `json:"refused"`
	// Listed is how many exposures there are in all: Exposures are a page of
	// them, the confirmed ones first.
	Listed    int        `json:"exposures_total"`
	Exposures []exposure `json:"exposures"`
	Next      string     `json:"next,omitempty"`
}

// refused is pieces that came and went back at once.
type refused struct {
	Entry    uint64    `json:"entry"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Quantity int64     `json:"quantity"`
	Cause    string    `json:"cause"`
	Supplier string    `json:"supplier,omitempty"`
	Order    string    `json:"order,omitempty"`
	Delivery string    `json:"delivery,omitempty"`
}

type question struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
}

type lotName struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
}

type gradeCount struct {
	Grade         string `json:"grade"`
	Meaning       string `json:"meaning"`
	Treatments    int    `json:"treatments"`
	Patients      int    `json:"patients"`
	Machines      int    `json:"machines"`
	PatientsAbove int    `json:"patients_counted_above"`
	MachinesAbove int    `json:"machines_counted_above"`
}

func gradeCountOf(n trace.GradeCount) gradeCount {
	return gradeCount{string(n.Grade), n.Meaning, n.Treatments, n.Patients, n.Machines, n.PatientsAbove, n.MachinesAbove}
}

type machineCount struct {
	Machine    string    `json:"machine"`
	Grade      string    `json:"grade"`
	Treatments int       `json:"treatments"`
	First      time.Time `json:"first"`
	Last       time.Time `json:"last"`
}

type stationCount struct {
	Station    string    `json:"station"`
	Grade      string    `json:"grade"`
	Treatments int       `json:"treatments"`
	First      time.Time `json:"first"`
	Last       time.Time `json:"last"`
}

// completeness is how completely a kind of product was recorded.
type completeness struct {
	Category  category   `json:"category"`
	KeptByLot bool       `json:"kept_by_lot"`
	Total     kept       `json:"total"`
	Fed       int        `json:"fed_from_tanks"`
	Weeks     []keptWeek `json:"weeks"`
}

type kept struct {
	Treatments  int64 `json:"treatments"`
	Scanned     int64 `json:"scanned"`
	Photo       int64 `json:"photo"`
	Typed       int64 `json:"typed"`
	Assumed     int64 `json:"assumed"`
	DoneWithout int64 `json:"done_without"`
	Without     int64 `json:"without_record"`
}

type keptWeek struct {
	Week string `json:"week"` // its Monday
	kept
}

func keptOf(k *trace.OnRecord) kept {
	return kept{k.Treatments(), k.Scanned, k.Photo, k.Typed, k.Assumed, k.DoneWithout, k.Without}
}

func completenessOf(x *trace.Completeness) completeness {
	out := completeness{categoryOf(x.Category), x.Kept, keptOf(&x.Total), x.Fed, make([]keptWeek, len(x.Weeks))}
	for i := range x.Weeks {
		w := &x.Weeks[i]
		out.Weeks[i] = keptWeek{w.Week.Format(time.DateOnly), keptOf(&w.OnRecord)}
	}
	return out
}

// unitLoan is another unit that had pieces of the lot from here, or gave some.
type unitLoan struct {
	Unit     string    `json:"unit"`
	Location string    `json:"location,omitempty"`
	Lent     int64     `json:"lent"`
	Taken    int64     `json:"taken"`
	First    time.Time `json:"first"`
	Last     time.Time `json:"last"`
	Entries  []uint64  `json:"entries"`
	Via      *holder   `json:"via,omitempty"`
}

type exclusion struct {
	Code       string `json:"code"`
	Reason     string `json:"reason"`
	Treatments int    `json:"treatments"`
}

type massBalance struct {
	Received       int64 `json:"received"`
	TransferredIn  int64 `json:"transferred_in"`
	Used           int64 `json:"used"`
	Wasted         int64 `json:"wasted"`
	OnHand         int64 `json:"on_hand"`
	Held           int64 `json:"held"`
	Returned       int64 `json:"returned"`
	Destroyed      int64 `json:"destroyed"`
	TransferredOut int64 `json:"transferred_out"`
	Unaccounted    int64 `json:"unaccounted"`
}

type difference struct {
	Entry    uint64    `json:"entry"`
	Location string    `json:"location"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Book     int64     `json:"book"`
	Counted  int64     `json:"counted"`
	Cause    string    `json:"cause,omitempty"`
}

// exposure is a patient, a treatment and a grade.
type exposure struct {
	Grade       string    `json:"grade"`
	Patient     string    `json:"patient"`
	PatientName string    `json:"patient_name,omitempty"`
	Treatment   string    `json:"treatment"`
	Start       time.Time `json:"start"`
	Machine     string    `json:"machine"`
	Station     string    `json:"station"`
	Product     string    `json:"product"`
	Lot         string    `json:"lot"`
	From        time.Time `json:"from,omitzero"`
	Until       time.Time `json:"until,omitzero"`
	Quantity    int64     `json:"quantity,omitempty"`
	Serial      string    `json:"serial,omitempty"`
	How         string    `json:"how_known,omitempty"`
	By          string    `json:"by,omitempty"`
	Entry       uint64    `json:"entry,omitempty"`
	Why         string    `json:"why"`
	Via         *holder   `json:"via,omitempty"`
}

// holder is a kit's lot or a batch that holds the lot, or may.
type holder struct {
	Kind        string `json:"kind"`
	Product     string `json:"product"`
	ProductName string `json:"product_name,omitempty"`
	Lot         string `json:"lot"`
	Pieces      int64  `json:"pieces,omitempty"`
	Grade       string `json:"grade"`
	Why         string `json:"why"`
}

func holderOf(h *trace.Holder) *holder {
	if h == nil {
		return nil
	}
	return &holder{h.Kind, string(h.Product), h.Name, h.Lot, h.Pieces, string(h.Grade), h.Why}
}

// homePatient is a home patient whose store has or had some of the lot.
type homePatient struct {
	Grade       string    `json:"grade"`
	Patient     string    `json:"patient"`
	PatientName string    `json:"patient_name,omitempty"`
	Location    string    `json:"location"`
	Supplied    int64     `json:"supplied"`
	Returned    int64     `json:"returned"`
	Used        int64     `json:"used"`
	First       time.Time `json:"first"`
	Last        time.Time `json:"last"`
	Why         string    `json:"why"`
	Via         *holder   `json:"via,omitempty"`
}

func exposureOf(x *trace.Exposure) exposure {
	return exposure{
		Grade: string(x.Grade), Patient: string(x.Patient), PatientName: x.Name, Treatment: string(x.Treatment), Start: x.Start,
		Machine: string(x.Machine), Station: string(x.Station), Product: string(x.Product), Lot: x.Lot, From: x.From, Until: x.Until,
		Quantity: x.Quantity, Serial: x.Serial, How: string(x.How), By: x.By, Entry: x.Entry, Why: x.Why,
		Via: holderOf(x.Via),
	}
}

func lotAnswerOf(a *trace.LotAnswer, by string) lotAnswer {
	out := lotAnswer{
		Question: question{a.Question.Product, a.Question.Lot}, Product: string(a.Product), ProductName: a.Name, Lot: a.Lot,
		Expires: string(a.Expires), OnRecord: a.OnRecord, Hold: holdOf(a.Hold), Similar: make([]lotName, len(a.Similar)),
		AsOf: headOf(a.AsOf), At: a.At, AskedBy: by, Caution: reports.Caution, First: a.First, Last: a.Last,
		Counts: gradeCountsOf(a.Counts), Machines: make([]machineCount, len(a.Machines)),
		Gaps: a.Gaps, Limits: append([]string{}, a.Limits...), Excluded: make([]exclusion, len(a.Excluded)), StruckOut: make([]exposure, len(a.StruckOut)), Outside: a.Outside,
		Left: balancesOf(a.Left), Mass: massBalance(a.Mass), Differences: differencesOf(a.Differences),
		Stations: make([]stationCount, len(a.Stations)), Record: completenessesOf(a.Completeness), Counted: a.Counted, Units: unitLoansOf(a.Units),
		Exposures: []exposure{}, Mixed: a.Mixed, Opened: a.Opened,
		Holders: make([]holder, len(a.Holders)), Homes: homePatientsOf(a.Homes), Lent: balancesOf(a.Lent),
		Refused: make([]refused, len(a.Refused)),
	}
	for i, x := range a.Refused {
		out.Refused[i] = refused(x)
	}
	for i := range a.Holders {
		out.Holders[i] = *holderOf(&a.Holders[i])
	}
	if a.Category != "" {
		cat := categoryOf(a.Category)
		out.Category = &cat
	}
	for i, l := range a.Similar {
		out.Similar[i] = lotName{string(l.Product), l.Number}
	}
	for i, m := range a.Machines {
		out.Machines[i] = machineCount{string(m.Machine), string(m.Grade), m.Treatments, m.First, m.Last}
	}
	for i, s := range a.Stations {
		out.Stations[i] = stationCount{string(s.Station), string(s.Grade), s.Treatments, s.First, s.Last}
	}
	for i, x := range a.Excluded {
		out.Excluded[i] = exclusion{string(x.Code), x.Reason, x.Treatments}
	}
	for i := range a.StruckOut {
		out.StruckOut[i] = exposureOf(&a.StruckOut[i])
	}
	return out
}

func differenceOf(d inventory.Difference) difference {
	return difference{d.Entry, string(d.Location), d.At, d.By, d.Book, d.Counted, d.Cause}
}

func differencesOf(list []inventory.Difference) []difference {
	out := make([]difference, len(list))
	for i, d := range list {
		out[i] = differenceOf(d)
	}
	return out
}

func gradeCountsOf(list []trace.GradeCount) []gradeCount {
	out := make([]gradeCount, len(list))
	for i, n := range list {
		out[i] = gradeCountOf(n)
	}
	return out
}

func homePatientsOf(list []trace.HomeExposure) []homePatient {
	out := make([]homePatient, len(list))
	for i, h := range list {
		out[i] = homePatient{string(h.Grade), string(h.Patient), h.Name, string(h.Location), h.Supplied, h.Returned, h.Used, h.First, h.Last, h.Why, holderOf(h.Via)}
	}
	return out
}

func unitLoansOf(list []trace.UnitLoan) []unitLoan {
	out := make([]unitLoan, len(list))
	for i, u := range list {
		out[i] = unitLoan{u.Unit, string(u.Location), u.Lent, u.Taken, u.First, u.Last, u.Entries, holderOf(u.Via)}
	}
	return out
}

func completenessesOf(list []trace.Completeness) []completeness {
	out := make([]completeness, len(list))
	for i := range list {
		out[i] = completenessOf(&list[i])
	}
	return out
}
