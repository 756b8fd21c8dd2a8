package trace

import (
	"cmp"
	"maps"
	"slices"
	"time"
)

// A GradeCount is how many treatments, patients and machines have a grade. Each
// counts once, under the surest of its grades.
type GradeCount struct {
	Grade Grade `json:"grade"`
	// Meaning says in words what the grade rests on.
	Meaning    string `json:"meaning"`
	Treatments int    `json:"treatments"`
	Patients   int    `json:"patients"`
	Machines   int    `json:"machines"`
	// PatientsAbove and MachinesAbove are those of the grade's treatments
	// that a surer grade counts.
	PatientsAbove int `json:"patients_counted_above"`
	MachinesAbove int `json:"machines_counted_above"`
}

// A MachineCount is a machine that treatments with the lot, or perhaps with
// it, ran on.
type MachineCount struct {
	Machine    MachineID `json:"machine"`
	Grade      Grade     `json:"grade"`
	Treatments int       `json:"treatments"`
	First      time.Time `json:"first"`
	Last       time.Time `json:"last"`
}

// A GradeCounter counts treatments, patients and machines by grade, each once
// under the surest that it is given.
type GradeCounter struct {
	treatments map[TreatmentID]counted
	// homes are home patients, who have no treatment here.
	homes map[PatientID]Grade
}

type counted struct {
	grade   Grade
	patient PatientID
	machine MachineID
	start   time.Time
}

// NewGradeCounter returns one that has counted nothing.
func NewGradeCounter() *GradeCounter {
	return &GradeCounter{map[TreatmentID]counted{}, map[PatientID]Grade{}}
}

// Surer reports whether g is a surer grade than other.
func (g Grade) Surer(other Grade) bool { return surer(g, other) }

func surer(a, b Grade) bool {
	gs := Grades()
	return slices.Index(gs, a) < slices.Index(gs, b)
}

// Add counts an exposure.
func (c *GradeCounter) Add(x *Exposure) {
	if t, ok := c.treatments[x.Treatment]; !ok || surer(x.Grade, t.grade) {
		c.treatments[x.Treatment] = counted{x.Grade, x.Patient, x.Machine, x.Start}
	}
}

// AddPatient counts a home patient, who has no treatment here.
func (c *GradeCounter) AddPatient(p PatientID, grade Grade) {
	if g, ok := c.homes[p]; !ok || surer(grade, g) {
		c.homes[p] = grade
	}
}

// Result returns the counts by grade, surest first, and the machines by id.
func (c *GradeCounter) Result() ([]GradeCount, []MachineCount) {
	var counts []GradeCount
	patients, machines := map[PatientID]bool{}, map[MachineID]*MachineCount{}
	for _, g := range Grades() {
		n := GradeCount{Grade: g, Meaning: g.Meaning()}
		of, on := map[PatientID]bool{}, map[MachineID]bool{}
		for _, t := range c.treatments {
			if t.grade != g {
				continue
			}
			n.Treatments++
			of[t.patient], on[t.machine] = true, true
		}
		for p, grade := range c.homes {
			if grade == g {
				of[p] = true
			}
		}
		for p := range of {
			if patients[p] {
				n.PatientsAbove++
			}
			patients[p] = true
		}
		for m := range on {
			if machines[m] != nil {
				n.MachinesAbove++
				continue
			}
			machines[m] = &MachineCount{Machine: m, Grade: g}
		}
		n.Patients, n.Machines = len(of)-n.PatientsAbove, len(on)-n.MachinesAbove
		counts = append(counts, n)
	}
	for _, t := range c.treatments {
		m := machines[t.machine]
		if m.Treatments++; m.First.IsZero() || t.start.Before(m.First) {
			m.First = t.start
		}
		if t.start.After(m.Last) {
			m.Last = t.start
		}
	}
	list := []MachineCount{}
	for _, id := range slices.SortedFunc(maps.Keys(machines), cmp.Compare[MachineID]) {
		list = append(list, *machines[id])
	}
	return counts, list
}
