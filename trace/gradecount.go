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

// A StationCount is the same of a station.
type StationCount struct {
	Station    StationID `json:"station"`
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
	station StationID
	start   time.Time
}

// NewGradeCounter returns one that has counted nothing.
func NewGradeCounter() *GradeCounter {
	return &GradeCounter{map[TreatmentID]counted{}, map[PatientID]Grade{}}
}

// Surer reports whether g is a surer grade than other.
func (g Grade) Surer(other Grade) bool { return surer(g, other) }

func surer(a, b Grade) bool { return a.rank() < b.rank() }

// rank is a grade's place among Grades.
func (g Grade) rank() int {
	switch g {
	case Confirmed:
		return 0
	case Probable:
		return 1
	}
	return 2
}

// Add counts an exposure.
func (c *GradeCounter) Add(x *Exposure) {
	if t, ok := c.treatments[x.Treatment]; !ok || surer(x.Grade, t.grade) {
		c.treatments[x.Treatment] = counted{x.Grade, x.Patient, x.Machine, x.Station, x.Start}
	}
}

// use counts a use on record, which nothing is surer than.
func (c *GradeCounter) use(u *LotUse) {
	c.treatments[u.Treatment] = counted{Confirmed, u.Patient, u.Machine, u.Station, u.Start}
}

// AddPatient counts a home patient, who has no treatment here.
func (c *GradeCounter) AddPatient(p PatientID, grade Grade) {
	if g, ok := c.homes[p]; !ok || surer(grade, g) {
		c.homes[p] = grade
	}
}

// Result returns the counts by grade, surest first, and the machines by id.
func (c *GradeCounter) Result() ([]GradeCount, []MachineCount) {
	machines := ranOn(c, func(t *counted) MachineID { return t.machine }, func(id MachineID, o ran) MachineCount {
		return MachineCount{id, o.grade, o.treatments, o.first, o.last}
	})
	return c.grades(), machines
}

// Stations returns the stations of all treatments, by id.
func (c *GradeCounter) Stations() []StationCount {
	return ranOn(c, func(t *counted) StationID { return t.station }, func(id StationID, o ran) StationCount {
		return StationCount{id, o.grade, o.treatments, o.first, o.last}
	})
}

func (c *GradeCounter) grades() []GradeCount {
	var counts []GradeCount
	patients, machines := map[PatientID]bool{}, map[MachineID]bool{}
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
			if machines[m] {
				n.MachinesAbove++
			}
			machines[m] = true
		}
		n.Patients, n.Machines = len(of)-n.PatientsAbove, len(on)-n.MachinesAbove
		counts = append(counts, n)
	}
	return counts
}

// A ran is what ran on a machine or at a station.
type ran struct {
	grade       Grade
	treatments  int
	first, last time.Time
}

func ranOn[ID ~string, Line any](c *GradeCounter, of func(*counted) ID, line func(ID, ran) Line) []Line {
	on := map[ID]*ran{}
	for _, t := range c.treatments {
		o := on[of(&t)]
		if o == nil {
			o = &ran{grade: t.grade, first: t.start}
			on[of(&t)] = o
		}
		if surer(t.grade, o.grade) {
			o.grade = t.grade
		}
		if o.treatments++; t.start.Before(o.first) {
			o.first = t.start
		}
		o.last = later(o.last, t.start)
	}
	list := []Line{}
	for _, id := range slices.SortedFunc(maps.Keys(on), cmp.Compare[ID]) {
		list = append(list, line(id, *on[id]))
	}
	return list
}
