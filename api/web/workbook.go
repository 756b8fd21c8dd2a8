package web

import (
	"log/slog"
	"mime"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
)

const xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// exposureBook answers with the workbook of an answer about a lot.
func (p *Pages) exposureBook(c *gin.Context, a *trace.LotAnswer) error {
	by, err := p.asked(c, a.At)
	if err != nil {
		return err
	}
	return p.sendBook(c, "lot-"+a.Lot+"-exposures", reports.Exposures(c.Request.Context(), p.Book, a, by))
}

// reconciliationBook answers with the workbook of a shift.
func (p *Pages) reconciliationBook(c *gin.Context, rec *trace.Reconciliation) error {
	by, err := p.asked(c, rec.At)
	if err != nil {
		return err
	}
	return p.sendBook(c, "reconciliation-"+string(rec.Shift.Date)+"-shift-"+itoa(rec.Shift.Number), reports.Reconciliation(rec, by))
}

func (p *Pages) asked(c *gin.Context, at time.Time) (reports.Asked, error) {
	id, err := identity(c)
	if err != nil {
		return reports.Asked{}, err
	}
	by := reports.Asked{By: id.Name, At: at}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err == nil {
			by.Unit, by.Zone = k.unit.Name, k.zone
		}
		return err
	})
	return by, err
}

// sendBook draws a workbook and sends it. xlsx.Write sends nothing before all
// is drawn, so an error before that is still told by a page.
func (p *Pages) sendBook(c *gin.Context, name string, wb *reports.Workbook) error {
	h := c.Writer.Header()
	secure(c)
	h.Set("Content-Type", xlsxType)
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": fileName(name) + ".xlsx"}))
	c.Status(http.StatusOK)
	err := xlsx.Write(c.Request.Context(), c.Writer, wb, xlsx.Options{TempDir: p.TempDir, Application: "lotbook " + p.Version})
	if err == nil {
		return nil
	}
	if c.Writer.Written() {
		p.Log.ErrorContext(c.Request.Context(), "workbook broke off", slog.String("request", problem.ID(c.Request.Context())), slog.String("error", err.Error()))
		panic(http.ErrAbortHandler) // what was sent must not look as if it were whole
	}
	h.Del("Content-Type")
	h.Del("Content-Disposition")
	return err
}

// fileName keeps what any file system takes.
func fileName(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z', r == '-', r == '.':
			return r
		}
		return '_'
	}, s)
}
