package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/reports"
	"lotbook/trace"
)

type draftWire struct {
	Problem   string       `json:"problem"`
	Before    []string     `json:"before"`
	Deadlines []string     `json:"deadlines"`
	Fields    []draftField `json:"fields"`
	Notes     []string     `json:"notes"`
	Pictures  int          `json:"pictures"`
	Together  besideWire   `json:"together"`
	AsOf      head         `json:"as_of"`
	At        time.Time    `json:"as_of_time"`
	AskedBy   string       `json:"asked_by"`
	Caution   string       `json:"caution"`
}

type draftField struct {
	Rule     string `json:"rule"`
	Key      string `json:"field"`
	Label    string `json:"label"`
	Recorded bool   `json:"recorded"`
	Value    string `json:"value,omitempty"`
	Source   string `json:"source,omitempty"`
	Hint     string `json:"hint,omitempty"`
}

func (a *API) draft(c *gin.Context) (*trace.ProblemDraft, error) {
	if _, err := query(c); err != nil {
		return nil, err
	}
	id, err := param(c, "id")
	if err != nil {
		return nil, err
	}
	names, err := a.Accounts.Names(c.Request.Context())
	if err != nil {
		return nil, err
	}
	return a.Book.DraftProblem(c.Request.Context(), trace.ProblemID(id), names.Of)
}

// getProblemDraft answers GET /v1/problems/:id/draft.
func (a *API) getProblemDraft(c *gin.Context) error {
	d, err := a.draft(c)
	if err != nil {
		return err
	}
	by, err := askedBy(c.Request.Context())
	if err != nil {
		return err
	}
	out := draftWire{
		Problem: string(d.Problem), Before: d.Before, Deadlines: d.Deadlines, Notes: d.Notes, Pictures: d.Pictures,
		Together: besideWire{d.Beside.WithinDays, togetherOf(d.Beside.OfLot), togetherOf(d.Beside.OfProduct)},
		AsOf:     headOf(d.AsOf), At: d.At, AskedBy: by, Caution: reports.Caution,
	}
	for _, f := range d.Fields {
		out.Fields = append(out.Fields, draftField(f))
	}
	return respond(c, http.StatusOK, out)
}

// getProblemDraftWorkbook answers GET /v1/problems/:id/draft.xlsx.
func (a *API) getProblemDraftWorkbook(c *gin.Context) error {
	return drawn(a, c, a.draft, reports.ProblemDraft, func(d *trace.ProblemDraft) string { return fileName("draft", string(d.Problem)) })
}
