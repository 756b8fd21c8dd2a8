package trace

import (
	"fmt"
	"math"
	"slices"

	"lotbook/inventory"
)

// limits returns how many pieces may be ordered at most: what the storage room
// has space for, and what can be used before it expires.
func (p *proposer) limits(l *ProposalLine, set *inventory.ProductOrdering, lots []inventory.LaidLot, lead, span float64) (int64, error) {
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
	life, from, err := p.shelfLife(set, lots)
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

// shelfLife is how many days a delivered lot has to its expiry: the one set, or
// else the shortest of the lots on hand when the unit first had to do with them.
// 0 is not known.
func (p *proposer) shelfLife(set *inventory.ProductOrdering, lots []inventory.LaidLot) (days int64, from string, err error) {
	if set.ShelfDays > 0 {
		return set.ShelfDays, "set for the product", nil
	}
	zone, err := p.u.Zone()
	if err != nil {
		return 0, "", err
	}
	for i := range lots {
		f, ok, err := inventory.LotFactsOf(p.r, lots[i].Lot)
		if err != nil {
			return 0, "", err
		}
		if !ok || f.Expires == "" {
			continue
		}
		e, err := p.r.Entry(f.First)
		if err != nil {
			return 0, "", err
		}
		if n := int64(inventory.DateOf(e.Happened, zone).DaysUntil(f.Expires)); n > 0 && (days == 0 || n < days) {
			days, from = n, "the shortest of the lots on hand, when they came"
		}
	}
	return days, from, nil
}

// leadTime is the lead time of a product: its own, its supplier's, the unit's,
// or what orders showed. nil if none is known.
func (p *proposer) leadTime(l *ProposalLine, set *inventory.ProductOrdering) (*TakenLeadTime, error) {
	measured, err := measuredLeadTime(p.r, l, set.Supplier, p.At)
	if err != nil {
		return nil, err
	}
	take := func(t *inventory.LeadTime, from string) (*TakenLeadTime, error) {
		l.LeadTime = &TakenLeadTime{float64(t.Hours) / 24, float64(t.SDHours) / 24, from, measured}
		return l.LeadTime, nil
	}
	if set.LeadTime != nil {
		return take(set.LeadTime, "set for the product")
	}
	if i := slices.IndexFunc(p.set.Suppliers, func(s inventory.SupplierLeadTime) bool { return s.Supplier == set.Supplier }); i >= 0 {
		return take(&p.set.Suppliers[i].LeadTime, "set for "+set.Supplier)
	}
	if measured != nil {
		l.LeadTime = &TakenLeadTime{measured.Days, measured.SDDays, fmt.Sprintf("measured over %d orders that came", measured.Orders), measured}
		return l.LeadTime, nil
	}
	if p.set.LeadTime != nil {
		return take(p.set.LeadTime, "set for the unit")
	}
	return nil, nil
}
