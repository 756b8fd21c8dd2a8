package v1

import (
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
)

// returnRequest sends pieces back to the supplier.
type returnRequest struct {
	happened
	stockIn
	From     string `json:"from"`
	Supplier string `json:"supplier"`
	Cause    string `json:"cause"`
}

// createReturn answers POST /v1/returns.
func (a *API) createReturn(c *gin.Context) error {
	var req returnRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if req.Supplier == "" {
		return inventory.Invalid("supplier", "Name the supplier.", "it is not said to whom the pieces went")
	}
	rec, err := a.Book.Depart(c.Request.Context(), call, inventory.Departed{
		Stock: req.domain(), From: inventory.LocationID(req.From), How: inventory.HowReturned, Cause: req.Cause, Other: req.Supplier,
	})
	return a.created(c, rec, err, stockAnswer)
}

// destructionRequest says that pieces were destroyed before a witness.
type destructionRequest struct {
	happened
	stockIn
	From    string `json:"from"`
	Witness string `json:"witness"`
	Cause   string `json:"cause"`
}

// createDestruction answers POST /v1/destructions.
func (a *API) createDestruction(c *gin.Context) error {
	var req destructionRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	by, err := askedBy(c.Request.Context())
	switch {
	case err != nil:
		return err
	case req.Witness == "":
		return inventory.Invalid("witness", "Name who saw it.", "there is no witness")
	case strings.EqualFold(strings.TrimSpace(req.Witness), by):
		return inventory.Invalid("witness", "Name a second person who saw it.", "the witness of a destruction can't be its author")
	}
	rec, err := a.Book.Depart(c.Request.Context(), call, inventory.Departed{
		Stock: req.domain(), From: inventory.LocationID(req.From), How: inventory.HowDestroyed, Cause: req.Cause, Other: req.Witness,
	})
	return a.created(c, rec, err, stockAnswer)
}

// transferRequest lends pieces to another unit or takes some in from one.
type transferRequest struct {
	happened
	stockIn
	Direction string `json:"direction"`
	Location  string `json:"location"`
	Unit      string `json:"unit"`
	Cause     string `json:"cause"`
}

// createTransfer answers POST /v1/transfers.
func (a *API) createTransfer(c *gin.Context) error {
	var req transferRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if req.Unit == "" {
		return inventory.Invalid("unit", "Name the other unit.", "there is no other unit")
	}
	if req.Location == "" {
		return inventory.Invalid("location", "Name the location here.", "there is no location")
	}
	var rec inventory.Receipt
	switch req.Direction {
	case "in":
		rec, err = a.Book.Borrow(c.Request.Context(), call, inventory.Borrowed{
			Stock: req.domain(), To: inventory.LocationID(req.Location), Other: req.Unit,
		})
	case "out":
		rec, err = a.Book.Depart(c.Request.Context(), call, inventory.Departed{
			Stock: req.domain(), From: inventory.LocationID(req.Location), How: inventory.HowLent, Cause: req.Cause, Other: req.Unit,
		})
	default:
		return problem.Bad("wrong_type", "direction", "Use in for pieces from another unit, out for pieces to one.", "There is no direction %q.", req.Direction)
	}
	return a.created(c, rec, err, stockAnswer)
}
