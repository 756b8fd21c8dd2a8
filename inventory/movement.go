package inventory

import (
	"lotbook/inventory/journal"
)

// A Stock names pieces of a lot, as an event's body holds them.
type Stock struct {
	Product ProductID `json:"product"`
	Lot     string    `json:"lot,omitempty"`
	Expires Date      `json:"expires,omitempty"`
	Made    Date      `json:"made,omitempty"`
	Serial  string    `json:"serial,omitempty"`
	// Quantity in the product's base unit.
	Quantity int64 `json:"quantity"`
	// GTIN and Packs say in which packs it came, when it was told so: 3 of
	// a case that holds 24 are 72 pieces. Quantity is what counts.
	GTIN  string `json:"gtin,omitempty"`
	Packs int64  `json:"packs,omitempty"`
	// Findings are what was noticed when it was recorded.
	Findings []Finding `json:"findings,omitempty"`
}

func (s *Stock) lot() Lot { return Lot{s.Product, s.Lot} }

// post is what every event of this file does: note the lot, post a movement.
func (s *Stock) post(w Writer, e journal.Entry, m Movement) error {
	stands := m.Class == ClassReceived || m.Class == ClassBorrowed
	if err := noteLot(w, e, s.lot(), s.Expires, s.Made, stands); err != nil {
		return err
	}
	return Post(w, e, m)
}

// Moved carries pieces from one location to another.
type Moved struct {
	Stock
	From LocationID `json:"from"`
	To   LocationID `json:"to"`
}

// Kind implements Event.
func (*Moved) Kind() string { return "stock.moved" }

func (v *Moved) movement() Movement {
	return Movement{Class: ClassMoved, Lot: v.lot(), From: v.From, To: v.To, Quantity: v.Quantity}
}

// Project implements Event.
func (v *Moved) Project(w Writer, e journal.Entry) error { return v.post(w, e, v.movement()) }

// Void implements Voider.
func (v *Moved) Void(w Writer, e, c journal.Entry) error { return Strike(w, e, c, v.movement()) }

// Consumed is a use outside a treatment: strips and disinfectant belong to a
// shift and a machine, not to a patient.
type Consumed struct {
	Stock
	From    LocationID `json:"from"`
	Machine string     `json:"machine,omitempty"`
	Purpose string     `json:"purpose,omitempty"`
}

// Kind implements Event.
func (*Consumed) Kind() string { return "stock.used" }

func (v *Consumed) movement() Movement {
	return Movement{Class: ClassUsed, Lot: v.lot(), From: v.From, Quantity: v.Quantity, Cause: v.Purpose, Other: v.Machine}
}

// Project implements Event.
func (v *Consumed) Project(w Writer, e journal.Entry) error { return v.post(w, e, v.movement()) }

// Void implements Voider.
func (v *Consumed) Void(w Writer, e, c journal.Entry) error { return Strike(w, e, c, v.movement()) }

// Wasted says that pieces were thrown away unused, and why.
type Wasted struct {
	Stock
	From  LocationID `json:"from"`
	Cause string     `json:"cause"`
	// Treatment is where it happened, if in one.
	Treatment string `json:"treatment,omitempty"`
}

// Kind implements Event.
func (*Wasted) Kind() string { return "stock.wasted" }

func (v *Wasted) movement() Movement {
	return Movement{Class: ClassWasted, Lot: v.lot(), From: v.From, Quantity: v.Quantity, Cause: v.Cause, Other: v.Treatment}
}

// Project implements Event.
func (v *Wasted) Project(w Writer, e journal.Entry) error { return v.post(w, e, v.movement()) }

// Void implements Voider.
func (v *Wasted) Void(w Writer, e, c journal.Entry) error { return Strike(w, e, c, v.movement()) }

// Departed says that pieces left the unit otherwise: back to the supplier,
// destroyed, or lent to another unit.
type Departed struct {
	Stock
	From LocationID `json:"from"`
	// How is "returned", "destroyed" or "lent".
	How   string `json:"how"`
	Cause string `json:"cause,omitempty"`
	// Other is the supplier, the witness, or the other unit.
	Other string `json:"other"`
	// To is the location that stands for the other unit, if there is one: it
	// keeps what that unit was lent.
	To LocationID `json:"to,omitempty"`
}

// The ways of leaving.
const (
	HowReturned  = "returned"
	HowDestroyed = "destroyed"
	HowLent      = "lent"
)

var departures = map[string]Class{HowReturned: ClassReturned, HowDestroyed: ClassDestroyed, HowLent: ClassLent}

// Kind implements Event.
func (*Departed) Kind() string { return "stock.departed" }

func (v *Departed) movement() Movement {
	return Movement{Class: departures[v.How], Lot: v.lot(), From: v.From, To: v.To, Quantity: v.Quantity, Cause: v.Cause, Other: v.Other}
}

// Project implements Event.
func (v *Departed) Project(w Writer, e journal.Entry) error { return v.post(w, e, v.movement()) }

// Void implements Voider.
func (v *Departed) Void(w Writer, e, c journal.Entry) error { return Strike(w, e, c, v.movement()) }

// Borrowed takes in pieces from another unit.
type Borrowed struct {
	Stock
	To    LocationID `json:"to"`
	Other string     `json:"other"`
	// From is the location that stands for the other unit, if there is one.
	From LocationID `json:"from,omitempty"`
}

// Kind implements Event.
func (*Borrowed) Kind() string { return "stock.borrowed" }

func (v *Borrowed) movement() Movement {
	return Movement{Class: ClassBorrowed, Lot: v.lot(), From: v.From, To: v.To, Quantity: v.Quantity, Other: v.Other}
}

// Project implements Event.
func (v *Borrowed) Project(w Writer, e journal.Entry) error { return v.post(w, e, v.movement()) }

// Void implements Voider.
func (v *Borrowed) Void(w Writer, e, c journal.Entry) error { return Strike(w, e, c, v.movement()) }
