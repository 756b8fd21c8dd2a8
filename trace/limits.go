package trace

import (
	"fmt"
	"math"

	"lotbook/inventory"
)

// limits returns how many pieces may be ordered at most: what the storage room
// has space for, and what can be used before it expires.
func (p *proposer) limits(l *ProposalLine, set *inventory.ProductOrdering, lead float64) (int64, error) {
	most := int64(math.MaxInt64)
	arrival := l.Forecast.Demand(lead).Mean
	s := &l.Stock
	term := func(what string, n int64, how string) {
		l.Terms = append(l.Terms, inventory.Term{What: what, Value: fmt.Sprint(max(0, n)), How: how})
		most = min(most, n)
	}
	if set.MostPieces > 0 {
		there := s.Usable + s.Held + s.Expired
		left := max(0, float64(there)-arrival) + float64(s.OnOrder)
		term("room for", int64(math.Floor(float64(set.MostPieces)-left)), fmt.Sprintf("space for %d pieces − %s left of %d when the order comes, with %d on order", set.MostPieces, num(left), there, s.OnOrder))
	}
	life, from, err := p.shelfLife(l.Product, set)
	if err != nil {
		return most, err
	}
	if life > 0 {
		use := l.Forecast.Demand(lead+float64(life)).Mean - arrival
		left := max(0, float64(s.Position())-arrival)
		term("used before it expires", int64(math.Floor(use-left)), fmt.Sprintf("%s used in %d days from the delivery (%s) − %s left of the stock before it", num(use), life, from, num(left)))
	} else {
		l.Notes = append(l.Notes, "How long a delivered lot lasts is not known, so the order is not limited by shelf life: give the product's usual remaining shelf life.")
	}
	return most, nil
}
