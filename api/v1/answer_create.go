package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// answerRequest is what the nurse says to a stopped scan.
type answerRequest struct {
	happened
	Stopped uint64 `json:"stopped"`
	Used    bool   `json:"used"`
	Reason  string `json:"reason"`
}

// setAsideWritten answers an answer by which a pack was not used.
type setAsideWritten struct {
	Outcome string `json:"outcome"`
	written
	Treatment string    `json:"treatment"`
	Answers   uint64    `json:"answers"`
	Reason    string    `json:"reason,omitempty"`
	Missing   []missing `json:"missing"`
	Message   string    `json:"message"`
}

// createAnswer answers POST /v1/treatments/:id/answers.
func (a *API) createAnswer(c *gin.Context) error {
	var req answerRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Answer(c.Request.Context(), call, trace.Answer{
		Treatment: trace.TreatmentID(id), Stopped: req.Stopped, Used: req.Used, Reason: req.Reason,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		v, ok := evs[len(evs)-1].(*trace.SetAside)
		if !ok {
			return scanAnswer(evs, w)
		}
		return setAsideWritten{
			Outcome: "set_aside", written: w, Treatment: string(v.Treatment), Answers: v.Answers, Reason: v.Reason,
			Missing: missingOf(v.Missing), Message: "Recorded as set aside, not used.",
		}, nil
	})
}

// absenceRequest says why something required is not recorded by lot.
type absenceRequest struct {
	happened
	Category string `json:"category"`
	Used     bool   `json:"used"`
	Cause    string `json:"cause"`
	Replaces uint64 `json:"replaces"`
}

type absenceWritten struct {
	written
	Treatment string    `json:"treatment"`
	Category  category  `json:"category"`
	Used      bool      `json:"used"`
	Cause     string    `json:"cause"`
	Replaces  uint64    `json:"replaces,omitempty"`
	Missing   []missing `json:"missing"`
}

// createAbsence answers POST /v1/treatments/:id/absences.
func (a *API) createAbsence(c *gin.Context) error {
	var req absenceRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.NotRecorded(c.Request.Context(), call, trace.Unrecorded{
		Treatment: trace.TreatmentID(id), Category: inventory.Category(req.Category), Used: req.Used, Cause: req.Cause, Replaces: req.Replaces,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.NotRecorded](evs)
		if err != nil {
			return nil, err
		}
		return absenceWritten{w, string(ev.Treatment), categoryOf(ev.Category), ev.Used, ev.Cause, ev.Replaces, missingOf(ev.Missing)}, nil
	})
}
