package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/trace"
)

// leftOut is a treatment that an answer leaves out, and why.
type leftOut struct {
	Treatment   string    `json:"treatment"`
	Patient     string    `json:"patient"`
	PatientName string    `json:"patient_name,omitempty"`
	Start       time.Time `json:"start"`
	Machine     string    `json:"machine"`
	Station     string    `json:"station"`
	Code        string    `json:"code"`
	Why         string    `json:"why"`
}

type leftOutPage struct {
	Product    string    `json:"product"`
	Lot        string    `json:"lot"`
	AsOf       head      `json:"as_of"`
	Treatments []leftOut `json:"treatments"`
	Next       string    `json:"next,omitempty"`
}

// listLeftOut answers GET /v1/exposures/left-out: the treatments of a time that
// the answer about a lot leaves out.
func (a *API) listLeftOut(c *gin.Context) error {
	q, err := query(c, "product", "lot", "from", "to", "limit", "after")
	if err != nil {
		return err
	}
	asked, err := questionOf(q)
	if err != nil {
		return err
	}
	which := trace.LeftOutQuestion{From: inventory.Date(q.Get("from")), To: inventory.Date(q.Get("to"))}
	if which.Limit, err = limitOf(q); err != nil {
		return err
	}
	var place treatmentPlace
	if _, err := afterOf(q, &place); err != nil {
		return err
	}
	which.Start, which.After = place.Start, trace.TreatmentID(place.ID)
	ctx := c.Request.Context()
	ans, err := a.Book.Exposures(ctx, asked)
	if err != nil {
		return err
	}
	list, more, err := a.Book.LeftOut(ctx, ans, which)
	if err != nil {
		return err
	}
	out := leftOutPage{Product: string(ans.Product), Lot: ans.Lot, AsOf: headOf(ans.AsOf), Treatments: make([]leftOut, len(list))}
	for i, x := range list {
		out.Treatments[i] = leftOut{string(x.Treatment), string(x.Patient), x.Name, x.Start, string(x.Machine), string(x.Station), string(x.Code), x.Why}
	}
	if more {
		l := list[len(list)-1]
		if out.Next, err = placeOf(treatmentPlace{l.Start, string(l.Treatment)}); err != nil {
			return err
		}
	}
	return respond(c, http.StatusOK, out)
}

// evidence is a line of an answer, opened to the entries that it rests on.
type evidence struct {
	Product     string          `json:"product"`
	Lot         string          `json:"lot"`
	Treatment   string          `json:"treatment"`
	Patient     string          `json:"patient"`
	PatientName string          `json:"patient_name,omitempty"`
	Start       time.Time       `json:"start"`
	Machine     string          `json:"machine"`
	Station     string          `json:"station"`
	Grade       string          `json:"grade"`
	Code        string          `json:"code,omitempty"`
	Why         []string        `json:"why"`
	Entries     []evidenceEntry `json:"entries"`
	Further     int             `json:"further_entries"`
}

type evidenceEntry struct {
	Entry    uint64    `json:"entry"`
	Kind     string    `json:"kind"`
	Happened time.Time `json:"happened"`
	Recorded time.Time `json:"recorded"`
	By       string    `json:"by"`
	Words    string    `json:"words"`
	Shows    string    `json:"shows"`
}

// getEvidence answers GET /v1/exposures/evidence.
func (a *API) getEvidence(c *gin.Context) error {
	q, err := query(c, "product", "lot", "treatment")
	if err != nil {
		return err
	}
	asked, err := questionOf(q)
	if err != nil {
		return err
	}
	if q.Get("treatment") == "" {
		return problem.Bad("parameter_missing", "treatment", "Give the id of the treatment whose line is to be opened.", "There is no treatment.")
	}
	e, err := a.Book.ExposureEvidence(c.Request.Context(), asked, trace.TreatmentID(q.Get("treatment")))
	if err != nil {
		return err
	}
	out := evidence{
		Product: asked.Product, Lot: asked.Lot, Treatment: string(e.Treatment), Patient: string(e.Patient), PatientName: e.Name, Start: e.Start,
		Machine: string(e.Machine), Station: string(e.Station), Grade: string(e.Grade), Code: string(e.Code), Why: e.Why,
		Entries: make([]evidenceEntry, len(e.Entries)), Further: e.Further,
	}
	for i, x := range e.Entries {
		out.Entries[i] = evidenceEntry(x)
	}
	return respond(c, http.StatusOK, out)
}
