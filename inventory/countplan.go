package inventory

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// ixCounted: location product time seq -> nothing; counts that named a product.
const ixCounted Index = "counted"

// CountPlan says how often what is counted. Products are put into classes by
// what moved of them: the value of it (pieces × price) among those whose price
// is known, the pieces among the others. From the greatest down, A are those
// that make up the first AShare of the sum, B those up to BShare, C the rest.
type CountPlan struct {
	// Shares in thousandths.
	AShare int64 `json:"a_share_thousandths"`
	BShare int64 `json:"b_share_thousandths"`
	// Each class is counted once in so many days.
	ADays int64 `json:"a_days"`
	BDays int64 `json:"b_days"`
	CDays int64 `json:"c_days"`
	// MovementDays is how far back movement is looked at.
	MovementDays int64          `json:"movement_days"`
	Prices       []ProductPrice `json:"prices,omitempty"`
}

// A ProductPrice is what a piece costs, in thousandths of the unit's currency.
type ProductPrice struct {
	Product ProductID `json:"product"`
	Price   int64     `json:"price_thousandths"`
}

// DefaultCountPlan returns the plan until a unit sets its own: 80 and 95 %, once
// a week, in four weeks, in thirteen. Common practice, no source.
func DefaultCountPlan() CountPlan {
	return CountPlan{AShare: 800, BShare: 950, ADays: 7, BDays: 28, CDays: 91, MovementDays: 91}
}

func (p *CountPlan) check() error {
	if p.AShare < 1 || p.BShare < p.AShare || p.BShare > 1000 {
		return Invalid("plan", "Give shares in thousandths, A before B: 800 and 950.", "shares of %d and %d thousandths", p.AShare, p.BShare)
	}
	for _, d := range []int64{p.ADays, p.BDays, p.CDays, p.MovementDays} {
		if d < 1 || d > 732 {
			return Invalid("plan", "Give days, 1 to 732.", "%d days", d)
		}
	}
	seen := map[ProductID]bool{}
	for _, x := range p.Prices {
		if x.Price < 1 || seen[x.Product] {
			return Invalid("prices", "Give each product one price above zero, or leave it out.", "%s costs %d thousandths", x.Product, x.Price)
		}
		seen[x.Product] = true
	}
	return nil
}

// A CountClass is how often something is counted: A most often.
type CountClass string

// The classes.
const (
	ClassA CountClass = "A"
	ClassB CountClass = "B"
	ClassC CountClass = "C"
)

func (p *CountPlan) days(c CountClass) int64 {
	switch c {
	case ClassA:
		return p.ADays
	case ClassB:
		return p.BDays
	}
	return p.CDays
}

// A Classified is a product with its class and what it rests on.
type Classified struct {
	Product ProductID  `json:"product"`
	Class   CountClass `json:"class"`
	// Moved is the pieces used and wasted in the time looked at; Value is
	// that times the price, in thousandths, 0 where no price is known.
	Moved int64 `json:"moved"`
	Value int64 `json:"value_thousandths,omitempty"`
	// Share is its part of the sum of its group, in thousandths.
	Share int64 `json:"share_thousandths"`
}

// Classify puts products into classes by the pieces that moved of each, the
// greatest first.
func (p *CountPlan) Classify(moved map[ProductID]int64) []Classified {
	price := map[ProductID]int64{}
	for _, x := range p.Prices {
		price[x.Product] = x.Price
	}
	var priced, other []Classified
	for id, n := range moved {
		if c := price[id]; c > 0 {
			priced = append(priced, Classified{Product: id, Moved: n, Value: n * c})
		} else {
			other = append(other, Classified{Product: id, Moved: n})
		}
	}
	return append(p.rank(priced, func(c *Classified) int64 { return c.Value }), p.rank(other, func(c *Classified) int64 { return c.Moved })...)
}

// rank gives the classes within a group.
func (p *CountPlan) rank(list []Classified, size func(*Classified) int64) []Classified {
	slices.SortFunc(list, func(a, b Classified) int {
		return cmp.Or(cmp.Compare(size(&b), size(&a)), cmp.Compare(a.Product, b.Product))
	})
	var total, before int64
	for i := range list {
		total += size(&list[i])
	}
	for i := range list {
		c := &list[i]
		c.Class = ClassC
		if total == 0 || size(c) == 0 {
			continue
		}
		c.Share = size(c) * 1000 / total
		switch { // by what the greater ones make up: the one that crosses a bound is still within it
		case before*1000 < p.AShare*total:
			c.Class = ClassA
		case before*1000 < p.BShare*total:
			c.Class = ClassB
		}
		before += size(c)
	}
	return list
}

// DueCount is a product to be counted at a place.
type DueCount struct {
	Location LocationID `json:"location"`
	Product  ProductID  `json:"product"`
	Class    CountClass `json:"class"`
	// Every is in how many days it is counted once.
	Every int64 `json:"every_days"`
	// Counted is when it was last counted there, zero if never.
	Counted time.Time `json:"counted,omitzero"`
	Due     Date      `json:"due"`
}

// A CountPlanning is the plan on a day.
type CountPlanning struct {
	Date    Date         `json:"date"`
	Plan    CountPlan    `json:"plan"`
	Classes []Classified `json:"classes"`
	// Due is what is to be counted on the day or should have been before,
	// by place, the longest overdue first; Later is the rest by date.
	Due   []DueCount `json:"due"`
	Later []DueCount `json:"later"`
}

// PlanCounts says what is to be counted on a day, at one place or at all
// (empty).
//
// Each class's products are spread evenly over its days, place by place: a
// product has its turn every so many days, and one that was counted has its next
// at least half that time later, so that a count in between moves it and leaves
// the spread as it is. What was never counted waits for its first turn.
func (b *Book) PlanCounts(ctx context.Context, date Date, loc LocationID) (*CountPlanning, error) {
	if _, err := time.Parse(time.DateOnly, string(date)); err != nil {
		return nil, Invalid("date", "Give the date as 2027-03-31.", "%q is not a date", date)
	}
	out := &CountPlanning{Date: date, Due: []DueCount{}, Later: []DueCount{}}
	return out, b.View(ctx, func(r Reader) error {
		c, err := CountingOf(r)
		if err != nil {
			return err
		}
		out.Plan = c.Plan
		u, err := b.Unit(r)
		if err != nil {
			return err
		}
		zone, err := u.Zone()
		if err != nil {
			return err
		}
		if loc != "" {
			if _, err := LocationByID(r, loc); err != nil {
				return err
			}
		}
		at, moved, err := movedAt(r, date, zone, c.Plan.MovementDays)
		if err != nil {
			return err
		}
		out.Classes = c.Plan.Classify(moved)
		for _, place := range slices.Sorted(maps.Keys(at)) {
			if loc != "" && place != loc {
				continue
			}
			if err := out.place(r, place, at[place], zone); err != nil {
				return err
			}
		}
		byDue := func(a, b DueCount) int {
			return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.Location, b.Location), cmp.Compare(a.Product, b.Product))
		}
		slices.SortFunc(out.Due, byDue)
		slices.SortFunc(out.Later, byDue)
		return nil
	})
}

// movedAt returns which products each place has or moved lately, and what of
// each was used and wasted in the unit.
func movedAt(r Reader, date Date, zone *time.Location, days int64) (at map[LocationID][]ProductID, moved map[ProductID]int64, err error) {
	locs, err := Locations(r)
	if err != nil {
		return nil, nil, err
	}
	to, err := clockTime(date.AddDays(1), "00:00", zone)
	if err != nil {
		return nil, nil, err
	}
	from := to.Add(-time.Duration(days) * 24 * time.Hour)
	at, moved = map[LocationID][]ProductID{}, map[ProductID]int64{}
	for _, l := range locs {
		ids, err := ProductsAt(r, l.ID)
		if err != nil {
			return nil, nil, err
		}
		for _, id := range ids {
			any := false
			err := ScanPlace(r, l.ID, id, from, to, func(m *PlaceMovement) error {
				any = any || (m.Struck == 0 && m.Class != ClassCounted)
				if m.Struck == 0 && (m.Class == ClassUsed || m.Class == ClassWasted) {
					moved[id] -= m.Delta
				}
				return nil
			})
			if err != nil {
				return nil, nil, err
			}
			if !any {
				there, err := OnHand(r, l.ID, id)
				if err != nil {
					return nil, nil, err
				}
				any = len(there) > 0
			}
			if any {
				at[l.ID] = append(at[l.ID], id)
				moved[id] += 0
			}
		}
	}
	return at, moved, nil
}

// place adds what is to be counted at a place.
func (p *CountPlanning) place(r Reader, loc LocationID, ids []ProductID, zone *time.Location) error {
	whole, err := lastComplete(r, loc)
	if err != nil {
		return err
	}
	class := map[ProductID]CountClass{}
	for _, c := range p.Classes {
		class[c.Product] = c.Class
	}
	of := map[CountClass][]ProductID{}
	for _, id := range ids {
		of[class[id]] = append(of[class[id]], id)
	}
	for _, c := range []CountClass{ClassA, ClassB, ClassC} {
		every := p.Plan.days(c)
		for i, id := range of[c] {
			d := DueCount{Location: loc, Product: id, Class: c, Every: every}
			if d.Counted, err = lastCounted(r, loc, id); err != nil {
				return err
			}
			if whole.After(d.Counted) {
				d.Counted = whole
			}
			earliest := p.Date
			if !d.Counted.IsZero() {
				earliest = DateOf(d.Counted, zone).AddDays(int((every + 1) / 2))
			}
			d.Due = turn(earliest, every, int64(i)*every/int64(len(of[c])))
			if d.Due <= p.Date {
				p.Due = append(p.Due, d)
			} else {
				p.Later = append(p.Later, d)
			}
		}
	}
	return nil
}

// turn returns the first day from a date on that is a product's turn: one of
// every so many days since 1970, and so many after.
func turn(from Date, every, after int64) Date {
	n := int64(Date("1970-01-01").DaysUntil(from))
	wait := (after - n%every + every) % every
	return from.AddDays(int(wait))
}

func countedKey(e journal.Entry, loc LocationID, p ProductID) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(rowcode.AppendText(nil, string(loc), string(p)), e.Happened), e.Seq)
}

// noteCounted notes which products a count named.
func noteCounted(w Writer, e journal.Entry, c *Counted) error {
	return eachCounted(w, e, c, func(key []byte) error { return w.Put(ixCounted, key, nil) })
}

func strikeCounted(w Writer, e journal.Entry, c *Counted) error {
	return eachCounted(w, e, c, func(key []byte) error { return w.Delete(ixCounted, key) })
}

func eachCounted(r Reader, e journal.Entry, c *Counted, fn func(key []byte) error) error {
	lines, err := c.PerLot(r)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if err := fn(countedKey(e, c.Location, l.Product)); err != nil {
			return err
		}
	}
	return nil
}

// lastCounted returns when a product was last named by a count of a place, the
// zero time if never.
func lastCounted(r Reader, loc LocationID, p ProductID) (at time.Time, err error) {
	err = r.ScanBack(ixCounted, rowcode.AppendText(nil, string(loc), string(p)), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		k.Text()
		at = k.Time()
		k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		return ErrStop
	})
	return at, err
}

// lastComplete returns when a place was last counted as a whole, the zero time
// if never.
func lastComplete(r Reader, loc LocationID) (at time.Time, err error) {
	err = ScanCountsBack(r, loc, rowcode.MaxTime, func(c *Count) error {
		if !c.Complete {
			return nil
		}
		at = c.At
		return ErrStop
	})
	return at, err
}
