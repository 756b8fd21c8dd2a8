package trace

import (
	"slices"
	"time"

	"lotbook/inventory"
)

// A UnitLoan is another unit that had pieces of a lot from here, or gave some:
// it answers for its own patients, and has to be told.
type UnitLoan struct {
	// Unit is its name as recorded; Location stands for it, if one does.
	Unit     string               `json:"unit"`
	Location inventory.LocationID `json:"location,omitempty"`
	// Lent pieces went there, Taken came from there, given back or lent.
	Lent  int64 `json:"lent"`
	Taken int64 `json:"taken"`
	// First and Last are when the first and the last went or came, and
	// Entries the entries that say so, the first 100.
	First   time.Time `json:"first"`
	Last    time.Time `json:"last"`
	Entries []uint64  `json:"entries"`
	// Via is the kit that the lot went in, nil for its own packs.
	Via *Holder `json:"via,omitempty"`
}

// mostLoanEntries is how many entries a UnitLoan names.
const mostLoanEntries = 100

// loan adds a movement of a carrier that went to another unit, or came from one.
func (a *LotAnswer) loan(c *carrier, m *inventory.Movement) {
	at := m.To
	switch m.Class {
	case inventory.ClassLent:
	case inventory.ClassBorrowed:
		at = m.From
	default:
		return
	}
	i := slices.IndexFunc(a.Units, func(u UnitLoan) bool { return u.Unit == m.Other && u.Location == at && u.Via == c.holder })
	if i < 0 {
		i = len(a.Units)
		a.Units = append(a.Units, UnitLoan{Unit: m.Other, Location: at, First: m.Happened, Via: c.holder})
	}
	u := &a.Units[i]
	if m.Class == inventory.ClassLent {
		u.Lent += m.Quantity
	} else {
		u.Taken += m.Quantity
	}
	if u.Last = later(u.Last, m.Happened); m.Happened.Before(u.First) {
		u.First = m.Happened
	}
	if len(u.Entries) < mostLoanEntries {
		u.Entries = append(u.Entries, m.Entry)
	}
}
