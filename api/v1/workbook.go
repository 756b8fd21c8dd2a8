package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
)

// workbookType is the media type of a workbook (ECMA-376, part 1, annex L;
// registered with IANA).
const workbookType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// asked returns what the head of a report needs.
func (a *API) asked(c *gin.Context) (reports.Asked, error) {
	ctx := c.Request.Context()
	out := reports.Asked{At: a.Book.Now()}
	var err error
	if out.By, err = askedBy(ctx); err != nil {
		return out, err
	}
	err = a.Book.View(ctx, func(r inventory.Reader) error {
		u, err := a.Book.Unit(r)
		if err != nil {
			return err
		}
		out.Unit = u.Name
		out.Zone, err = u.Zone()
		return err
	})
	return out, err
}

// workbook sends a workbook as a file of that name. Drawing it writes nothing
// before all of it is drawn, so an error can still be answered.
func (a *API) workbook(c *gin.Context, wb *reports.Workbook, name string) error {
	w := &lateHeader{c: c, name: name, mediaType: workbookType}
	return xlsx.Write(c.Request.Context(), w, wb, xlsx.Options{TempDir: a.TempDir, Application: "lotbook " + a.Version})
}

// drawn answers with the workbook of what the request asks for.
func drawn[T any](a *API, c *gin.Context, ask func(*gin.Context) (T, error), draw func(T, reports.Asked) *reports.Workbook, name func(T) string) error {
	by, err := a.asked(c)
	if err != nil {
		return err
	}
	answer, err := ask(c)
	if err != nil {
		return err
	}
	return a.workbook(c, draw(answer, by), name(answer))
}

// fileName makes a file's name of parts that may hold anything: what is not a
// letter or a digit of ASCII, a dot, a hyphen or an underscore becomes a
// hyphen, and no part is long.
func fileName(parts ...string) string {
	var b []byte
	for i, p := range parts {
		if i > 0 {
			b = append(b, '-')
		}
		for j := range min(len(p), 60) {
			ch := p[j]
			ok := ch >= 'a' && ch <= 'z' || ch >= 'A' && ch <= 'Z' || ch >= '0' && ch <= '9' || ch == '.' || ch == '_'
			if !ok {
				ch = '-'
			}
			b = append(b, ch)
		}
	}
	return string(b) + ".xlsx"
}

// getExposuresWorkbook answers GET /v1/exposures.xlsx.
func (a *API) getExposuresWorkbook(c *gin.Context) error {
	q, err := query(c, "product", "lot")
	if err != nil {
		return err
	}
	asked, err := questionOf(q)
	if err != nil {
		return err
	}
	by, err := a.asked(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	ans, err := a.Book.Exposures(ctx, asked)
	if err != nil {
		return err
	}
	return a.workbook(c, reports.Exposures(ctx, a.Book, ans, by), fileName("exposures", string(ans.Product), ans.Lot))
}

// getReconciliationWorkbook answers GET /v1/reconciliations.xlsx.
func (a *API) getReconciliationWorkbook(c *gin.Context) error {
	return drawn(a, c, a.reconcile, reports.Reconciliation, func(rec *trace.Reconciliation) string {
		return fileName("reconciliation", string(rec.Shift.Date), shiftNumber(rec.Shift))
	})
}

func shiftNumber(s inventory.Shift) string { return "shift" + itoa(s.Number) }
