package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

type sheetRequest struct {
	happened
	Location string   `json:"location"`
	Products []string `json:"products"`
	Complete bool     `json:"complete"`
	Shift    *shift   `json:"shift"`
}

type sheetWritten struct {
	written
	Sheet string `json:"sheet"`
}

// createSheet answers POST /v1/count-sheets.
func (a *API) createSheet(c *gin.Context) error {
	var req sheetRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	cmd := inventory.SheetOpened{Location: inventory.LocationID(req.Location), Complete: req.Complete}
	for _, id := range req.Products {
		cmd.Products = append(cmd.Products, inventory.ProductID(id))
	}
	if req.Shift != nil {
		cmd.Shift = &inventory.Shift{Date: inventory.Date(req.Shift.Date), Number: req.Shift.Number}
	}
	rec, err := a.Book.OpenSheet(c.Request.Context(), call, cmd)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.SheetOpened](evs)
		if err != nil {
			return nil, err
		}
		return sheetWritten{w, string(ev.Sheet)}, nil
	})
}

type sheetLinesRequest struct {
	happened
	Lines []sheetLine `json:"lines"`
}

type sheetLine struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
	Expires string `json:"expires"`
	Pieces  int64  `json:"pieces"`
}

type sheetLinesWritten struct {
	written
	Sheet string       `json:"sheet"`
	Lines []foundShown `json:"lines"`
}

type foundShown struct {
	Product string `json:"product"`
	Lot     string `json:"lot,omitempty"`
	Pieces  int64  `json:"pieces"`
	Recount bool   `json:"recount"`
}

// createSheetLines answers POST /v1/count-sheets/:id/lines.
func (a *API) createSheetLines(c *gin.Context) error {
	var req sheetLinesRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	if err := checkLines(len(req.Lines), "lines"); err != nil {
		return err
	}
	cmd := inventory.SheetLines{Sheet: inventory.SheetID(id)}
	for _, l := range req.Lines {
		cmd.Lines = append(cmd.Lines, inventory.SheetLine{Product: inventory.ProductID(l.Product), Lot: l.Lot, Expires: inventory.Date(l.Expires), Pieces: l.Pieces})
	}
	rec, err := a.Book.NoteFound(c.Request.Context(), call, cmd)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		out := sheetLinesWritten{written: w, Sheet: id, Lines: []foundShown{}}
		for _, ev := range evs {
			l, ok := ev.(*inventory.SheetLines)
			if !ok {
				return nil, errOtherEntry
			}
			for _, x := range l.Lines {
				out.Lines = append(out.Lines, foundShown{string(x.Product), x.Lot, x.Pieces, l.Recount})
			}
		}
		return out, nil
	})
}

type sheetFinishRequest struct {
	happened
	Causes []sheetCause `json:"causes"`
}

type sheetCause struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
	Cause   string `json:"cause"`
	Note    string `json:"note"`
}

// sheetFinished says what came of it. There are no figures in it.
type sheetFinished struct {
	written
	Sheet      string     `json:"sheet"`
	State      string     `json:"state"`
	CountAgain []sheetLot `json:"count_again"`
}

// createSheetFinish answers POST /v1/count-sheets/:id/finishes.
func (a *API) createSheetFinish(c *gin.Context) error {
	var req sheetFinishRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	cmd := inventory.Finishing{Sheet: inventory.SheetID(id)}
	for _, x := range req.Causes {
		cmd.Causes = append(cmd.Causes, inventory.LotCause{Product: inventory.ProductID(x.Product), Lot: x.Lot, Cause: x.Cause, Note: x.Note})
	}
	rec, err := a.Book.FinishSheet(c.Request.Context(), call, cmd)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		out := sheetFinished{written: w, Sheet: id, State: string(inventory.SheetDone), CountAgain: []sheetLot{}}
		switch ev := evs[len(evs)-1].(type) {
		case *inventory.Counted:
		case *inventory.SheetCompared:
			out.State, out.CountAgain = string(ev.State), sheetLotsOf(ev.Again)
		default:
			return nil, errOtherEntry
		}
		return out, nil
	})
}

type sheetDropRequest struct {
	happened
	Reason string `json:"reason"`
}

// createSheetDrop answers POST /v1/count-sheets/:id/drops.
func (a *API) createSheetDrop(c *gin.Context) error {
	var req sheetDropRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.DropSheet(c.Request.Context(), call, inventory.SheetGivenUp{Sheet: inventory.SheetID(id), Reason: req.Reason})
	return a.created(c, rec, err, func(_ []inventory.Event, w written) (any, error) {
		return sheetFinished{w, id, string(inventory.SheetDropped), []sheetLot{}}, nil
	})
}

type countingRequest struct {
	happened
	counting
}

type countingWritten struct {
	written
	Counting counting `json:"counting"`
}

// createCounting answers POST /v1/counting: all of the settings, anew.
func (a *API) createCounting(c *gin.Context) error {
	var req countingRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetCounting(c.Request.Context(), call, req.domain())
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.CountingSet](evs)
		if err != nil {
			return nil, err
		}
		return countingWritten{w, countingOf(&ev.Counting)}, nil
	})
}
