package v1

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

type problemPage struct {
	Problems       []productProblem `json:"problems"`
	Next           string           `json:"next,omitempty"`
	Total          int              `json:"problems_total"`
	OfLots         []together       `json:"of_one_lot"`
	OfProducts     []together       `json:"of_one_product"`
	WithinDays     int              `json:"within_days"`
	AtLeast        int              `json:"at_least"`
	WithoutProduct int              `json:"without_product"`
	AsOf           head             `json:"as_of"`
}

// problemParams are the parameters that narrow a list of problems.
var problemParams = []string{"product", "lot", "from", "to", "category", "treatment"}

// problemQuery reads them; dates are days of the unit's time zone, both within.
func (a *API) problemQuery(r inventory.Reader, q url.Values) (trace.ProblemQuery, error) {
	out := trace.ProblemQuery{
		Product: q.Get("product"), Lot: q.Get("lot"), Category: inventory.Category(q.Get("category")), Treatment: trace.TreatmentID(q.Get("treatment")),
	}
	u, err := a.Book.Unit(r)
	if err != nil {
		return out, err
	}
	out.From, out.To, err = u.Days(inventory.Date(q.Get("from")), inventory.Date(q.Get("to")))
	return out, err
}

// listProblems answers GET /v1/problems: the latest first, with those that
// belong together.
func (a *API) listProblems(c *gin.Context) error {
	q, err := query(c, append([]string{"limit", "after"}, problemParams...)...)
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var after trace.ProblemLine
	begun, err := afterOf(q, &after)
	if err != nil {
		return err
	}
	out := problemPage{}
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		asked, err := a.problemQuery(r, q)
		if err != nil {
			return err
		}
		l, err := a.Book.ListProblems(r, asked)
		if err != nil {
			return err
		}
		out = problemPage{
			Problems: []productProblem{}, Total: len(l.Problems), OfLots: togetherList(l.OfLots), OfProducts: togetherList(l.OfProducts),
			WithinDays: l.WithinDays, AtLeast: l.AtLeast, WithoutProduct: l.WithoutProduct, AsOf: headOf(l.AsOf),
		}
		rest := l.Problems
		if begun {
			i := slices.IndexFunc(rest, func(x trace.ProblemLine) bool {
				return x.At.Before(after.At) || x.At.Equal(after.At) && x.ID < after.ID
			})
			if i < 0 {
				i = len(rest)
			}
			rest = rest[i:]
		}
		for i := range rest[:min(limit, len(rest))] {
			row, err := a.Book.ProblemRowOf(r, rest[i].ID)
			if err != nil {
				return err
			}
			out.Problems = append(out.Problems, productProblemOf(&row))
		}
		if len(rest) > limit {
			out.Next, err = placeOf(trace.ProblemLine{ID: rest[limit-1].ID, At: rest[limit-1].At})
		}
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// getProblemsWorkbook answers GET /v1/problems.xlsx.
func (a *API) getProblemsWorkbook(c *gin.Context) error {
	q, err := query(c, problemParams...)
	if err != nil {
		return err
	}
	by, err := a.asked(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	var asked trace.ProblemQuery
	err = a.Book.View(ctx, func(r inventory.Reader) (err error) {
		asked, err = a.problemQuery(r, q)
		return err
	})
	if err != nil {
		return err
	}
	p, err := a.Book.ProblemTable(ctx, asked)
	if err != nil {
		return err
	}
	names, err := a.Accounts.Names(ctx)
	if err != nil {
		return err
	}
	return a.workbook(c, reports.Problems(p, names.Of, by), fileName("problems", string(inventory.DateOf(by.At, by.Zone))))
}

type problemAnswer struct {
	productProblem
	Together besideWire `json:"together"`
	AsOf     head       `json:"as_of"`
}

type besideWire struct {
	WithinDays int       `json:"within_days"`
	OfLot      *together `json:"of_this_lot,omitempty"`
	OfProduct  *together `json:"of_this_product,omitempty"`
}

// getProblem answers GET /v1/problems/:id.
func (a *API) getProblem(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var out problemAnswer
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		p, err := a.Book.ProblemRowOf(r, trace.ProblemID(id))
		if err != nil {
			return err
		}
		b, err := a.Book.ProblemsBeside(r, p.Problem)
		out = problemAnswer{productProblemOf(&p), besideWire{b.WithinDays, togetherOf(b.OfLot), togetherOf(b.OfProduct)}, headOf(r.Head())}
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// getProblemPicture answers GET /v1/problems/:id/pictures/:seq with the JPEG.
func (a *API) getProblemPicture(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	s, err := param(c, "seq")
	if err != nil {
		return err
	}
	seq, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		return inventory.NotFound("picture", s, "Give the number of the picture's entry.")
	}
	var pic []byte
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) (err error) {
		pic, err = a.Book.PictureOf(r, trace.ProblemID(id), seq)
		return err
	})
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "image/jpeg", pic)
	return nil
}
