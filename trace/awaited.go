package trace

import (
	"fmt"
	"math"
	"slices"
	"time"

	"lotbook/inventory"
)

// awaited returns the pieces that orders are still to bring.
func awaited(r inventory.Reader) (map[inventory.ProductID]int64, error) {
	orders, err := inventory.OnOrder(r)
	if err != nil {
		return nil, err
	}
	pieces := map[inventory.ProductID]int64{}
	for _, o := range orders {
		for _, p := range o.Progress {
			pieces[p.Product] += p.Open
		}
	}
	return pieces, nil
}

// An order is looked back at as long as it says something of orders to come.
// Common practice, no source.
const (
	lookBack    = 2 * 365 * 24 * time.Hour
	mostOrders  = 20
	leastOrders = 3
	mostLots    = 12
)

// arrivals calls fn for the last deliveries of a product, the latest first.
func (p *proposer) arrivals(id inventory.ProductID, fn func(*inventory.Arrival) error) error {
	return inventory.ScanArrivalsBack(p.r, id, p.At, func(a *inventory.Arrival) error {
		if p.At.Sub(a.At) > lookBack {
			return inventory.ErrStop
		}
		return fn(a)
	})
}

// measured is how long the last orders of a product took, from the order to the
// first of its pieces, nil if too few came.
func (p *proposer) measured(id inventory.ProductID) (*MeasuredLeadTime, error) {
	var first []inventory.OrderID // in the order in which they came, the latest first
	came := map[inventory.OrderID]time.Time{}
	err := p.arrivals(id, func(a *inventory.Arrival) error {
		if a.Order == "" {
			return nil
		}
		if _, ok := came[a.Order]; !ok {
			if len(first) == mostOrders {
				return inventory.ErrStop
			}
			first = append(first, a.Order)
		}
		came[a.Order] = a.At
		return nil
	})
	if err != nil {
		return nil, err
	}
	var days []float64
	for _, id := range first {
		placed, ok := p.placed[id]
		if !ok {
			o, err := inventory.OrderByID(p.r, id)
			if err != nil {
				return nil, err
			}
			if o != nil {
				placed = o.Placed
			}
			p.placed[id] = placed
		}
		if took := came[id].Sub(placed); !placed.IsZero() && took >= 0 {
			days = append(days, took.Hours()/24)
		}
	}
	if len(days) < leastOrders {
		return nil, nil
	}
	mean, sd := meanSD(days)
	return &MeasuredLeadTime{len(days), mean, sd}, nil
}

// meanSD is the mean and the sample standard deviation.
func meanSD(xs []float64) (mean, sd float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	for _, x := range xs {
		sd += (x - mean) * (x - mean) / float64(len(xs)-1)
	}
	return mean, math.Sqrt(sd)
}

// leadTime is the lead time of a product: its own, its supplier's, what orders
// showed, the unit's, or the question's. nil if none is known.
func (p *proposer) leadTime(l *ProposalLine, set *inventory.ProductOrdering) (*TakenLeadTime, error) {
	measured, err := p.measured(l.Product)
	if err != nil {
		return nil, err
	}
	take := func(t *inventory.LeadTime, from string) *TakenLeadTime {
		return &TakenLeadTime{float64(t.Hours) / 24, float64(t.SDHours) / 24, from, measured}
	}
	i := slices.IndexFunc(p.set.Suppliers, func(s inventory.SupplierLeadTime) bool { return s.Supplier == set.Supplier })
	switch {
	case set.LeadTime != nil:
		l.LeadTime = take(set.LeadTime, "set for the product")
	case i >= 0:
		l.LeadTime = take(&p.set.Suppliers[i].LeadTime, "set for "+set.Supplier)
	case measured != nil:
		l.LeadTime = &TakenLeadTime{measured.Days, measured.SDDays, fmt.Sprintf("measured over the last %d orders that came", measured.Orders), measured}
	case p.set.LeadTime != nil:
		l.LeadTime = take(p.set.LeadTime, "set for the unit")
	case p.lead != nil:
		l.LeadTime = take(p.lead, "given with the question, since none is known")
	}
	return l.LeadTime, nil
}

// shelfLife is how many days a delivered lot has to its expiry: the one set, or
// else the shortest of the last deliveries. 0 is not known.
func (p *proposer) shelfLife(id inventory.ProductID, set *inventory.ProductOrdering) (days int64, from string, err error) {
	if set.ShelfDays > 0 {
		return set.ShelfDays, "set for the product", nil
	}
	zone, err := p.u.Zone()
	if err != nil {
		return 0, "", err
	}
	n := 0
	err = p.arrivals(id, func(a *inventory.Arrival) error {
		ev, err := p.b.event(p.r, a.Entry)
		if err != nil {
			return err
		}
		v, ok := ev.(*inventory.Received)
		if !ok || v.Expires == "" {
			return nil
		}
		if left := int64(inventory.DateOf(a.At, zone).DaysUntil(v.Expires)); left > 0 && (days == 0 || left < days) {
			days = left
		}
		if n++; n == mostLots {
			return inventory.ErrStop
		}
		return nil
	})
	return days, fmt.Sprintf("the shortest of the last %d deliveries", n), err
}
