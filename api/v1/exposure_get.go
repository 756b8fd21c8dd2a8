package v1

import (
	"context"
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/trace"
)

// questionOf reads the parameters product and lot.
func questionOf(q url.Values) (trace.Question, error) {
	for _, name := range []string{"product", "lot"} {
		if q.Get(name) == "" {
			return trace.Question{}, problem.Bad("parameter_missing", name, "Give product, a GTIN or a product's id, and lot as it is printed.", "There is no %s.", name)
		}
	}
	return trace.Question{Product: q.Get("product"), Lot: q.Get("lot")}, nil
}

// askedBy returns who asks, by the name that stands on a report.
func askedBy(ctx context.Context) (string, error) {
	id, ok := auth.FromContext(ctx)
	if !ok {
		return "", errNoIdentity
	}
	return id.Name, nil
}

// getExposures answers GET /v1/exposures: the whole answer, with a page of its
// exposures.
func (a *API) getExposures(c *gin.Context) error {
	q, err := query(c, "product", "lot", "limit", "after")
	if err != nil {
		return err
	}
	asked, err := questionOf(q)
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var skip int
	if _, err := afterOf(q, &skip); err != nil {
		return err
	}
	ctx := c.Request.Context()
	by, err := askedBy(ctx)
	if err != nil {
		return err
	}
	ans, err := a.Book.Exposures(ctx, asked)
	if err != nil {
		return err
	}
	out := lotAnswerOf(ans, by)
	take := func(x *trace.Exposure) error {
		if out.Listed >= skip && len(out.Exposures) < limit {
			out.Exposures = append(out.Exposures, exposureOf(x))
		}
		out.Listed++
		return nil
	}
	if err := a.Book.EachConfirmed(ctx, ans, take); err != nil {
		return err
	}
	for i := range ans.Unrecorded {
		_ = take(&ans.Unrecorded[i]) // never fails
	}
	if end := skip + len(out.Exposures); end < out.Listed && len(out.Exposures) > 0 {
		if out.Next, err = placeOf(end); err != nil {
			return err
		}
	}
	return respond(c, http.StatusOK, out)
}
