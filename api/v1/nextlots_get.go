package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

// nextLots is which lots to take next.
type nextLots struct {
	At      time.Time   `json:"at"`
	AsOf    head        `json:"as_of"`
	Caution string      `json:"caution"`
	Plan    plan        `json:"plan"`
	Shelves []nextShelf `json:"shelves"`
	// Withheld is what was left out, since it is being counted.
	Withheld []withheld `json:"withheld"`
}

type nextShelf struct {
	Location     string    `json:"location"`
	LocationName string    `json:"location_name"`
	Product      string    `json:"product"`
	ProductName  string    `json:"product_name,omitempty"`
	Category     *category `json:"category,omitempty"`
	NotKnown     string    `json:"not_known,omitempty"`
	Lots         []nextLot `json:"lots"`
}

type nextLot struct {
	Lot       string     `json:"lot,omitempty"`
	Quantity  int64      `json:"quantity"`
	Standing  string     `json:"standing"`
	Expires   string     `json:"expires,omitempty"`
	Since     time.Time  `json:"since,omitzero"`
	Counted   time.Time  `json:"counted,omitzero"`
	Hold      *hold      `json:"hold,omitempty"`
	FirstUsed string     `json:"first_used,omitempty"`
	LastUsed  string     `json:"last_used,omitempty"`
	Left      *int64     `json:"left_at_expiry"`
	Elsewhere []couldUse `json:"could_be_used_at"`
}

type couldUse struct {
	Location string `json:"location"`
	Pieces   int64  `json:"pieces"`
}

func nextLotsOf(n *trace.NextLots) nextLots {
	out := nextLots{At: n.At, AsOf: headOf(n.AsOf), Caution: reports.Caution, Plan: planOf(n.Plan), Shelves: make([]nextShelf, len(n.Shelves)), Withheld: withheldOf(n.Withheld)}
	for i := range n.Shelves {
		s := &n.Shelves[i]
		shelf := nextShelf{Location: string(s.Location), LocationName: s.LocationName, Product: string(s.Product), ProductName: s.Name, NotKnown: s.NotKnown}
		if s.Category != "" {
			cat := categoryOf(s.Category)
			shelf.Category = &cat
		}
		for j := range s.Lots {
			shelf.Lots = append(shelf.Lots, nextLotOf(&s.Lots[j]))
		}
		out.Shelves[i] = shelf
	}
	return out
}

func nextLotOf(l *trace.NextLot) nextLot {
	out := nextLot{
		Lot: l.Lot.Number, Quantity: l.Quantity, Standing: string(l.Standing), Expires: string(l.Expires), Since: l.Since, Counted: l.Counted,
		Hold: holdOf(l.Hold), FirstUsed: string(l.FirstUsed), LastUsed: string(l.LastUsed), Left: l.Left, Elsewhere: []couldUse{},
	}
	for _, c := range l.Elsewhere {
		out.Elsewhere = append(out.Elsewhere, couldUse{string(c.Location), c.Pieces})
	}
	return out
}

// nextOf works out what the query asks for.
func (a *API) nextOf(c *gin.Context) (*trace.NextLots, error) {
	q, err := query(c, "location", "product")
	if err != nil {
		return nil, err
	}
	n, err := a.Book.Next(c.Request.Context(), trace.NextQuestion{Location: inventory.LocationID(q.Get("location")), Product: inventory.ProductID(q.Get("product"))})
	if err != nil {
		return nil, err
	}
	blind, err := a.blind(c)
	n.Withhold(blind)
	return n, err
}

// getNextLots answers GET /v1/next-lots.
func (a *API) getNextLots(c *gin.Context) error {
	n, err := a.nextOf(c)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, nextLotsOf(n))
}

// getNextLotsWorkbook answers GET /v1/next-lots.xlsx.
func (a *API) getNextLotsWorkbook(c *gin.Context) error {
	return drawn(a, c, a.nextOf, reports.NextLots, func(n *trace.NextLots) string { return fileName("next-lots", string(n.Plan.Today)) })
}
