package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// holdRequest puts lots of a product on hold.
type holdRequest struct {
	happened
	Product string   `json:"product"`
	Lots    []string `json:"lots"`
	AllLots bool     `json:"all_lots"`
	Reason  string   `json:"reason"`
	Notice  string   `json:"notice"`
}

type holdWritten struct {
	written
	Product string   `json:"product"`
	Lots    []string `json:"lots,omitempty"`
	AllLots bool     `json:"all_lots"`
	Reason  string   `json:"reason"`
	Notice  string   `json:"notice,omitempty"`
}

// createHold answers POST /v1/holds.
func (a *API) createHold(c *gin.Context) error {
	var req holdRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Hold(c.Request.Context(), call, inventory.Held{
		Product: inventory.ProductID(req.Product), Lots: req.Lots, AllLots: req.AllLots, Reason: req.Reason, Notice: req.Notice,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.Held](evs)
		if err != nil {
			return nil, err
		}
		return holdWritten{w, string(ev.Product), ev.Lots, ev.AllLots, ev.Reason, ev.Notice}, nil
	})
}

// releaseRequest ends a hold on lots.
type releaseRequest struct {
	happened
	Product string   `json:"product"`
	Lots    []string `json:"lots"`
	AllLots bool     `json:"all_lots"`
	Reason  string   `json:"reason"`
}

// createRelease answers POST /v1/releases.
func (a *API) createRelease(c *gin.Context) error {
	var req releaseRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Release(c.Request.Context(), call, inventory.Released{
		Product: inventory.ProductID(req.Product), Lots: req.Lots, AllLots: req.AllLots, Reason: req.Reason,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.Released](evs)
		if err != nil {
			return nil, err
		}
		return holdWritten{written: w, Product: string(ev.Product), Lots: ev.Lots, AllLots: ev.AllLots, Reason: ev.Reason}, nil
	})
}
