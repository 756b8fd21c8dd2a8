package inventory

import (
	"cmp"
	"maps"
	"slices"
	"time"
)

// A MassBalance accounts for every piece of a lot:
//
//	Received + TransferredIn = Used + Wasted + OnHand + Held + Returned +
//	    Destroyed + TransferredOut + Unaccounted
//
// It holds to the piece, whatever was recorded, because Unaccounted is what
// counts found missing (or, below zero, too many).
type MassBalance struct {
	Received       int64 `json:"received"`
	TransferredIn  int64 `json:"transferred_in"`
	Used           int64 `json:"used"`
	Wasted         int64 `json:"wasted"`
	OnHand         int64 `json:"on_hand"`
	Held           int64 `json:"held"`
	Returned       int64 `json:"returned"`
	Destroyed      int64 `json:"destroyed"`
	TransferredOut int64 `json:"transferred_out"`
	Unaccounted    int64 `json:"unaccounted"`
}

// In returns what came into the unit.
func (m *MassBalance) In() int64 { return m.Received + m.TransferredIn }

// Out returns the other side of the equation.
func (m *MassBalance) Out() int64 {
	return m.Used + m.Wasted + m.OnHand + m.Held + m.Returned + m.Destroyed + m.TransferredOut + m.Unaccounted
}

// A Difference is what a count found against the book at that time, after all
// that is known today.
type Difference struct {
	Entry    uint64     `json:"entry"`
	Location LocationID `json:"location"`
	At       time.Time  `json:"at"`
	By       string     `json:"by"`
	Book     int64      `json:"book"`
	Counted  int64      `json:"counted"`
	Cause    string     `json:"cause,omitempty"`
}

// A Tally adds up a lot's movements. Movements must come in the order in which
// they happened, those struck out are passed over.
type Tally struct {
	Mass  MassBalance
	Diffs []Difference
	at    map[LocationID]int64
}

// Add takes the next movement.
func (t *Tally) Add(m *Movement) {
	if m.Struck != 0 {
		return
	}
	if t.at == nil {
		t.at = map[LocationID]int64{}
	}
	switch m.Class {
	case ClassReceived:
		t.Mass.Received += m.Quantity
	case ClassBorrowed:
		t.Mass.TransferredIn += m.Quantity
	case ClassUsed:
		t.Mass.Used += m.Quantity
	case ClassWasted:
		t.Mass.Wasted += m.Quantity
	case ClassReturned:
		t.Mass.Returned += m.Quantity
	case ClassDestroyed:
		t.Mass.Destroyed += m.Quantity
	case ClassLent:
		t.Mass.TransferredOut += m.Quantity
	case ClassCounted:
		if book := t.at[m.To]; book != m.Quantity {
			t.Diffs = append(t.Diffs, Difference{m.Entry, m.To, m.Happened, m.Actor, book, m.Quantity, m.Cause})
			t.Mass.Unaccounted += book - m.Quantity
		}
		t.at[m.To] = m.Quantity
		return
	}
	if m.From != "" {
		t.at[m.From] -= m.Quantity
	}
	if m.To != "" {
		t.at[m.To] += m.Quantity
	}
}

// Close puts what is left where it belongs: held if the lot is on hold or it
// lies in quarantine, on hand otherwise, also with a home patient. It returns
// what is left, by location. What another unit has was transferred out and is
// no part of it: see Lent.
func (t *Tally) Close(l Lot, onHold bool, kind func(LocationID) PlaceKind) []Balance {
	var left []Balance
	for _, loc := range slices.SortedFunc(maps.Keys(t.at), cmp.Compare[LocationID]) {
		n := t.at[loc]
		if n == 0 || kind(loc) == OtherUnit {
			continue
		}
		left = append(left, Balance{Location: loc, Lot: l, Quantity: n})
		if onHold || kind(loc) == Quarantine {
			t.Mass.Held += n
		} else {
			t.Mass.OnHand += n
		}
	}
	return left
}

// Lent returns what other units have of the lot, or below zero, what was taken
// in from them and not given back.
func (t *Tally) Lent(l Lot, kind func(LocationID) PlaceKind) []Balance {
	var lent []Balance
	for _, loc := range slices.SortedFunc(maps.Keys(t.at), cmp.Compare[LocationID]) {
		if n := t.at[loc]; n != 0 && kind(loc) == OtherUnit {
			lent = append(lent, Balance{Location: loc, Lot: l, Quantity: n})
		}
	}
	return lent
}

// Add adds another lot's balance to m.
func (m *MassBalance) Add(o *MassBalance) {
	m.Received += o.Received
	m.TransferredIn += o.TransferredIn
	m.Used += o.Used
	m.Wasted += o.Wasted
	m.OnHand += o.OnHand
	m.Held += o.Held
	m.Returned += o.Returned
	m.Destroyed += o.Destroyed
	m.TransferredOut += o.TransferredOut
	m.Unaccounted += o.Unaccounted
}
