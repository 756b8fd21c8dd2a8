package v1

import (
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// treatmentRequest opens a treatment; at is its start.
type treatmentRequest struct {
	happened
	Patient      string        `json:"patient"`
	Station      string        `json:"station"`
	Machine      string        `json:"machine"`
	Prescription *prescription `json:"prescription"`
	// Another opens it although the patient has one open.
	Another bool `json:"another"`
}

// treatmentWritten tells the treatment's id and what it must have recorded.
type treatmentWritten struct {
	written
	Treatment    string        `json:"treatment"`
	Patient      string        `json:"patient"`
	Station      string        `json:"station"`
	Machine      string        `json:"machine"`
	Location     string        `json:"location"`
	Start        time.Time     `json:"start"`
	Prescription *prescription `json:"prescription"`
	Required     []required    `json:"required"`
}

// createTreatment answers POST /v1/treatments.
func (a *API) createTreatment(c *gin.Context) error {
	var req treatmentRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Open(c.Request.Context(), call, trace.Opening{
		Patient: trace.PatientID(req.Patient), Station: trace.StationID(req.Station), Machine: trace.MachineID(req.Machine),
		Prescription: req.Prescription.domain(), Another: req.Another,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.Opened](evs)
		if err != nil {
			return nil, err
		}
		return treatmentWritten{
			written: w, Treatment: string(ev.Treatment), Patient: string(ev.Patient), Station: string(ev.Station), Machine: string(ev.Machine),
			Location: string(ev.Location), Start: w.Happened, Prescription: prescriptionOf(&ev.Prescription), Required: requiredOf(ev.Required),
		}, nil
	})
}

// closureRequest closes a treatment; at is its end.
type closureRequest struct {
	happened
	Minutes int64  `json:"minutes"`
	NotDone bool   `json:"not_done"`
	Note    string `json:"note"`
}

type closureWritten struct {
	written
	Treatment string    `json:"treatment"`
	Minutes   int64     `json:"minutes"`
	NotDone   bool      `json:"not_done"`
	Note      string    `json:"note,omitempty"`
	Missing   []missing `json:"missing"`
	// Wasted is what had been prepared for a treatment that was not done.
	Wasted []stockLine `json:"wasted,omitempty"`
}

// createClosure answers POST /v1/treatments/:id/closures.
func (a *API) createClosure(c *gin.Context) error {
	var req closureRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Close(c.Request.Context(), call, trace.Closing{
		Treatment: trace.TreatmentID(id), Minutes: req.Minutes, NotDone: req.NotDone, Note: req.Note,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.Closed](evs)
		if err != nil {
			return nil, err
		}
		out := closureWritten{
			written: w, Treatment: string(ev.Treatment), Minutes: ev.Minutes, NotDone: ev.NotDone, Note: ev.Note, Missing: missingOf(ev.Missing),
		}
		for i, ev := range evs {
			if v, ok := ev.(*inventory.Wasted); ok {
				out.Wasted = append(out.Wasted, lineOf(w.Entries[i], &v.Stock, v.From, ""))
			}
		}
		return out, nil
	})
}
