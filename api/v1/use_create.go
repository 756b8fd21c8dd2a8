package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// useRequest is a use outside a treatment.
type useRequest struct {
	happened
	stockIn
	From    string `json:"from"`
	Machine string `json:"machine"`
	Purpose string `json:"purpose"`
}

// createUse answers POST /v1/uses.
func (a *API) createUse(c *gin.Context) error {
	var req useRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Consume(c.Request.Context(), call, inventory.Consumed{
		Stock: req.domain(), From: inventory.LocationID(req.From), Machine: req.Machine, Purpose: req.Purpose,
	})
	return a.created(c, rec, err, stockAnswer)
}

// wasteRequest says that pieces were thrown away unused.
type wasteRequest struct {
	happened
	stockIn
	From      string `json:"from"`
	Cause     string `json:"cause"`
	Treatment string `json:"treatment"`
}

// createWaste answers POST /v1/wastes.
func (a *API) createWaste(c *gin.Context) error {
	var req wasteRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Waste(c.Request.Context(), call, inventory.Wasted{
		Stock: req.domain(), From: inventory.LocationID(req.From), Cause: req.Cause, Treatment: req.Treatment,
	})
	return a.created(c, rec, err, stockAnswer)
}
