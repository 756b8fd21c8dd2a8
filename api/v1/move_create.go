package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// moveRequest carries pieces from one location to another. What the lines have
// in common may stand once.
type moveRequest struct {
	happened
	From  string     `json:"from"`
	To    string     `json:"to"`
	Lines []moveLine `json:"lines"`
}

type moveLine struct {
	stockIn
	From string `json:"from"`
	To   string `json:"to"`
}

// createMove answers POST /v1/moves.
func (a *API) createMove(c *gin.Context) error {
	var req moveRequest
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
	lines := make([]inventory.Moved, len(req.Lines))
	for i := range req.Lines {
		l := &req.Lines[i]
		from, to := l.From, l.To
		if from == "" {
			from = req.From
		}
		if to == "" {
			to = req.To
		}
		lines[i] = inventory.Moved{Stock: l.domain(), From: inventory.LocationID(from), To: inventory.LocationID(to)}
	}
	rec, err := a.Book.Move(c.Request.Context(), call, lines...)
	return a.created(c, rec, err, stockAnswer)
}
