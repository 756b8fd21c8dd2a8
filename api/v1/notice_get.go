package v1

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/reports"
	"lotbook/trace/notice"
)

type noticePage struct {
	Notices []noticeSummary `json:"notices"`
	Next    string          `json:"next,omitempty"`
}

// listNotices answers GET /v1/notices, by id.
func (a *API) listNotices(c *gin.Context) error {
	q, err := query(c, "limit", "after")
	if err != nil {
		return err
	}
	list, err := a.notices().List(c.Request.Context())
	if err != nil {
		return err
	}
	slices.SortStableFunc(list, func(x, y notice.Standing) int { return cmp.Compare(x.ID, y.ID) })
	page, next, err := pageOf(q, list, func(s *notice.Standing) string { return string(s.ID) })
	if err != nil {
		return err
	}
	out := noticePage{make([]noticeSummary, len(page)), next}
	for i := range page {
		out.Notices[i] = noticeSummaryOf(&page[i])
	}
	return respond(c, http.StatusOK, out)
}

// getNotice answers GET /v1/notices/:id.
func (a *API) getNotice(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	state, progress, err := a.notices().ByID(c.Request.Context(), notice.ID(id))
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, noticeWholeOf(state, progress))
}

// numberOf reads a parameter that is a number from least on; 0 if it is left
// out.
func numberOf(q url.Values, name string, least int) (int, error) {
	if !q.Has(name) {
		return 0, nil
	}
	n, err := strconv.Atoi(q.Get(name))
	if err != nil || n < least {
		return 0, problem.Bad("wrong_type", name, "Give a number, or leave it out.", "The parameter %s is no number from %d on.", name, least)
	}
	return n, nil
}

// noticeAsked reads the id and the version of a question about a notice.
func noticeAsked(c *gin.Context, names ...string) (id notice.ID, version int, q url.Values, err error) {
	if q, err = query(c, append(names, "version")...); err != nil {
		return "", 0, nil, err
	}
	text, err := param(c, "id")
	if err != nil {
		return "", 0, nil, err
	}
	version, err = numberOf(q, "version", 1)
	return notice.ID(text), version, q, err
}

type noticeLotPage struct {
	Notice string      `json:"notice"`
	Lots   []noticeLot `json:"lots"`
}

// getNoticeLots answers GET /v1/notices/:id/lots: which lots of this unit the
// notice means, or may mean.
func (a *API) getNoticeLots(c *gin.Context) error {
	id, version, _, err := noticeAsked(c)
	if err != nil {
		return err
	}
	list, err := a.notices().Lots(c.Request.Context(), id, version)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, noticeLotPage{string(id), noticeLotsOf(list)})
}

// getNoticeAnswer answers GET /v1/notices/:id/answer, with a page of its
// treatments.
func (a *API) getNoticeAnswer(c *gin.Context) error {
	id, version, q, err := noticeAsked(c, "limit", "after")
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	by, err := askedBy(ctx)
	if err != nil {
		return err
	}
	ans, err := a.notices().Answer(ctx, id, version)
	if err != nil {
		return err
	}
	out := noticeAnswerOf(ans, by)
	if err := out.page(q, ans.Treatments); err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// page puts a page of the treatments into the answer.
func (n *noticeAnswer) page(q url.Values, list []notice.Exposed) error {
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var skip int
	if _, err := afterOf(q, &skip); err != nil {
		return err
	}
	skip = min(max(skip, 0), len(list))
	end := min(skip+limit, len(list))
	n.Treatments = noticeTreatmentsOf(list[skip:end])
	if end < len(list) {
		n.Next, err = placeOf(end)
	}
	return err
}

// getNoticeWorkbook answers GET /v1/notices/:id/answer.xlsx: the unit's own
// workbook, with the patients.
func (a *API) getNoticeWorkbook(c *gin.Context) error {
	id, version, _, err := noticeAsked(c)
	if err != nil {
		return err
	}
	by, err := a.asked(c)
	if err != nil {
		return err
	}
	ans, err := a.notices().Answer(c.Request.Context(), id, version)
	if err != nil {
		return err
	}
	return a.workbook(c, reports.NoticeAnswer(ans, by), fileName("notice", string(id), ans.Reference))
}

// getNoticeDifference answers GET /v1/notices/:id/difference: who is new on the
// list since an earlier version.
func (a *API) getNoticeDifference(c *gin.Context) error {
	q, err := query(c, "from", "to")
	if err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	from, err := numberOf(q, "from", 1)
	if err != nil {
		return err
	}
	to, err := numberOf(q, "to", 1)
	if err != nil {
		return err
	}
	if from == 0 || to == 0 {
		return problem.Bad("parameter_missing", "from", "Give from, the earlier version, and to, the later one.", "There are not two versions to compare.")
	}
	d, err := a.notices().Difference(c.Request.Context(), notice.ID(id), from, to)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, noticeDifferenceOf(d))
}
