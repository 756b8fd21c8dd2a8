package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// correctionRequest strikes out an entry.
type correctionRequest struct {
	happened
	Entry  uint64 `json:"entry"`
	Reason string `json:"reason"`
}

type correctionWritten struct {
	written
	Corrects uint64 `json:"corrects"`
	Reason   string `json:"reason"`
}

// createCorrection answers POST /v1/corrections.
func (a *API) createCorrection(c *gin.Context) error {
	var req correctionRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Correct(c.Request.Context(), call, req.Entry, req.Reason)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.Corrected](evs)
		if err != nil {
			return nil, err
		}
		return correctionWritten{w, ev.Corrects, ev.Reason}, nil
	})
}
