package trace

import (
	"encoding/json"
	"strings"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A PatientID is the unit's own number for a patient.
type PatientID string

// A Patient is a person treated in the unit.
type Patient struct {
	ID   PatientID `json:"id"`
	Name string    `json:"name"`
	// Prescription is the one in force; nil if none was recorded.
	Prescription *inventory.Prescription `json:"prescription,omitempty"`
}

// PatientSet adds a patient or renames one. It leaves the prescription as it
// is.
type PatientSet struct {
	ID   PatientID `json:"id"`
	Name string    `json:"name"`
}

// Kind implements inventory.Event.
func (*PatientSet) Kind() string { return "patient.set" }

// Project implements inventory.Event.
func (p *PatientSet) Project(w inventory.Writer, _ journal.Entry) error {
	return changePatient(w, p.ID, func(q *Patient) { q.Name = p.Name })
}

// PrescriptionSet records a patient's prescription from now on. A treatment
// keeps the one that it was opened with.
type PrescriptionSet struct {
	Patient PatientID `json:"patient"`
	inventory.Prescription
}

// Kind implements inventory.Event.
func (*PrescriptionSet) Kind() string { return "prescription.set" }

// Project implements inventory.Event.
func (p *PrescriptionSet) Project(w inventory.Writer, _ journal.Entry) error {
	return changePatient(w, p.Patient, func(q *Patient) { q.Prescription = &p.Prescription })
}

func changePatient(w inventory.Writer, id PatientID, change func(*Patient)) error {
	key := rowcode.AppendText(nil, string(id))
	row, err := w.Get(ixPatient, key)
	if err != nil {
		return err
	}
	p := Patient{ID: id}
	if row != nil {
		if err := json.Unmarshal(row, &p); err != nil {
			return err
		}
	}
	change(&p)
	doc, err := json.Marshal(&p)
	if err != nil {
		return err
	}
	return w.Put(ixPatient, key, doc)
}

// PatientByID returns a patient, or a Refusal that is inventory.ErrNotFound.
func PatientByID(r inventory.Reader, id PatientID) (*Patient, error) {
	p := new(Patient)
	return p, getDoc(r, ixPatient, "patient", string(id), p)
}

// Patients returns all patients by id.
func Patients(r inventory.Reader) ([]Patient, error) { return listDocs[Patient](r, ixPatient) }

// A StationID names a station.
type StationID string

// A Station is where a patient lies: a chair and a machine's place.
type Station struct {
	ID   StationID `json:"id"`
	Name string    `json:"name"`
	// Location is where the packs used at this station are taken from.
	Location inventory.LocationID `json:"location"`
	// Machine is the machine that usually stands there.
	Machine MachineID `json:"machine,omitempty"`
}

// StationSet adds a station or changes it.
type StationSet struct{ Station }

// Kind implements inventory.Event.
func (*StationSet) Kind() string { return "station.set" }

// Project implements inventory.Event.
func (s *StationSet) Project(w inventory.Writer, _ journal.Entry) error {
	return putDoc(w, ixStation, string(s.ID), &s.Station)
}

// Stations returns all stations by id.
func Stations(r inventory.Reader) ([]Station, error) { return listDocs[Station](r, ixStation) }

// StationByID returns a station, or a Refusal that is inventory.ErrNotFound.
func StationByID(r inventory.Reader, id StationID) (*Station, error) {
	s := new(Station)
	return s, getDoc(r, ixStation, "station", string(id), s)
}

// A MachineID names a machine, such as its inventory number.
type MachineID string

// A Machine is a dialysis machine.
type Machine struct {
	ID   MachineID `json:"id"`
	Name string    `json:"name"`
}

// MachineSet adds a machine or renames it.
type MachineSet struct{ Machine }

// Kind implements inventory.Event.
func (*MachineSet) Kind() string { return "machine.set" }

// Project implements inventory.Event.
func (m *MachineSet) Project(w inventory.Writer, _ journal.Entry) error {
	return putDoc(w, ixMachine, string(m.ID), &m.Machine)
}

// Machines returns all machines by id.
func Machines(r inventory.Reader) ([]Machine, error) { return listDocs[Machine](r, ixMachine) }

// MachineByID returns a machine, or a Refusal that is inventory.ErrNotFound.
func MachineByID(r inventory.Reader, id MachineID) (*Machine, error) {
	m := new(Machine)
	return m, getDoc(r, ixMachine, "machine", string(id), m)
}

func checkName(what, id, name string) error {
	if strings.TrimSpace(id) == "" || !rowcode.Valid(id) || len(id) > 64 {
		return inventory.Invalid("id", "Give the unit's own number or short code, at most 64 bytes.", "a %s needs an id", what)
	}
	if strings.TrimSpace(name) == "" {
		return inventory.Invalid("name", "Give a name.", "%s %s needs a name", what, id)
	}
	return nil
}

func putDoc(w inventory.Writer, ix inventory.Index, id string, doc any) error {
	b, err := json.Marshal(doc)
	if err != nil {
		return err
	}
	return w.Put(ix, rowcode.AppendText(nil, id), b)
}

func getDoc(r inventory.Reader, ix inventory.Index, what, id string, doc any) error {
	row, err := r.Get(ix, rowcode.AppendText(nil, id))
	if err != nil {
		return err
	}
	if row == nil {
		return inventory.NotFound(what, id, "Add it first, or choose one that is on the list.")
	}
	return json.Unmarshal(row, doc)
}

func listDocs[T any](r inventory.Reader, ix inventory.Index) ([]T, error) {
	var list []T
	err := r.Scan(ix, nil, nil, func(_, row []byte) error {
		var doc T
		err := json.Unmarshal(row, &doc)
		list = append(list, doc)
		return err
	})
	return list, err
}
