package v1

import (
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
)

// withheld is what an answer does not tell, since it is being counted and who
// asks may count: what the book has of it.
type withheld struct {
	Location string    `json:"location"`
	Products []string  `json:"products"` // all if empty
	Sheet    string    `json:"sheet"`
	Since    time.Time `json:"since"`
	Detail   string    `json:"detail"`
}

func withheldOf(list []inventory.BlindCount) []withheld {
	out := make([]withheld, len(list))
	for i, b := range list {
		out[i] = withheld{
			Location: string(b.Location), Products: make([]string, len(b.Products)), Sheet: string(b.Sheet), Since: b.Since,
			Detail: "It is being counted. What the book has there is told once the count is finished, or what differs was counted twice.",
		}
		for j, id := range b.Products {
			out[i].Products[j] = string(id)
		}
	}
	return out
}

// blindTo returns what is being counted and must not be told to who asks; nothing
// for those who may see what a count is expected to find.
func (a *API) blindTo(c *gin.Context, r inventory.Reader) ([]inventory.BlindCount, error) {
	id, ok := auth.FromContext(c.Request.Context())
	if !ok {
		return nil, errNoIdentity
	}
	if a.May(id.Role, "GET /v1/count-sheets/:id/expected") {
		return nil, nil
	}
	return inventory.BlindCounts(r)
}

// blind is blindTo in a view of its own.
func (a *API) blind(c *gin.Context) (list []inventory.BlindCount, err error) {
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		list, err = a.blindTo(c, r)
		return err
	})
	return list, err
}
