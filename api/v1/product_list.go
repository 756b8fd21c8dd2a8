package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

type productPage struct {
	Products []product `json:"products"`
	Next     string    `json:"next,omitempty"`
}

// listProducts answers GET /v1/products.
func (a *API) listProducts(c *gin.Context) error {
	q, err := query(c, "limit", "after", "gtin")
	if err != nil {
		return err
	}
	all := []product{}
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		all = all[:0]
		if gtin := q.Get("gtin"); gtin != "" {
			p, _, err := a.Book.ProductByGTIN(r, gtin14(gtin))
			if err == nil && p != nil {
				all = append(all, productOf(p))
			}
			return err
		}
		ps, err := a.Book.Products(r)
		for _, p := range ps {
			all = append(all, productOf(p))
		}
		return err
	})
	if err != nil {
		return err
	}
	var out productPage
	out.Products, out.Next, err = pageOf(q, all, func(p *product) string { return p.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// getProduct answers GET /v1/products/:id.
func (a *API) getProduct(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var out product
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		p, err := a.Book.Product(r, inventory.ProductID(id))
		if err != nil {
			return err
		}
		if p == nil {
			return inventory.NotFound("product", id, "Look at the list of products.")
		}
		out = productOf(p)
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
