package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
	"lotbook/trace/associate"
)

// comparisonRequest asks what treatments with a reaction share. It is posted
// since it may name many; nothing is written.
type comparisonRequest struct {
	Cases  []caseRequest `json:"cases"`
	Others []caseRequest `json:"others"`
	From   string        `json:"from"`
	To     string        `json:"to"`
	Days   *int          `json:"days"`
	Within int           `json:"within_hours"`
	Alpha  float64       `json:"alpha"`
}

type caseRequest struct {
	Problem   string     `json:"problem"`
	Treatment string     `json:"treatment"`
	Patient   string     `json:"patient"`
	At        *time.Time `json:"at"`
}

func casesOf(list []caseRequest) []trace.Case {
	out := make([]trace.Case, len(list))
	for i, x := range list {
		out[i] = trace.Case{Problem: trace.ProblemID(x.Problem), Treatment: trace.TreatmentID(x.Treatment), Patient: trace.PatientID(x.Patient)}
		if x.At != nil {
			out[i].At = x.At.UTC()
		}
	}
	return out
}

// comparison is what treatments with a reaction share that others don't.
type comparison struct {
	From       string         `json:"from"`
	To         string         `json:"to"`
	AsOf       head           `json:"as_of"`
	At         time.Time      `json:"at"`
	Caution    string         `json:"caution"`
	Limits     []string       `json:"limits"`
	Named      bool           `json:"others_named"`
	Judged     string         `json:"judged_by"`
	Alpha      float64        `json:"alpha"`
	Looked     int            `json:"looked"`
	Cases      []foundCase    `json:"cases"`
	Treatments compared       `json:"treatments"`
	Patients   compared       `json:"patients"`
	MostOfOne  int64          `json:"most_of_one_patient"`
	NotDone    int            `json:"not_done"`
	Factors    []sharedFactor `json:"factors"`
}

type compared struct {
	Cases  int64 `json:"cases"`
	Others int64 `json:"others"`
}

type foundCase struct {
	Treatment string     `json:"treatment"`
	Problem   string     `json:"problem,omitempty"`
	Patient   string     `json:"patient"`
	Name      string     `json:"patient_name,omitempty"`
	Start     time.Time  `json:"start"`
	At        *time.Time `json:"reaction_at"`
	How       string     `json:"how"`
}

type sharedFactor struct {
	Kind       string          `json:"kind"`
	ID         string          `json:"id"`
	Product    string          `json:"product,omitempty"`
	Name       string          `json:"product_name,omitempty"`
	Category   *category       `json:"category,omitempty"`
	Via        []string        `json:"via"`
	Treatments contrast        `json:"treatments"`
	OneEach    contrast        `json:"one_of_each_patient"`
	Patients   contrast        `json:"patients"`
	StandsOut  bool            `json:"stands_out"`
	Holds      bool            `json:"holds"`
	Words      string          `json:"words"`
	Like       []int           `json:"met_by_the_same"`
	Without    *withoutPatient `json:"without_patient"`
	SameDays   *float64        `json:"p_same_days"`
}

type withoutPatient struct {
	Patient string  `json:"patient"`
	P       float64 `json:"p"`
}

type contrast struct {
	Cases      split    `json:"cases"`
	Others     split    `json:"others"`
	Known      measured `json:"known"`
	NotMet     measured `json:"unknown_as_not_met"`
	Met        measured `json:"unknown_as_met"`
	Least      measured `json:"least"`
	Most       measured `json:"most"`
	Corrected  float64  `json:"p_corrected"`
	FalseShare float64  `json:"false_share"`
}

type split struct {
	Met     int64 `json:"met"`
	NotMet  int64 `json:"not_met"`
	Unknown int64 `json:"not_known"`
}

type measured struct {
	P         float64         `json:"p"`
	Greater   float64         `json:"p_greater"`
	Less      float64         `json:"p_less"`
	OddsRatio associate.Ratio `json:"odds_ratio"`
	Low       associate.Ratio `json:"low"`
	High      associate.Ratio `json:"high"`
}

func contrastOf(c *trace.Contrast) contrast {
	return contrast{
		Cases: split(c.Cases), Others: split(c.Others), Known: measured(c.Known), NotMet: measured(c.NotMet), Met: measured(c.Met),
		Least: measured(c.Least), Most: measured(c.Most), Corrected: c.Corrected, FalseShare: c.FalseShare,
	}
}

func comparisonOf(c *trace.Comparison) comparison {
	out := comparison{
		From: string(c.From), To: string(c.To), AsOf: headOf(c.AsOf), At: c.At, Caution: reports.Caution, Limits: c.Limits, Named: c.Named,
		Judged: string(c.Judged), Alpha: c.Alpha, Looked: c.Looked, Cases: make([]foundCase, len(c.Cases)), Treatments: compared(c.Treatments), Patients: compared(c.Patients),
		MostOfOne: c.MostOfOne, NotDone: c.NotDone, Factors: make([]sharedFactor, len(c.Factors)),
	}
	for i := range c.Cases {
		x := &c.Cases[i]
		out.Cases[i] = foundCase{Treatment: string(x.Treatment), Problem: string(x.Problem), Patient: string(x.Patient), Name: x.Name, Start: x.Start, How: x.How}
		if !x.At.IsZero() {
			out.Cases[i].At = &x.At
		}
	}
	for i := range c.Factors {
		x := &c.Factors[i]
		f := sharedFactor{
			Kind: string(x.Kind), ID: x.ID, Product: string(x.Product), Name: x.Name, Via: append([]string{}, x.Via...),
			Treatments: contrastOf(&x.Treatments), OneEach: contrastOf(&x.OneEach), Patients: contrastOf(&x.Patients), StandsOut: x.StandsOut, Holds: x.Holds, Words: x.Words,
			Like: append([]int{}, x.Like...), SameDays: x.SameDays,
		}
		if x.Category != "" {
			k := categoryOf(x.Category)
			f.Category = &k
		}
		if x.Without != nil {
			f.Without = &withoutPatient{string(x.Without.Patient), x.Without.P}
		}
		out.Factors[i] = f
	}
	return out
}

// compare works out what the body asks for.
func (a *API) compare(c *gin.Context) (*trace.Comparison, error) {
	var req comparisonRequest
	if err := decode(c, &req); err != nil {
		return nil, err
	}
	return a.Book.Compare(c.Request.Context(), trace.Comparing{
		Cases: casesOf(req.Cases), Others: casesOf(req.Others), From: inventory.Date(req.From), To: inventory.Date(req.To),
		Days: req.Days, Within: req.Within, Alpha: req.Alpha,
	})
}

// askComparison answers POST /v1/comparisons.
func (a *API) askComparison(c *gin.Context) error {
	out, err := a.compare(c)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, comparisonOf(out))
}

// askComparisonWorkbook answers POST /v1/comparisons.xlsx.
func (a *API) askComparisonWorkbook(c *gin.Context) error {
	return drawn(a, c, a.compare, reports.Comparison, func(out *trace.Comparison) string { return fileName("comparison", string(out.From), string(out.To)) })
}
