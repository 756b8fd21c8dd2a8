package v1

import (
	"context"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/inventory/account"
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
	if err := a.mayStrikeOut(c.Request.Context(), req.Entry); err != nil {
		return err
	}
	rec, err := a.Book.Correct(c.Request.Context(), call, req.Entry, req.Reason)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		// What the correction of a closing gives back comes behind it.
		// What goes with a batch stands before it.
		for _, ev := range evs {
			if v, ok := ev.(*inventory.Corrected); ok && v.Corrects == req.Entry {
				return correctionWritten{w, v.Corrects, v.Reason}, nil
			}
		}
		return nil, errOtherEntry
	})
}

// mayStrikeOut says whether the user may strike out an entry: a stock clerk
// works with the stock's own entries, not with what treatments used.
func (a *API) mayStrikeOut(ctx context.Context, seq uint64) error {
	id, ok := auth.FromContext(ctx)
	if !ok || id.Role != account.Stock {
		return nil
	}
	return a.Book.View(ctx, func(r inventory.Reader) error {
		e, err := r.Entry(seq)
		if err != nil {
			return nil // a missing entry is told by Correct
		}
		for _, own := range []string{"stock.", "kit.", "batch.", "tank.", "container."} {
			if strings.HasPrefix(e.Kind, own) {
				return nil
			}
		}
		return &auth.Denied{Method: "POST", Pattern: "/v1/corrections", Role: id.Role, Allowed: []account.Role{account.Nurse, account.Quality}}
	})
}
