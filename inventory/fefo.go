package inventory

import (
	"cmp"
	"slices"
	"time"

	"lotbook/inventory/rowcode"
)

// A Standing says whether a lot at a place is to be taken.
type Standing string

// The standings.
const (
	StandsToTake    Standing = "take"
	StandsHeld      Standing = "held"       // on hold, or in quarantine
	StandsExpired   Standing = "expired"    // the last day of use is past
	StandsNone      Standing = "none"       // the book says that the last piece is gone
	StandsBelowZero Standing = "below_zero" // more went than the book has as brought
)

// A ShelfLot is a lot at a place, as a person who takes the next piece meets it.
type ShelfLot struct {
	Lot      Lot      `json:"lot"`
	Quantity int64    `json:"quantity"` // by the book
	Expires  Date     `json:"expires,omitempty"`
	Standing Standing `json:"standing"`
	Hold     *Hold    `json:"hold,omitempty"`
	// Since is when the unit first had to do with the lot. It is set where
	// there is no expiry date to go by.
	Since time.Time `json:"since,omitzero"`
	// Counted is when the last count there saw the lot, zero if none did.
	Counted time.Time `json:"counted,omitzero"`
}

// Shelf returns the lots of a product that the book has at a place, those to
// take first: the first expired goes first out, by lot number where two expire
// on the same day. Lots without an expiry date come after those with one, the
// one longest here first. Behind them are those not to be taken.
func Shelf(r Reader, loc Location, p ProductID, today Date) ([]ShelfLot, error) {
	bals, err := OnHand(r, loc.ID, p)
	if err != nil {
		return nil, err
	}
	lots := make([]ShelfLot, len(bals))
	holds := heldProducts{}
	for i, b := range bals {
		if lots[i], err = holds.shelfLot(r, loc, b, today); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(lots, firstExpired)
	return lots, nil
}

// heldProducts are what holds of products, each read once.
type heldProducts map[ProductID]*Holds

func (hs heldProducts) shelfLot(r Reader, loc Location, b Balance, today Date) (ShelfLot, error) {
	l := ShelfLot{Lot: b.Lot, Quantity: b.Quantity, Counted: b.Counted}
	f, ok, err := LotFactsOf(r, b.Lot)
	if err != nil {
		return l, err
	}
	l.Expires = f.Expires
	if l.Expires == "" && ok {
		e, err := r.Entry(f.First)
		if err != nil {
			return l, err
		}
		l.Since = e.Happened
	}
	h := hs[b.Lot.Product]
	if h == nil {
		if h, err = HoldsOf(r, b.Lot.Product); err != nil {
			return l, err
		}
		hs[b.Lot.Product] = h
	}
	if l.Hold, err = h.On(r, &Pieces{Lot: b.Lot.Number}); err != nil {
		return l, err
	}
	switch {
	case b.Quantity == 0:
		l.Standing = StandsNone
	case b.Quantity < 0:
		l.Standing = StandsBelowZero
	case l.Hold != nil || loc.Type == Quarantine:
		l.Standing = StandsHeld
	case l.Expires != "" && l.Expires < today:
		l.Standing = StandsExpired
	default:
		l.Standing = StandsToTake
	}
	return l, nil
}

// firstExpired orders lots by when they are to be taken.
func firstExpired(a, b ShelfLot) int {
	last := func(yes bool) int {
		if yes {
			return 1
		}
		return 0
	}
	return cmp.Or(
		cmp.Compare(last(a.Standing != StandsToTake), last(b.Standing != StandsToTake)),
		cmp.Compare(last(a.Expires == ""), last(b.Expires == "")),
		cmp.Compare(a.Expires, b.Expires),
		a.Since.Compare(b.Since),
		cmp.Compare(a.Lot.Number, b.Lot.Number),
	)
}

// RecentlyGone returns the lots of a product of which the book has no piece left
// at a place and that something was recorded of there since an instant, the
// latest first. A person who finds one of them on the shelf all the same has
// found something out.
func RecentlyGone(r Reader, loc Location, p ProductID, since time.Time, today Date) ([]ShelfLot, error) {
	var lots []ShelfLot
	seen, holds := map[Lot]bool{}, heldProducts{}
	err := ScanPlaceBack(r, loc.ID, p, rowcode.MaxTime, func(m *PlaceMovement) error {
		switch {
		case m.Happened.Before(since):
			return ErrStop
		case m.Struck != 0 || seen[m.Lot]:
			return nil
		}
		seen[m.Lot] = true
		b, err := BalanceAt(r, loc.ID, m.Lot)
		if err != nil || b.Quantity != 0 {
			return err
		}
		l, err := holds.shelfLot(r, loc, b, today)
		lots = append(lots, l)
		return err
	})
	return lots, err
}
