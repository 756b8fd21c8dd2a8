package trace

import (
	"context"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// NextLots says, for each place, which lot of each product to take next, and
// what of it will expire before it is used at the planned pace. It states facts;
// what to move or to take is for a person to say.
type NextLots struct {
	At   time.Time    `json:"at"`
	AsOf journal.Head `json:"as_of"`
	Plan *Plan        `json:"plan"`
	// Shelves are by place and product.
	Shelves []NextShelf `json:"shelves"`
	// Withheld is what is being counted blind: see Withhold.
	Withheld []inventory.BlindCount `json:"withheld,omitempty"`
}

// Withhold leaves out the shelves of what is being counted. Withheld names what
// was left out.
func (n *NextLots) Withhold(counts []inventory.BlindCount) {
	before := len(n.Shelves)
	n.Shelves = slices.DeleteFunc(n.Shelves, func(s NextShelf) bool { return inventory.BeingCounted(counts, s.Location, s.Product) })
	if len(n.Shelves) < before {
		n.Withheld = counts
	}
}

// A NextShelf is one product at one place.
type NextShelf struct {
	Location     inventory.LocationID `json:"location"`
	LocationName string               `json:"location_name"`
	Product      inventory.ProductID  `json:"product"`
	Name         string               `json:"product_name,omitempty"`
	Category     inventory.Category   `json:"category,omitempty"`
	// Lots in the order in which they are to be taken, then those not to be
	// taken, then those of which the last piece went in the last days.
	Lots []NextLot `json:"lots"`
	// NotKnown says why it is not known how long the lots last.
	NotKnown string `json:"not_known,omitempty"`
}

// A NextLot is a lot at a place and what becomes of it at the planned pace, if
// every place takes the first expired first, its own before the stores'.
type NextLot struct {
	inventory.ShelfLot
	// FirstUsed and LastUsed are the days of its first and last piece, empty
	// if they are not known or lie behind its expiry.
	FirstUsed inventory.Date `json:"first_used,omitempty"`
	LastUsed  inventory.Date `json:"last_used,omitempty"`
	// Left is how many pieces will be there still at the end of its last day
	// of use; nil if that is not known or it has no expiry date.
	Left *int64 `json:"left_at_expiry"`
	// Elsewhere are the places that use later lots until then.
	Elsewhere []inventory.CouldUse `json:"could_be_used_at,omitempty"`
}

// goneDays is for how many days a lot of which the last piece went is listed.
const goneDays = 7

// NextQuestion asks for a place, a product, both, or with neither for all.
type NextQuestion struct {
	Location inventory.LocationID
	Product  inventory.ProductID
}

// Next works out which lots to take next.
func (b *Book) Next(ctx context.Context, q NextQuestion) (*NextLots, error) {
	var out *NextLots
	err := b.View(ctx, func(r inventory.Reader) (err error) {
		out, err = b.next(r, q)
		return err
	})
	return out, err
}

func (b *Book) next(r inventory.Reader, q NextQuestion) (*NextLots, error) {
	out := &NextLots{At: b.Now(), AsOf: r.Head(), Shelves: []NextShelf{}}
	u, err := b.Unit(r)
	if err != nil {
		return nil, err
	}
	if out.Plan, err = b.plan(r, u, out.At, 2*week, aheadDays); err != nil {
		return nil, err
	}
	if q.Location != "" {
		loc, err := inventory.LocationByID(r, q.Location)
		if err != nil {
			return nil, err
		}
		if loc.Type.Away() {
			return nil, inventory.Invalid("location", "Ask about a place in the house.", "%s lies out of the house, and what is used there is not planned here", loc.Name)
		}
	}
	if q.Product, err = inventory.Catalogued(r, q.Product); err != nil {
		return nil, err
	}
	if q.Product != "" {
		p, err := b.Product(r, q.Product)
		if err != nil {
			return nil, err
		}
		if p == nil && !q.Product.Provisional() {
			return nil, inventory.NotFound("product", string(q.Product), "Give a product's id as the catalogue has it.")
		}
	}
	stocks, err := laidLots(r, out.Plan.Today, q.Product)
	if err != nil {
		return nil, err
	}
	locs, err := inventory.Locations(r)
	if err != nil {
		return nil, err
	}
	why := map[inventory.ProductID]string{}
	for id, lots := range stocks {
		p := out.Plan.products[id]
		switch {
		case out.Plan.until < 0:
			why[id] = "no treatments are planned"
		case p == nil || !out.Plan.uses(p):
			why[id] = "no planned treatment uses it"
		default:
			pace := out.Plan.pace(p)
			pace.UseUp(lots)
		}
	}
	products := make([]inventory.ProductID, 0, len(stocks))
	for id := range stocks {
		products = append(products, id)
	}
	slices.Sort(products)
	for _, loc := range locs {
		if loc.Type.Away() || (q.Location != "" && loc.ID != q.Location) {
			continue
		}
		for _, id := range products {
			s := NextShelf{Location: loc.ID, LocationName: loc.Name, Product: id, NotKnown: why[id]}
			if err := b.fill(r, &s, loc, stocks[id], out); err != nil {
				return nil, err
			}
			if len(s.Lots) > 0 {
				out.Shelves = append(out.Shelves, s)
			}
		}
	}
	return out, nil
}

// fill adds a place's lots.
func (b *Book) fill(r inventory.Reader, s *NextShelf, loc inventory.Location, lots []inventory.LaidLot, out *NextLots) error {
	p, err := b.Product(r, s.Product)
	if err != nil {
		return err
	}
	if p != nil {
		s.Name, s.Category = p.Name, p.Category
	}
	for i := range lots {
		l := &lots[i]
		if l.Location != loc.ID {
			continue
		}
		n := NextLot{ShelfLot: l.ShelfLot, FirstUsed: l.First, LastUsed: l.Out, Elsewhere: l.Elsewhere}
		if s.NotKnown == "" && l.Standing == inventory.StandsToTake && l.Expires != "" {
			n.Left = &l.Left
		}
		s.Lots = append(s.Lots, n)
	}
	gone, err := inventory.RecentlyGone(r, loc, s.Product, out.At.AddDate(0, 0, -goneDays), out.Plan.Today)
	for _, l := range gone {
		s.Lots = append(s.Lots, NextLot{ShelfLot: l})
	}
	return err
}

// laidLots returns what lies where in the house, by product, of one product or of
// all: at each place in the order in which it is to be taken.
func laidLots(r inventory.Reader, today inventory.Date, id inventory.ProductID) (map[inventory.ProductID][]inventory.LaidLot, error) {
	locs, err := inventory.Locations(r)
	if err != nil {
		return nil, err
	}
	all := map[inventory.ProductID][]inventory.LaidLot{}
	for _, loc := range locs {
		if loc.Type.Away() {
			continue
		}
		lots, err := inventory.Shelf(r, loc, id, today)
		if err != nil {
			return nil, err
		}
		for _, l := range lots {
			all[l.Lot.Product] = append(all[l.Lot.Product], inventory.LaidLot{Location: loc.ID, ShelfLot: l})
		}
	}
	return all, nil
}
