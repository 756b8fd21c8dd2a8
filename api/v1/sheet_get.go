package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// listSheets answers GET /v1/count-sheets: those that are not finished.
func (a *API) listSheets(c *gin.Context) error {
	q, err := query(c, "location")
	if err != nil {
		return err
	}
	out := struct {
		Sheets []sheet `json:"sheets"`
	}{[]sheet{}}
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		list, err := inventory.OpenSheets(r, inventory.LocationID(q.Get("location")))
		for _, s := range list {
			out.Sheets = append(out.Sheets, sheetOf(s))
		}
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// getSheet answers GET /v1/count-sheets/:id. What the book has is in it only
// once what differed was counted twice.
func (a *API) getSheet(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var out sheet
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		s, err := inventory.SheetByID(r, inventory.SheetID(id))
		if err != nil {
			return err
		}
		out = sheetOf(s)
		lots, err := a.Book.MayLieThere(r, s)
		if err != nil {
			return err
		}
		out.MayLie = sheetLotsOf(lots)
		if s.State != inventory.SheetCauses {
			return nil
		}
		lines, err := a.Book.Compared(r, s.ID)
		out.Compared = differingOf(lines, false)
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// getSheetExpected answers GET /v1/count-sheets/:id/expected: what the book has,
// at any time, for whoever may see it.
func (a *API) getSheetExpected(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	out := struct {
		Sheet string           `json:"sheet"`
		Lines []sheetDiffering `json:"lines"`
	}{Sheet: id}
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		lines, err := a.Book.Compared(r, inventory.SheetID(id))
		out.Lines = differingOf(lines, true)
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// getCounting answers GET /v1/counting, with the causes that every unit has.
func (a *API) getCounting(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	out := struct {
		counting
		Standard []countingCause `json:"standard_causes"`
	}{Standard: []countingCause{}}
	err := a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		set, err := inventory.CountingOf(r)
		out.counting = countingOf(&set)
		return err
	})
	if err != nil {
		return err
	}
	for _, x := range inventory.StandardCauses() {
		out.Standard = append(out.Standard, countingCause(x))
	}
	return respond(c, http.StatusOK, out)
}

// countPlanning is what is to be counted on a day.
type countPlanning struct {
	Date    string       `json:"date"`
	Plan    countingPlan `json:"plan"`
	Classes []classified `json:"classes"`
	Due     []dueCount   `json:"due"`
	Later   []dueCount   `json:"later"`
}

type classified struct {
	Product string `json:"product"`
	Class   string `json:"class"`
	Moved   int64  `json:"moved"`
	Value   int64  `json:"value_thousandths,omitempty"`
	Share   int64  `json:"share_thousandths"`
}

type dueCount struct {
	Location string    `json:"location"`
	Product  string    `json:"product"`
	Class    string    `json:"class"`
	Every    int64     `json:"every_days"`
	Counted  time.Time `json:"counted,omitzero"`
	Due      string    `json:"due"`
}

func dueCountsOf(list []inventory.DueCount) []dueCount {
	out := make([]dueCount, len(list))
	for i, d := range list {
		out[i] = dueCount{string(d.Location), string(d.Product), string(d.Class), d.Every, d.Counted, string(d.Due)}
	}
	return out
}

// getCountPlan answers GET /v1/count-plan.
func (a *API) getCountPlan(c *gin.Context) error {
	q, err := query(c, "date", "location")
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	date := inventory.Date(q.Get("date"))
	if date == "" {
		err := a.Book.View(ctx, func(r inventory.Reader) error {
			date, err = a.today(r)
			return err
		})
		if err != nil {
			return err
		}
	}
	p, err := a.Book.PlanCounts(ctx, date, inventory.LocationID(q.Get("location")))
	if err != nil {
		return err
	}
	out := countPlanning{string(p.Date), countingPlanOf(&p.Plan), make([]classified, len(p.Classes)), dueCountsOf(p.Due), dueCountsOf(p.Later)}
	for i, x := range p.Classes {
		out.Classes[i] = classified{string(x.Product), string(x.Class), x.Moved, x.Value, x.Share}
	}
	return respond(c, http.StatusOK, out)
}
