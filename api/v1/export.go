package v1

import (
	"mime"
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/reports"
	"lotbook/reports/csv"
)

// csvType is the media type of a list as CSV (RFC 4180).
const csvType = "text/csv; charset=utf-8; header=present"

// exportCSV answers GET /v1/NAME.csv: a list as lotbook import takes it in. It
// is sent as it is read; what goes wrong on the way ends the connection, so that
// nobody takes a part for the whole.
func (a *API) exportCSV(name string) handler {
	return func(c *gin.Context) error {
		if _, err := query(c); err != nil {
			return err
		}
		ctx := c.Request.Context()
		w := &lateHeader{c: c, name: name + ".csv", mediaType: csvType}
		return csv.Write(ctx, w, reports.List(ctx, a.Book, name), csv.Options{})
	}
}

// exportWorkbook answers GET /v1/NAME.xlsx: the same as a workbook.
func (a *API) exportWorkbook(name string) handler {
	return func(c *gin.Context) error {
		if _, err := query(c); err != nil {
			return err
		}
		by, err := a.asked(c)
		if err != nil {
			return err
		}
		wb, err := reports.ListWorkbook(c.Request.Context(), a.Book, name, by)
		if err != nil {
			return err
		}
		return a.workbook(c, wb, fileName(name))
	}
}

// A lateHeader sets the headers with the first bytes of the file.
type lateHeader struct {
	c         *gin.Context
	name      string
	mediaType string
	begun     bool
}

func (l *lateHeader) Write(p []byte) (int, error) {
	if !l.begun {
		l.begun = true
		l.c.Header("Content-Type", l.mediaType)
		l.c.Header("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": l.name}))
		l.c.Status(http.StatusOK)
	}
	return l.c.Writer.Write(p)
}
