package v1

import (
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// treatment is one patient, one machine, one station, one start, and what was
// used.
type treatment struct {
	ID           string        `json:"id"`
	Patient      string        `json:"patient"`
	PatientName  string        `json:"patient_name,omitempty"`
	Machine      string        `json:"machine"`
	Station      string        `json:"station"`
	Location     string        `json:"location"`
	Start        time.Time     `json:"start"`
	Planned      int64         `json:"planned_minutes"`
	OpenedEntry  uint64        `json:"opened_entry"`
	OpenedBy     string        `json:"opened_by"`
	Closed       bool          `json:"closed"`
	End          time.Time     `json:"end,omitzero"`
	Minutes      int64         `json:"minutes,omitempty"`
	NotDone      bool          `json:"not_done"`
	StruckOut    uint64        `json:"struck_out,omitempty"`
	Required     []required    `json:"required"`
	Uses         []use         `json:"uses"`
	Absences     []absence     `json:"absences"`
	Stopped      []stopped     `json:"stopped"`
	Missing      []missing     `json:"missing"`
	Prescription *prescription `json:"prescription,omitempty"`
	Supplied     []supply      `json:"supplied,omitempty"`
}

type required struct {
	Category   category `json:"category"`
	Product    string   `json:"product,omitempty"`
	Prescribed bool     `json:"prescribed"`
	Pieces     int64    `json:"pieces"`
}

type use struct {
	Entry     uint64    `json:"entry"`
	Category  category  `json:"category"`
	Product   string    `json:"product"`
	Lot       string    `json:"lot,omitempty"`
	Serial    string    `json:"serial,omitempty"`
	Expires   string    `json:"expires,omitempty"`
	Quantity  int64     `json:"quantity"`
	Location  string    `json:"location"`
	How       string    `json:"how"`
	By        string    `json:"by"`
	From      time.Time `json:"from"`
	Until     time.Time `json:"until,omitzero"`
	Replaces  uint64    `json:"replaces,omitempty"`
	Cause     string    `json:"cause,omitempty"`
	Reason    string    `json:"reason,omitempty"`
	Findings  []string  `json:"findings"`
	StruckOut uint64    `json:"struck_out,omitempty"`
	Container string    `json:"container,omitempty"`
	// Also is what a kit counts as beside its category, Contents what is on
	// record of what a kit's lot or a batch holds.
	Also     []part    `json:"also,omitempty"`
	Contents []content `json:"contents,omitempty"`
}

type part struct {
	Category category `json:"category"`
	Pieces   int64    `json:"pieces"`
}

type absence struct {
	Entry    uint64    `json:"entry"`
	Category category  `json:"category"`
	Used     bool      `json:"used"`
	Cause    string    `json:"cause"`
	Replaces uint64    `json:"replaces,omitempty"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
}

type stopped struct {
	Entry    uint64    `json:"entry"`
	Category category  `json:"category"`
	Product  string    `json:"product"`
	Lot      string    `json:"lot,omitempty"`
	Findings []finding `json:"findings"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
}

// missing is what a treatment still lacks.
type missing struct {
	Category category `json:"category"`
	Product  string   `json:"product,omitempty"`
	Pieces   int64    `json:"pieces"`
	Cause    string   `json:"cause,omitempty"`
	Known    string   `json:"known_product,omitempty"`
}

func missingOf(ms []trace.Missing) []missing {
	out := make([]missing, len(ms))
	for i, m := range ms {
		out[i] = missing{categoryOf(m.Category), string(m.Product), m.Pieces, m.Cause, string(m.Known)}
	}
	return out
}

func requiredOf(rs []trace.Required) []required {
	out := make([]required, len(rs))
	for i, q := range rs {
		out[i] = required{categoryOf(q.Category), string(q.Product), q.Prescribed, q.Pieces}
	}
	return out
}

func treatmentOf(t *trace.Treatment, name string) treatment {
	out := treatment{
		ID: string(t.ID), Patient: string(t.Patient), PatientName: name, Machine: string(t.Machine), Station: string(t.Station),
		Location: string(t.Location), Start: t.Start, Planned: t.Planned, OpenedEntry: t.Opened, OpenedBy: t.By,
		Closed: t.Closed, End: t.End, Minutes: t.Minutes, NotDone: t.NotDone, StruckOut: t.Struck, Required: requiredOf(t.Required),
		Uses: make([]use, len(t.Uses)), Absences: make([]absence, len(t.Absences)), Stopped: make([]stopped, len(t.Stopped)),
		Missing: missingOf(t.Missing()),
	}
	for i := range t.Uses {
		u := &t.Uses[i]
		out.Uses[i] = use{
			Entry: u.Entry, Category: categoryOf(u.Category), Product: string(u.Product), Lot: u.Lot, Serial: u.Serial, Expires: string(u.Expires),
			Quantity: u.Quantity, Location: string(u.Location), How: string(u.How), By: u.By, From: u.From, Until: u.Until,
			Replaces: u.Replaces, Cause: u.Cause, Reason: u.Reason, Findings: append([]string{}, u.Findings...), StruckOut: u.Struck,
			Container: string(u.Container),
		}
		for _, p := range u.Also {
			out.Uses[i].Also = append(out.Uses[i].Also, part{categoryOf(p.Category), p.Pieces})
		}
	}
	for i, x := range t.Absences {
		out.Absences[i] = absence{x.Entry, categoryOf(x.Category), x.Used, x.Cause, x.Replaces, x.By, x.At}
	}
	for i, s := range t.Stopped {
		out.Stopped[i] = stopped{s.Entry, categoryOf(s.Category), string(s.Product), s.Lot, findingsOf(s.Findings), s.By, s.At}
	}
	return out
}

// expectation is what a treatment should use of a category, and why.
type expectation struct {
	Category category `json:"category"`
	Product  string   `json:"product,omitempty"`
	Pieces   int64    `json:"pieces"`
	Volume   int64    `json:"volume_ul,omitempty"`
	Shared   bool     `json:"shared"`
	Scan     bool     `json:"scan"`
	Terms    []term   `json:"terms"`
}

type term struct {
	What  string `json:"what"`
	Value string `json:"value"`
	How   string `json:"how"`
}

func expectationsOf(xs []inventory.Expectation) []expectation {
	out := make([]expectation, len(xs))
	for i, x := range xs {
		out[i] = expectation{categoryOf(x.Category), string(x.Product), x.Pieces, x.Volume, x.Shared, x.Scan, termsOf(x.Terms)}
	}
	return out
}

func termsOf(ts []inventory.Term) []term {
	out := make([]term, len(ts))
	for i, t := range ts {
		out[i] = term(t)
	}
	return out
}
