package v1

import (
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
)

type balancePage struct {
	Balances []balance  `json:"balances"`
	Withheld []withheld `json:"withheld"`
	Next     string     `json:"next,omitempty"`
}

// balance is how many pieces of a lot the book says are at a location.
type balance struct {
	Location string `json:"location"`
	Product  string `json:"product"`
	Lot      string `json:"lot,omitempty"`
	Quantity int64  `json:"quantity"`
	// Counted is when the last count there saw the lot.
	Counted time.Time `json:"counted,omitzero"`
}

func balanceOf(b inventory.Balance) balance {
	return balance{string(b.Location), string(b.Lot.Product), b.Lot.Number, b.Quantity, b.Counted}
}

func balancesOf(list []inventory.Balance) []balance {
	out := make([]balance, len(list))
	for i, b := range list {
		out[i] = balanceOf(b)
	}
	return out
}

// listBalances answers GET /v1/balances.
func (a *API) listBalances(c *gin.Context) error {
	q, err := query(c, "location", "product", "limit", "after")
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var from [3]string // location, product, lot
	begun, err := afterOf(q, &from)
	if err != nil {
		return err
	}
	var out balancePage
	more := false
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		out.Balances, more = []balance{}, false
		blind, err := a.blindTo(c, r)
		if err != nil {
			return err
		}
		blind = slices.DeleteFunc(blind, func(b inventory.BlindCount) bool {
			return q.Get("location") != "" && string(b.Location) != q.Get("location")
		})
		out.Withheld = withheldOf(blind)
		ids, err := locationIDs(r, inventory.LocationID(q.Get("location")))
		if err != nil {
			return err
		}
		for _, id := range ids {
			if begun && string(id) < from[0] {
				continue
			}
			bs, err := inventory.OnHand(r, id, inventory.ProductID(q.Get("product")))
			if err != nil {
				return err
			}
			for _, b := range bs {
				if (begun && !behind(b, from)) || inventory.BeingCounted(blind, id, b.Lot.Product) {
					continue
				}
				if len(out.Balances) == limit {
					more = true
					return nil
				}
				out.Balances = append(out.Balances, balanceOf(b))
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if more {
		l := out.Balances[limit-1]
		if out.Next, err = placeOf([3]string{l.Location, l.Product, l.Lot}); err != nil {
			return err
		}
	}
	return respond(c, http.StatusOK, out)
}

// behind reports whether a balance stands behind a place in the list.
func behind(b inventory.Balance, from [3]string) bool {
	key := [3]string{string(b.Location), string(b.Lot.Product), b.Lot.Number}
	for i := range key {
		if key[i] != from[i] {
			return key[i] > from[i]
		}
	}
	return false
}

// locationIDs returns all locations, or the one named if there is one.
func locationIDs(r inventory.Reader, id inventory.LocationID) ([]inventory.LocationID, error) {
	if id != "" {
		_, err := inventory.LocationByID(r, id)
		return []inventory.LocationID{id}, err
	}
	ls, err := inventory.Locations(r)
	ids := make([]inventory.LocationID, len(ls))
	for i, l := range ls {
		ids[i] = l.ID
	}
	return ids, err
}

type lotPage struct {
	Lots []lot  `json:"lots"`
	Next string `json:"next,omitempty"`
}

// lot is what is known of a lot.
type lot struct {
	Product    string `json:"product"`
	Lot        string `json:"lot,omitempty"`
	Expires    string `json:"expires,omitempty"`
	Made       string `json:"made,omitempty"`
	FirstEntry uint64 `json:"first_entry"`
	// OnHand is null while one of the places where it lies is being counted.
	OnHand *int64 `json:"on_hand"`
	Hold   *hold  `json:"hold,omitempty"`
}

// hold is a hold that is in force.
type hold struct {
	Entry  uint64    `json:"entry"`
	Reason string    `json:"reason"`
	Notice string    `json:"notice,omitempty"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	Scope  string    `json:"scope,omitempty"`
	Doubt  string    `json:"doubt,omitempty"`
}

func holdOf(h *inventory.Hold) *hold {
	if h == nil {
		return nil
	}
	out := hold(*h)
	return &out
}

// listLots answers GET /v1/lots: the lots of a product that are on record.
func (a *API) listLots(c *gin.Context) error {
	q, err := query(c, "product", "limit", "after")
	if err != nil {
		return err
	}
	asked := q.Get("product")
	if asked == "" {
		return problem.Bad("parameter_missing", "product", "Give a product's id, or a GTIN.", "There is no product.")
	}
	var all []lot
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		all = all[:0]
		id, err := a.productID(r, asked)
		if err != nil {
			return err
		}
		fs, err := inventory.LotsOf(r, id)
		if err != nil {
			return err
		}
		locs, err := locationIDs(r, "")
		if err != nil {
			return err
		}
		blind, err := a.blindTo(c, r)
		if err != nil {
			return err
		}
		there, hidden := map[inventory.Lot]int64{}, false
		for _, loc := range locs {
			bs, err := inventory.OnHand(r, loc, id)
			if err != nil {
				return err
			}
			for _, b := range bs {
				there[b.Lot] += b.Quantity
			}
			hidden = hidden || inventory.BeingCounted(blind, loc, id)
		}
		holds, err := inventory.HoldsOf(r, id)
		if err != nil {
			return err
		}
		for _, f := range fs {
			h, err := holds.On(r, &inventory.Pieces{Lot: f.Lot.Number})
			if err != nil {
				return err
			}
			l := lot{
				Product: string(f.Lot.Product), Lot: f.Lot.Number, Expires: string(f.Expires), Made: string(f.Made),
				FirstEntry: f.First, Hold: holdOf(h),
			}
			if n := there[f.Lot]; !hidden {
				l.OnHand = &n
			}
			all = append(all, l)
		}
		return nil
	})
	if err != nil {
		return err
	}
	var out lotPage
	out.Lots, out.Next, err = pageOf(q, all, func(l *lot) string { return l.Lot })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// productID returns the product that an id or a GTIN names.
func (a *API) productID(r inventory.Reader, asked string) (inventory.ProductID, error) {
	id, err := inventory.Catalogued(r, inventory.ProductID(asked))
	if err != nil {
		return "", err
	}
	p, err := a.Book.Product(r, id)
	if err != nil || p != nil || id.Provisional() {
		return id, err
	}
	if gtin := gtin14(asked); inventory.ValidGTIN14(gtin) {
		p, _, err := a.Book.ProductByGTIN(r, gtin)
		if err != nil {
			return "", err
		}
		if p != nil {
			return p.ID, nil
		}
		return inventory.ProvisionalID(gtin), nil
	}
	return "", inventory.NotFound("product", asked, "Give the id of a product of the catalogue, or a GTIN.")
}
