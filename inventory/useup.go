package inventory

import "slices"

// A LaidLot is a lot at a place that is to be used up, and what becomes of it at
// the planned pace.
type LaidLot struct {
	Location LocationID
	ShelfLot
	// First and Out are the days when its first and its last piece is used,
	// empty if that doesn't happen before it expires.
	First, Out Date
	// Left is how many pieces are there still when its last day of use ends;
	// 0 where it has no expiry date.
	Left int64
	// Elsewhere are places that take later lots while these pieces expire.
	Elsewhere []CouldUse
}

// CouldUse says that a place uses, up to a lot's last day of use, so many pieces
// from lots that expire later, or lacks them.
type CouldUse struct {
	Location LocationID `json:"location"`
	Pieces   int64      `json:"pieces"`
}

// A Pace is what places use of one product, day by day.
type Pace struct {
	From Date
	// Places use it; the other places are stores, from which they take what
	// they lack.
	Places []LocationID
	// Use returns the pieces that a place uses on a day, counted from 0 for
	// From.
	Use func(place LocationID, day int) int64
}

// mostDays is how far UseUp looks: some ten years.
const mostDays = 3660

// A taking is what a place took on a day from a lot, or lacked (lot -1).
type taking struct {
	place  LocationID
	day    int
	lot    int
	pieces int64
}

// UseUp plays the days of a pace until all lots are used up or expired, and fills
// in what becomes of each. A place takes from its own lots, then from the stores,
// each time the one that expires first; nothing of a day is taken from a lot
// whose last day of use is past. Deliveries to come are left out: what they
// bring is taken after what is there, unless it expires sooner. short is the
// first day on which a place lacks a piece, empty if that day lies behind the
// end.
//
// Only lots that stand to be taken take part.
func (p *Pace) UseUp(lots []LaidLot) (short Date) {
	order := p.order(lots)
	left := make([]int64, len(lots))
	for _, i := range order {
		left[i] = lots[i].Quantity
	}
	user := map[LocationID]bool{}
	for _, loc := range p.Places {
		user[loc] = true
	}
	var takings []taking
	date, day := p.From, 0
	for ; day < mostDays && p.anyLeft(lots, order, left, date); day++ {
		for _, place := range p.Places {
			need := p.Use(place, day)
			for _, own := range []bool{true, false} {
				for _, i := range order {
					l := &lots[i]
					if need == 0 {
						break
					}
					if left[i] == 0 || (l.Expires != "" && l.Expires < date) || (own && l.Location != place) || (!own && user[l.Location]) {
						continue
					}
					n := min(need, left[i])
					need -= n
					if left[i] -= n; left[i] == 0 {
						l.Out = date
					}
					if l.First == "" {
						l.First = date
					}
					takings = append(takings, taking{place, day, i, n})
				}
			}
			if need > 0 {
				takings = append(takings, taking{place, day, -1, need})
				if short == "" {
					short = date
				}
			}
		}
		date = date.AddDays(1)
	}
	if short == "" && len(p.Places) > 0 { // nothing is left: the next use lacks it
		short = p.nextUse(date, day)
	}
	for _, i := range order {
		if lots[i].Expires != "" {
			lots[i].Left = left[i]
		}
		if lots[i].Left > 0 {
			lots[i].Elsewhere = p.elsewhere(lots, i, takings)
		}
	}
	return short
}

// nextUse returns the first day from one on that something is used, empty if
// that lies behind the end.
func (p *Pace) nextUse(date Date, day int) Date {
	for ; day < mostDays; day++ {
		for _, place := range p.Places {
			if p.Use(place, day) > 0 {
				return date
			}
		}
		date = date.AddDays(1)
	}
	return ""
}

// order returns the lots to be taken, the first expired first.
func (p *Pace) order(lots []LaidLot) []int {
	var order []int
	for i := range lots {
		if lots[i].Standing == StandsToTake {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return firstExpired(lots[a].ShelfLot, lots[b].ShelfLot) })
	return order
}

// anyLeft reports whether a lot has pieces that can be used on a day. Lots
// without an expiry date count only as long as anything is used at all: they
// would never end.
func (p *Pace) anyLeft(lots []LaidLot, order []int, left []int64, date Date) bool {
	for _, i := range order {
		if left[i] > 0 && (lots[i].Expires >= date || (lots[i].Expires == "" && len(p.Places) > 0)) {
			return true
		}
	}
	return false
}

// elsewhere returns the places that take later lots, or lack the product, up to
// a lot's last day of use. A lot in a store stands open to all, so there is
// nothing to move.
func (p *Pace) elsewhere(lots []LaidLot, lot int, takings []taking) []CouldUse {
	l := &lots[lot]
	if !slices.Contains(p.Places, l.Location) {
		return nil
	}
	could := map[LocationID]int64{}
	for _, t := range takings {
		later := t.lot < 0 || lots[t.lot].Expires == "" || lots[t.lot].Expires > l.Expires
		if t.place != l.Location && later && p.From.AddDays(t.day) <= l.Expires {
			could[t.place] += t.pieces
		}
	}
	var list []CouldUse
	for _, place := range p.Places {
		if n := could[place]; n > 0 {
			list = append(list, CouldUse{place, min(n, l.Left)})
		}
	}
	return list
}
