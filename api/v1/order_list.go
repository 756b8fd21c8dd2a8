package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

type orderPage struct {
	Orders []order `json:"orders"`
	Next   string  `json:"next,omitempty"`
}

// listOrders answers GET /v1/orders, by number; with open=true those of which
// something is awaited.
func (a *API) listOrders(c *gin.Context) error {
	q, err := query(c, "open", "limit", "after")
	if err != nil {
		return err
	}
	open, err := boolOf(q, "open")
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var from string
	if _, err := afterOf(q, &from); err != nil {
		return err
	}
	var out orderPage
	more := false
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		out.Orders, more = []order{}, false
		today, err := a.today(r)
		if err != nil {
			return err
		}
		return inventory.ScanOrders(r, inventory.OrderID(from), func(h *inventory.OrderHead) error {
			awaited := h.Status == inventory.OrderOpen || h.Status == inventory.OrderPart
			if string(h.ID) <= from && from != "" || open && !awaited {
				return nil
			}
			if len(out.Orders) == limit {
				more = true
				return inventory.ErrStop
			}
			s, err := inventory.OrderByID(r, h.ID)
			if err != nil {
				return err
			}
			out.Orders = append(out.Orders, orderOf(s, today))
			return nil
		})
	})
	if err != nil {
		return err
	}
	if more {
		if out.Next, err = placeOf(out.Orders[limit-1].Number); err != nil {
			return err
		}
	}
	return respond(c, http.StatusOK, out)
}

// today is the day in the unit's zone.
func (a *API) today(r inventory.Reader) (inventory.Date, error) {
	u, err := a.Book.Unit(r)
	if err != nil {
		return "", err
	}
	zone, err := u.Zone()
	if err != nil {
		return "", err
	}
	return inventory.DateOf(a.Book.Now(), zone), nil
}

// getOrder answers GET /v1/orders/:id.
func (a *API) getOrder(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var out order
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		today, err := a.today(r)
		if err != nil {
			return err
		}
		s, err := inventory.OrderByID(r, inventory.OrderID(id))
		if err != nil {
			return err
		}
		if s == nil {
			return inventory.NotFound("order", id, "Look at the list of orders for its number.")
		}
		out = orderOf(s, today)
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
