package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
)

// createOrder answers POST /v1/orders.
func (a *API) createOrder(c *gin.Context) error {
	var req orderRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if req.Reason != "" {
		return problem.Bad("unknown_member", "reason", "Put what there is to say into note.", "A new order has no reason.")
	}
	if len(req.Confirm) > 0 {
		return problem.Bad("unknown_member", "confirm", "Leave it out.", "Nothing is asked about a new order.")
	}
	if err := checkLines(len(req.Lines), "lines"); err != nil {
		return err
	}
	rec, err := a.Book.PlaceOrder(c.Request.Context(), call, req.domain())
	return a.created(c, rec, err, orderAnswer)
}

// createOrderChange answers POST /v1/orders/:id/changes: the whole order as it
// is from now on.
func (a *API) createOrderChange(c *gin.Context) error {
	var req orderRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	if req.Number != "" && req.Number != id {
		return problem.Bad("unknown_member", "number", "An order keeps its number: leave it out.", "The number %q is not that of the address.", req.Number)
	}
	if err := checkLines(len(req.Lines), "lines"); err != nil {
		return err
	}
	req.Number = id
	rec, err := a.Book.ChangeOrder(c.Request.Context(), call, req.domain(), req.Reason, req.Confirm...)
	return a.created(c, rec, err, orderAnswer)
}

// cancellationRequest says why nothing more is to come.
type cancellationRequest struct {
	happened
	Reason string `json:"reason"`
}

// createOrderCancellation answers POST /v1/orders/:id/cancellations.
func (a *API) createOrderCancellation(c *gin.Context) error {
	var req cancellationRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.CancelOrder(c.Request.Context(), call, inventory.OrderID(id), req.Reason)
	return a.created(c, rec, err, orderAnswer)
}
