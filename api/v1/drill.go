package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

type shelf struct {
	Location string `json:"location"`
	Book     int64  `json:"book"`
	Found    int64  `json:"found"`
}

type drillResult struct {
	Seconds  int64        `json:"seconds"`
	Mass     massBalance  `json:"mass_balance"`
	Counts   []gradeCount `json:"counts"`
	Gaps     int          `json:"treatments_without_record"`
	Recorded int64        `json:"recorded_thousandths"`
	Searched bool         `json:"searched"`
	Shelf    []shelf      `json:"shelf"`
	Found    int64        `json:"found_thousandths"`
	HeldUp   []string     `json:"held_up"`
	AsOf     head         `json:"as_of"`
}

func drillResultOf(r *notice.DrillResult) drillResult {
	out := drillResult{
		Seconds: r.Seconds, Mass: massBalance(r.Mass), Counts: []gradeCount{}, Gaps: r.Gaps, Recorded: r.Recorded, Searched: r.Searched,
		Shelf: []shelf{}, Found: r.Found, HeldUp: append([]string{}, r.HeldUp...), AsOf: headOf(r.Head),
	}
	for _, n := range r.Counts {
		out.Counts = append(out.Counts, gradeCountOf(n))
	}
	for _, s := range r.Shelf {
		out.Shelf = append(out.Shelf, shelf{string(s.Location), s.Book, s.Found})
	}
	return out
}

// drill is a mock notice on one lot.
type drill struct {
	ID      string `json:"id"`
	Product string `json:"product"`
	Lot     string `json:"lot"`
	Among   int    `json:"drawn_among"`
	Note    string `json:"note,omitempty"`
}

func drillOf(d *notice.DrillBegun) drill {
	return drill{string(d.Drill), string(d.Product), d.Lot, d.Among, d.Note}
}

type drillWritten struct {
	written
	Drill drill `json:"drill"`
}

// createDrill answers POST /v1/drills.
func (a *API) createDrill(c *gin.Context) error {
	var req struct {
		happened
		Product string `json:"product"`
		Lot     string `json:"lot"`
		Note    string `json:"note"`
	}
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.notices().BeginDrill(c.Request.Context(), call, notice.Drilling{Product: inventory.ProductID(req.Product), Lot: req.Lot, Note: req.Note})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*notice.DrillBegun](evs)
		if err != nil {
			return nil, err
		}
		return drillWritten{w, drillOf(ev)}, nil
	})
}

type foundThere struct {
	Location string `json:"location"`
	Pieces   int64  `json:"pieces"`
}

type drillEnded struct {
	written
	Drill  string      `json:"drill"`
	Result drillResult `json:"result"`
}

// createDrillEnding answers POST /v1/drills/:id/endings.
func (a *API) createDrillEnding(c *gin.Context) error {
	var req struct {
		happened
		Searched bool         `json:"searched"`
		Shelf    []foundThere `json:"shelf"`
		HeldUp   []string     `json:"held_up"`
	}
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	q := notice.Drilled{Drill: notice.DrillID(id), Searched: req.Searched, HeldUp: req.HeldUp}
	for _, s := range req.Shelf {
		q.Shelf = append(q.Shelf, notice.FoundThere{Location: inventory.LocationID(s.Location), Pieces: s.Pieces})
	}
	rec, err := a.notices().EndDrill(c.Request.Context(), call, q)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*notice.DrillEnded](evs)
		if err != nil {
			return nil, err
		}
		return drillEnded{w, id, drillResultOf(&ev.Result)}, nil
	})
}

type drillState struct {
	drill
	Begun  done         `json:"begun"`
	Ended  *done        `json:"ended,omitempty"`
	Result *drillResult `json:"result,omitempty"`
}

// listDrills answers GET /v1/drills: the newest first.
func (a *API) listDrills(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	list, err := a.notices().Drills(c.Request.Context())
	if err != nil {
		return err
	}
	out := struct {
		Drills []drillState `json:"drills"`
	}{[]drillState{}}
	for i := range list {
		d := &list[i]
		s := drillState{drill: drillOf(&d.DrillBegun), Begun: doneOf(d.Done)}
		if d.Ended != nil {
			e, r := doneOf(*d.Ended), drillResultOf(d.Result)
			s.Ended, s.Result = &e, &r
		}
		out.Drills = append(out.Drills, s)
	}
	return respond(c, http.StatusOK, out)
}
