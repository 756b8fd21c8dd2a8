package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace/associate"
)

// A Case is a treatment with a reaction: named itself; or by the problem that was
// recorded of it; or by its patient and when the reaction was; or by its patient
// alone, of whom all treatments of the time looked at then count, since nobody
// knows which one it was.
type Case struct {
	Problem   ProblemID   `json:"problem,omitempty"`
	Treatment TreatmentID `json:"treatment,omitempty"`
	Patient   PatientID   `json:"patient,omitempty"`
	// At is when the reaction was seen, zero if nobody knows. What took over
	// from something else after it is not looked at.
	At time.Time `json:"at,omitzero"`
}

// A Comparing asks what treatments with a reaction share that others don't.
type Comparing struct {
	Cases []Case `json:"cases"`
	// Others are those to compare with; none: all other treatments that took
	// place in the time looked at, of the same patients too.
	Others []Case `json:"others,omitempty"`
	// From and To are the first and the last day to look at; left out: Days
	// before the day of the first case to Days after the last one's. Cases
	// known by their patient alone need them.
	From inventory.Date `json:"from,omitempty"`
	To   inventory.Date `json:"to,omitempty"`
	// Days is 7 where it is left out.
	Days *int `json:"days,omitempty"`
	// Within is how many hours before a reaction a treatment may have begun,
	// for cases of which only patient and time are known; 0 for 24.
	Within int `json:"within_hours,omitempty"`
	// Alpha is how often, in all that is looked at together, something may
	// stand out by chance; 0 for 0.05.
	Alpha float64 `json:"alpha,omitempty"`
}

// The limits of a Comparing.
const (
	// MostCompared is how many days can be looked at.
	MostCompared = 400
	// MostCases is how many cases, and how many others, can be named.
	MostCases = 20_000
	// comparedDays and comparedHours stand for what is left out. That a week
	// shows enough other treatments and few other lots, and that a day holds
	// most reactions, is a choice, no source.
	comparedDays  = 7
	comparedHours = 24
)

// A FactorKind says what treatments may share.
type FactorKind string

// The kinds. A shift is a shift of the day, not of a date: the days were chosen
// by the cases, so that one day's shift stands out in any case.
const (
	FactorLot       FactorKind = "lot"
	FactorBatch     FactorKind = "batch"
	FactorContainer FactorKind = "container"
	FactorMachine   FactorKind = "machine"
	FactorStation   FactorKind = "station"
	FactorShift     FactorKind = "shift"
)

// A Factor is what treatments may share.
type Factor struct {
	Kind FactorKind `json:"kind"`
	// ID is the lot number as printed, the batch, container, machine or
	// station, or the shift's number.
	ID string `json:"id"`
	// Product of a lot, a batch or a container.
	Product  inventory.ProductID `json:"product,omitempty"`
	Name     string              `json:"product_name,omitempty"`
	Category inventory.Category  `json:"category,omitempty"`
	// Via tells of a lot how treatments met it: "pack", "kit", "batch".
	Via []string `json:"via,omitempty"`
}

// A Split is of how many it is on record that they met something, that they did
// not, and neither.
type Split struct {
	Met     int64 `json:"met"`
	NotMet  int64 `json:"not_met"`
	Unknown int64 `json:"not_known"`
}

// A Contrast sets cases and others side by side. The tables are all made in the
// same way and differ in what they take those for of whom it isn't known.
type Contrast struct {
	Cases  Split `json:"cases"`
	Others Split `json:"others"`
	// Known leaves them out.
	Known associate.Measured `json:"known"`
	// NotMet takes all of them as not having met it, Met all as having met
	// it.
	NotMet associate.Measured `json:"unknown_as_not_met"`
	Met    associate.Measured `json:"unknown_as_met"`
	// Least takes cases as not having met it and others as having met it,
	// Most the other way round: whatever the truth is, the odds ratio and
	// the one-sided p lie between the two.
	Least associate.Measured `json:"least"`
	Most  associate.Measured `json:"most"`
	// Corrected is Known's two-sided p after Holm's correction for all that
	// was looked at; FalseShare the share of false ones among those called,
	// if this one is called and all with a smaller p (Benjamini and
	// Hochberg).
	Corrected  float64 `json:"p_corrected"`
	FalseShare float64 `json:"false_share"`
}

// A SharedFactor is a factor and how cases and others met it.
type SharedFactor struct {
	Factor
	// Treatments counts treatments; OneEach of each patient one case only, so
	// that no patient's reactions count twice; Patients each patient once, by
	// all of its treatments that were looked at, those after a reaction too.
	Treatments Contrast `json:"treatments"`
	OneEach    Contrast `json:"one_of_each_patient"`
	Patients   Contrast `json:"patients"`
	// StandsOut: of the counting that Comparison.Judged names, the odds ratio
	// is above 1 and its corrected p at most alpha. Holds: it would be so
	// whatever is behind what is not known. Words say it.
	StandsOut bool   `json:"stands_out"`
	Holds     bool   `json:"holds"`
	Words     string `json:"words"`
	// Like are the indexes of what was met by just the same treatments, so
	// far as is on record: no figure can tell them apart.
	Like []int `json:"met_by_the_same,omitempty"`
	// Without is given for what stands out: the patient without whose
	// treatments it would stand out least, and the p-value then.
	Without *WithoutPatient `json:"without_patient,omitempty"`
	// SameDays is given for what stands out where other days were looked at
	// too: the two-sided p among the treatments of the days with a case
	// alone. What merely was in use on these days does not stand out there.
	SameDays *float64 `json:"p_same_days,omitempty"`
}

// A Counting says how cases are counted.
type Counting string

// The countings. Fisher's test takes each case as drawn by itself, so that only
// one of each patient can be judged.
const (
	// ByTreatment: no patient has more than one case.
	ByTreatment Counting = "treatments"
	// ByOne: some have, and one of each counts. Which one follows from its
	// number in a way that has nothing to do with time: the first of each
	// would make what was in use early stand out.
	ByOne Counting = "one_of_each_patient"
	// ByPatient: of some it isn't known which treatment it was.
	ByPatient Counting = "patients"
)

// Judged returns the figures that a factor is judged by.
func (x *SharedFactor) Judged(c Counting) *Contrast {
	switch c {
	case ByOne:
		return &x.OneEach
	case ByPatient:
		return &x.Patients
	}
	return &x.Treatments
}

// A WithoutPatient is a figure without one patient's treatments.
type WithoutPatient struct {
	Patient PatientID `json:"patient"`
	P       float64   `json:"p"`
}

// A FoundCase is a case and the treatment that it was taken as.
type FoundCase struct {
	Case
	Treatment TreatmentID `json:"treatment"`
	Patient   PatientID   `json:"patient"`
	Name      string      `json:"patient_name,omitempty"`
	Start     time.Time   `json:"start"`
	// How says how it was found.
	How string `json:"how"`
}

// Compared is how many cases and others there are.
type Compared struct {
	Cases  int64 `json:"cases"`
	Others int64 `json:"others"`
}

// A Comparison says what treatments with a reaction share that others don't.
// That two things go together does not say that one causes the other.
type Comparison struct {
	From inventory.Date `json:"from"`
	To   inventory.Date `json:"to"`
	AsOf journal.Head   `json:"as_of"`
	At   time.Time      `json:"at"`
	// Named tells that the others were named by who asked.
	Named bool `json:"others_named"`
	// Judged is the counting that says what stands out, and by which the
	// factors are in order.
	Judged Counting `json:"judged_by"`
	// Alpha is how often something may stand out by chance in all that was
	// looked at together; Looked is how many factors that was.
	Alpha      float64     `json:"alpha"`
	Looked     int         `json:"looked"`
	Cases      []FoundCase `json:"cases"`
	Treatments Compared    `json:"treatments"`
	Patients   Compared    `json:"patients"`
	// MostOfOne is how many case treatments the patient has that has most.
	MostOfOne int64 `json:"most_of_one_patient"`
	// NotDone is how many treatments of the time did not take place or were
	// struck out.
	NotDone int `json:"not_done"`
	// Factors are all that was looked at: what is more frequent among cases
	// first, by p.
	Factors []SharedFactor `json:"factors"`
	// Limits are sentences on what this can't tell.
	Limits []string `json:"limits"`
}

// StandingOut returns the factors that stand out.
func (c *Comparison) StandingOut() (list []*SharedFactor) {
	for i := range c.Factors {
		if c.Factors[i].StandsOut {
			list = append(list, &c.Factors[i])
		}
	}
	return list
}
