package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// getUnit answers GET /v1/unit.
func (a *API) getUnit(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	var out unit
	err := a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		u, err := a.Book.Unit(r)
		if err != nil {
			return err
		}
		out = unitOf(u)
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

type unitRequest struct {
	happened
	unit
}

type unitWritten struct {
	written
	Unit unit `json:"unit"`
}

// createUnit answers POST /v1/unit: all of the settings, anew.
func (a *API) createUnit(c *gin.Context) error {
	var req unitRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetUnit(c.Request.Context(), call, req.domain())
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.UnitSet](evs)
		if err != nil {
			return nil, err
		}
		return unitWritten{w, unitOf(&ev.Unit)}, nil
	})
}
