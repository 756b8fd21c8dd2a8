package v1

import (
	"time"

	"lotbook/reports"
	"lotbook/trace/notice"
)

// noticeAnswer is the answer to a notice, with a page of its treatments.
type noticeAnswer struct {
	Notice    string `json:"notice"`
	Reference string `json:"reference"`
	Issuer    string `json:"issuer"`
	Subject   string `json:"subject,omitempty"`
	Class     string `json:"class,omitempty"`
	Received  string `json:"received_on"`
	Deadline  string `json:"deadline,omitempty"`
	Version   int    `json:"version"`
	AsOf      head   `json:"as_of"`
	// Moved tells that entries came in while it was made.
	Moved   bool      `json:"moved,omitempty"`
	At      time.Time `json:"at"`
	AskedBy string    `json:"asked_by"`
	Caution string    `json:"caution"`
	// Sum is the same for answers that say the same: a reply may name it.
	Sum string `json:"sum"`
	// Receipt says whether anything was received: received, none_received or
	// not_known; ReceiptWords the same in a sentence.
	Receipt      string            `json:"receipt"`
	ReceiptWords string            `json:"receipt_words"`
	Products     []noticeProduct   `json:"products"`
	Unmatched    []noticeLine      `json:"unmatched"`
	Undecided    int               `json:"undecided"`
	Lots         []noticeAnswerLot `json:"lots"`
	Counts       []gradeCount      `json:"counts"`
	Patients     []noticePatient   `json:"patients"`
	Machines     []noticePlace     `json:"machines"`
	Stations     []noticePlace     `json:"stations"`
	Homes        []homePatient     `json:"home_patients"`
	Serials      int               `json:"other_serials"`
	Left         []balance         `json:"left"`
	Lent         []balance         `json:"lent"`
	OnOrder      []noticeOnOrder   `json:"on_order"`
	Mass         massBalance       `json:"mass_balance"`
	InDoubt      massBalance       `json:"mass_balance_in_doubt"`
	Limits       []string          `json:"limits"`
	Listed       int               `json:"treatments_total"`
	Treatments   []noticeTreatment `json:"treatments"`
	Next         string            `json:"next,omitempty"`
}

type noticeProduct struct {
	Product     string   `json:"product"`
	ProductName string   `json:"product_name,omitempty"`
	Maker       string   `json:"maker,omitempty"`
	DIs         []string `json:"device_identifiers"`
	Printed     []string `json:"printed,omitempty"`
	Means       []string `json:"means"`
}

type noticeAnswerLot struct {
	noticeLot
	First       time.Time      `json:"first,omitzero"`
	Last        time.Time      `json:"last,omitzero"`
	Mass        massBalance    `json:"mass_balance"`
	Counts      []gradeCount   `json:"counts"`
	Differences []difference   `json:"count_differences"`
	Units       []unitLoan     `json:"other_units"`
	Record      []completeness `json:"record_completeness"`
}

type noticePatient struct {
	Patient     string    `json:"patient"`
	PatientName string    `json:"patient_name,omitempty"`
	Grade       string    `json:"grade"`
	Treatments  int       `json:"treatments"`
	Home        bool      `json:"home,omitempty"`
	First       time.Time `json:"first"`
	Last        time.Time `json:"last"`
}

// noticePlace is a machine or a station.
type noticePlace struct {
	ID         string    `json:"id"`
	Grade      string    `json:"grade"`
	Treatments int       `json:"treatments"`
	First      time.Time `json:"first"`
	Last       time.Time `json:"last"`
}

type noticeOnOrder struct {
	Order    string `json:"order"`
	Supplier string `json:"supplier"`
	Product  string `json:"product"`
	Pieces   int64  `json:"pieces"`
	Expected string `json:"expected,omitempty"`
}

// noticeTreatment is a treatment and the lots that it met, or may have.
type noticeTreatment struct {
	Grade       string           `json:"grade"`
	Patient     string           `json:"patient"`
	PatientName string           `json:"patient_name,omitempty"`
	Treatment   string           `json:"treatment"`
	Start       time.Time        `json:"start"`
	Machine     string           `json:"machine"`
	Station     string           `json:"station"`
	Lots        []noticeLotGrade `json:"lots"`
}

type noticeLotGrade struct {
	Product  string  `json:"product"`
	Lot      string  `json:"lot"`
	Grade    string  `json:"grade"`
	Quantity int64   `json:"quantity,omitempty"`
	Serial   string  `json:"serial,omitempty"`
	How      string  `json:"how_known,omitempty"`
	By       string  `json:"by,omitempty"`
	Entry    uint64  `json:"entry,omitempty"`
	Why      string  `json:"why"`
	Via      *holder `json:"via,omitempty"`
}

func noticeTreatmentsOf(list []notice.Exposed) []noticeTreatment {
	out := make([]noticeTreatment, len(list))
	for i := range list {
		x := &list[i]
		t := noticeTreatment{
			string(x.Grade), string(x.Patient), x.Name, string(x.Treatment), x.Start, string(x.Machine), string(x.Station), make([]noticeLotGrade, len(x.Lots)),
		}
		for j := range x.Lots {
			l := &x.Lots[j]
			t.Lots[j] = noticeLotGrade{string(l.Product), l.Lot, string(l.Grade), l.Quantity, l.Serial, string(l.How), l.By, l.Entry, l.Why, holderOf(l.Via)}
		}
		out[i] = t
	}
	return out
}

func noticePatientsOf(list []notice.PatientLine) []noticePatient {
	out := make([]noticePatient, len(list))
	for i, p := range list {
		out[i] = noticePatient{string(p.Patient), p.Name, string(p.Grade), p.Treatments, p.Home, p.First, p.Last}
	}
	return out
}

func noticePlacesOf(list []notice.PlaceLine) []noticePlace {
	out := make([]noticePlace, len(list))
	for i, p := range list {
		out[i] = noticePlace{p.ID, string(p.Grade), p.Treatments, p.First, p.Last}
	}
	return out
}

// noticeAnswerOf returns the answer without treatments.
func noticeAnswerOf(a *notice.Answer, by string) noticeAnswer {
	out := noticeAnswer{
		Notice: string(a.Notice), Reference: a.Reference, Issuer: a.Issuer, Subject: a.Subject, Class: a.Class, Received: string(a.Received), Deadline: string(a.Deadline),
		Version: a.Version, AsOf: headOf(a.AsOf), Moved: a.Moved, At: a.At, AskedBy: by, Caution: reports.Caution, Sum: a.Sum(),
		Receipt: string(a.Receipt()), ReceiptWords: a.Receipt().Words(), Products: make([]noticeProduct, len(a.Products)), Unmatched: make([]noticeLine, len(a.Unmatched)),
		Undecided: a.Undecided, Lots: make([]noticeAnswerLot, len(a.Lots)), Counts: gradeCountsOf(a.Counts), Patients: noticePatientsOf(a.Patients),
		Machines: noticePlacesOf(a.Machines), Stations: noticePlacesOf(a.Stations), Homes: homePatientsOf(a.Homes), Serials: a.Serials, Left: balancesOf(a.Left), Lent: balancesOf(a.Lent),
		OnOrder: make([]noticeOnOrder, len(a.OnOrder)), Mass: massBalance(a.Mass), InDoubt: massBalance(a.InDoubt), Limits: append([]string{}, a.Limits...),
		Listed: len(a.Treatments), Treatments: []noticeTreatment{},
	}
	for i, p := range a.Products {
		out.Products[i] = noticeProduct{string(p.Product), p.Name, p.Maker, append([]string{}, p.DIs...), p.Printed, append([]string{}, p.Means...)}
	}
	for i := range a.Unmatched {
		out.Unmatched[i] = noticeLineOf(&a.Unmatched[i])
	}
	for i := range a.Lots {
		l := &a.Lots[i]
		n := noticeAnswerLot{noticeLotOf(&l.LotMatch), l.First, l.Last, massBalance(l.Mass), gradeCountsOf(l.Counts), differencesOf(l.Differences), unitLoansOf(l.Units), completenessesOf(l.Record)}
		out.Lots[i] = n
	}
	for i, o := range a.OnOrder {
		out.OnOrder[i] = noticeOnOrder{string(o.Order), o.Supplier, string(o.Product), o.Pieces, string(o.Expected)}
	}
	return out
}

// noticeDifference is what a later version changes in the answer.
type noticeDifference struct {
	Notice       string            `json:"notice"`
	From         int               `json:"from_version"`
	To           int               `json:"to_version"`
	AsOf         head              `json:"as_of"`
	Caution      string            `json:"caution"`
	NewLots      []noticeLot       `json:"new_lots"`
	GoneLots     []noticeLot       `json:"gone_lots"`
	New          []noticeTreatment `json:"new_treatments"`
	Surer        []noticeTreatment `json:"surer_treatments"`
	Gone         []noticeTreatment `json:"gone_treatments"`
	NewPatients  []noticePatient   `json:"new_patients"`
	GonePatients []noticePatient   `json:"gone_patients"`
	NewMachines  []noticePlace     `json:"new_machines"`
}

func noticeDifferenceOf(d *notice.Difference) noticeDifference {
	return noticeDifference{
		string(d.Notice), d.From, d.To, headOf(d.AsOf), reports.Caution, noticeLotsOf(d.NewLots), noticeLotsOf(d.GoneLots), noticeTreatmentsOf(d.New),
		noticeTreatmentsOf(d.Surer), noticeTreatmentsOf(d.Gone), noticePatientsOf(d.NewPatients), noticePatientsOf(d.GonePatients), noticePlacesOf(d.NewMachines),
	}
}
