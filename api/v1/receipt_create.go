package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// receiptRequest is a delivery. What the lines have in common may stand once.
type receiptRequest struct {
	happened
	To       string        `json:"to"`
	Supplier string        `json:"supplier"`
	Order    string        `json:"order"`
	Lines    []receiptLine `json:"lines"`
}

type receiptLine struct {
	stockIn
	To string `json:"to"`
	// Again says that a label which was received before is of further pieces.
	Again bool `json:"again"`
}

// createReceipt answers POST /v1/receipts.
func (a *API) createReceipt(c *gin.Context) error {
	var req receiptRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if err := checkLines(len(req.Lines), "lines"); err != nil {
		return err
	}
	lines := make([]inventory.Received, len(req.Lines))
	for i := range req.Lines {
		l := &req.Lines[i]
		to := l.To
		if to == "" {
			to = req.To
		}
		lines[i] = inventory.Received{Stock: l.domain(), To: inventory.LocationID(to), Supplier: req.Supplier, Order: req.Order, Again: l.Again}
	}
	rec, err := a.Book.Receive(c.Request.Context(), call, lines...)
	return a.created(c, rec, err, stockAnswer)
}
