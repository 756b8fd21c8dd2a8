package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
)

// maxLines is how many lines a write may have. An entry's number of parts has
// 16 bits.
const maxLines = 1000

func checkLines(n int, field string) error {
	if n < 1 || n > maxLines {
		return problem.Bad("lines", field, "Send what there is, in several requests if need be.", "A request has 1 to %d lines, this has %d.", maxLines, n)
	}
	return nil
}

type productsRequest struct {
	happened
	Products []product `json:"products"`
}

type productsWritten struct {
	written
	Products []product `json:"products"`
}

// createProducts answers POST /v1/products.
func (a *API) createProducts(c *gin.Context) error {
	var req productsRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if err := checkLines(len(req.Products), "products"); err != nil {
		return err
	}
	ps := make([]inventory.Product, len(req.Products))
	for i := range req.Products {
		ps[i] = req.Products[i].domain()
	}
	rec, err := a.Book.SetProducts(c.Request.Context(), call, ps...)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		out := productsWritten{written: w}
		for _, ev := range evs {
			p, ok := ev.(*inventory.ProductSet)
			if !ok {
				return nil, errOtherEntry
			}
			out.Products = append(out.Products, productOf(&p.Product))
		}
		return out, nil
	})
}
