package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

type problemSettings struct {
	// Standard is what every unit's list begins with.
	Standard   []seenKind        `json:"standard,omitempty"`
	Seen       []seenKind        `json:"seen"`
	WithinDays int               `json:"within_days"`
	AtLeast    int               `json:"at_least"`
	Facility   map[string]string `json:"facility"`
	// Details are the fields that may be given with a problem.
	Details []detail `json:"details,omitempty"`
}

type seenKind struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

type detail struct {
	Key      string `json:"field"`
	Label    string `json:"label"`
	Rule     string `json:"rule"`
	Facility bool   `json:"facility"`
}

func problemSettingsOf(s *trace.ProblemSettings) problemSettings {
	out := problemSettings{Seen: []seenKind{}, WithinDays: s.WithinDays, AtLeast: s.AtLeast, Facility: s.Facility}
	if out.Facility == nil {
		out.Facility = map[string]string{}
	}
	for _, k := range s.Seen {
		out.Seen = append(out.Seen, seenKind(k))
	}
	return out
}

// getProblemSettings answers GET /v1/problem-settings.
func (a *API) getProblemSettings(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	var out problemSettings
	err := a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		s, err := trace.ProblemSettingsOf(r)
		out = problemSettingsOf(&s)
		return err
	})
	if err != nil {
		return err
	}
	for _, k := range trace.StandardSeen() {
		out.Standard = append(out.Standard, seenKind(k))
	}
	for _, d := range trace.ProblemDetails() {
		out.Details = append(out.Details, detail(d))
	}
	return respond(c, http.StatusOK, out)
}

type problemSettingsRequest struct {
	happened
	Seen       []seenKind        `json:"seen"`
	WithinDays int               `json:"within_days"`
	AtLeast    int               `json:"at_least"`
	Facility   map[string]string `json:"facility"`
}

type problemSettingsWritten struct {
	written
	problemSettings
}

// createProblemSettings answers POST /v1/problem-settings, which replaces all of
// them.
func (a *API) createProblemSettings(c *gin.Context) error {
	var req problemSettingsRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	s := trace.ProblemSettings{WithinDays: req.WithinDays, AtLeast: req.AtLeast, Facility: req.Facility}
	for _, k := range req.Seen {
		s.Seen = append(s.Seen, trace.SeenKind(k))
	}
	rec, err := a.Book.SetProblems(c.Request.Context(), call, s)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ProblemsSet](evs)
		if err != nil {
			return nil, err
		}
		return problemSettingsWritten{w, problemSettingsOf(&ev.ProblemSettings)}, nil
	})
}
