package web

import (
	"github.com/gin-gonic/gin"

	"lotbook/trace/notice"
)

// An overdue is what every page says of field notices on which something should
// have been done before today. It names no patient.
type overdue struct {
	// Unknown is set if it could not be read.
	Unknown bool
	First   notice.Due
	More    int
	// URL is the page of the notices, for who may open it.
	URL string
}

// overdue returns nil if nothing is.
func (p *Pages) overdue(c *gin.Context) *overdue {
	list, err := notice.NewBook(p.Book).Overdue(c.Request.Context())
	if err != nil {
		return &overdue{Unknown: true}
	}
	if len(list) == 0 {
		return nil
	}
	o := &overdue{First: list[0], More: len(list) - 1}
	if p.may(c, "GET /notices") {
		o.URL = "/notices"
	}
	return o
}
