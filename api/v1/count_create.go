package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// countRequest is what was found at a location.
type countRequest struct {
	happened
	Location string      `json:"location"`
	Lines    []countLine `json:"lines"`
	Complete bool        `json:"complete"`
	Shift    *shift      `json:"shift"`
	Cause    string      `json:"cause"`
}

type countLine struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
	Expires string `json:"expires"`
	Counted int64  `json:"counted"`
	Cause   string `json:"cause"`
}

// shift names a shift of a day.
type shift struct {
	Date   string `json:"date"`
	Number int    `json:"number"`
}

func shiftOf(s *inventory.Shift) *shift {
	if s == nil {
		return nil
	}
	return &shift{string(s.Date), s.Number}
}

type countWritten struct {
	written
	Location string         `json:"location"`
	Complete bool           `json:"complete"`
	Shift    *shift         `json:"shift,omitempty"`
	Cause    string         `json:"cause,omitempty"`
	Lines    []countedShown `json:"lines"`
}

// countedShown is a line of a count. What the book said then is not told to
// whoever counts; Recount asks to count the lot again, since it differs by more
// than the unit tolerates.
type countedShown struct {
	Product string `json:"product"`
	Lot     string `json:"lot,omitempty"`
	Expires string `json:"expires,omitempty"`
	Counted int64  `json:"counted"`
	Unnamed bool   `json:"unnamed,omitempty"`
	Recount bool   `json:"recount"`
	Cause   string `json:"cause,omitempty"`
}

// createCount answers POST /v1/counts.
func (a *API) createCount(c *gin.Context) error {
	var req countRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if len(req.Lines) > 0 || !req.Complete {
		if err := checkLines(len(req.Lines), "lines"); err != nil {
			return err
		}
	}
	cmd := inventory.Counted{Location: inventory.LocationID(req.Location), Complete: req.Complete, Cause: req.Cause}
	if req.Shift != nil {
		cmd.Shift = &inventory.Shift{Date: inventory.Date(req.Shift.Date), Number: req.Shift.Number}
	}
	for _, l := range req.Lines {
		cmd.Lines = append(cmd.Lines, inventory.CountLine{
			Product: inventory.ProductID(l.Product), Lot: l.Lot, Expires: inventory.Date(l.Expires), Counted: l.Counted, Cause: l.Cause,
		})
	}
	rec, err := a.Book.Count(c.Request.Context(), call, cmd)
	return a.created(c, rec, err, countAnswer)
}

func countAnswer(evs []inventory.Event, w written) (any, error) {
	ev, err := last[*inventory.Counted](evs)
	if err != nil {
		return nil, err
	}
	out := countWritten{
		written: w, Location: string(ev.Location), Complete: ev.Complete, Shift: shiftOf(ev.Shift), Cause: ev.Cause,
		Lines: make([]countedShown, len(ev.Lines)),
	}
	for i, l := range ev.Lines {
		out.Lines[i] = countedShown{
			Product: string(l.Product), Lot: l.Lot, Expires: string(l.Expires), Counted: l.Counted, Unnamed: l.Unnamed, Recount: l.Recount, Cause: l.Cause,
		}
	}
	return out, nil
}
