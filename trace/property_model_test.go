package trace_test

import (
	"maps"
	"slices"

	"lotbook/inventory"
)

// A pieces is what a unit has, in plain maps: what happened adds and takes, in
// the order in which it happened, and a count says what there is. It knows
// nothing of journals, indexes and anchors.
type pieces struct {
	at   map[inventory.LocationID]map[inventory.Lot]int64
	mass map[inventory.Lot]*inventory.MassBalance
}

// asRecorded returns what happened, of what was recorded in an order, with the
// products that it ends up with: what was recorded under the number while a
// product had it is that product's, and the rest of it is whose number it is in
// the end.
func asRecorded(hs []happening, order []int) []happening {
	list := slices.Clone(hs[:len(order)])
	var owner inventory.ProductID
	name := func(id *inventory.ProductID) {
		if *id == smallUnknown && owner != "" {
			*id = owner
		}
	}
	rename := func(h *happening) {
		name(&h.stock.Product)
		h.lines = slices.Clone(h.lines)
		for i := range h.lines {
			name(&h.lines[i].Product)
		}
	}
	for _, i := range order {
		if hs[i].op.name == "catalogue" {
			owner = hs[i].owner
		}
		rename(&list[i])
	}
	for i := range list {
		rename(&list[i])
	}
	return list
}

// catalogued returns how often the number was given to a product or taken away.
func catalogued(hs []happening) (n int) {
	for i := range hs {
		if hs[i].op.name == "catalogue" {
			n++
		}
	}
	return n
}

// happened works out what there is after what happened and was recorded in an
// order, but for what was struck out.
func happened(hs []happening, order []int) *pieces {
	hs = asRecorded(hs, order)
	m := &pieces{map[inventory.LocationID]map[inventory.Lot]int64{}, map[inventory.Lot]*inventory.MassBalance{}}
	for _, p := range smallPlaces {
		m.at[p] = map[inventory.Lot]int64{}
	}
	for _, l := range smallLots {
		m.mass[l] = new(inventory.MassBalance)
	}
	struck := map[int]bool{}
	for i := range hs {
		if hs[i].op.name == "correct" {
			struck[hs[i].before] = true
		}
	}
	for i := range hs {
		if hs[i].op.effect != nil && !struck[i] {
			hs[i].op.effect(m, &hs[i])
		}
	}
	for p, lots := range m.at {
		maps.DeleteFunc(lots, func(_ inventory.Lot, n int64) bool { return n == 0 })
		for l, n := range lots {
			if p == "quarantine" {
				m.mass[l].Held += n
			} else {
				m.mass[l].OnHand += n
			}
		}
	}
	return m
}

// come adds pieces at a place; tally, if there is one, says how they came.
func (m *pieces) come(p inventory.LocationID, l inventory.Lot, n int64, tally func(*inventory.MassBalance) *int64) {
	m.at[p][l] += n
	if tally != nil {
		*tally(m.mass[l]) += n
	}
}

// leave takes pieces from a place; tally, if there is one, says where they went.
func (m *pieces) leave(p inventory.LocationID, l inventory.Lot, n int64, tally func(*inventory.MassBalance) *int64) {
	m.at[p][l] -= n
	if tally != nil {
		*tally(m.mass[l]) += n
	}
}

// count sets what there is; what was there by the book and was not found is
// unaccounted for.
func (m *pieces) count(p inventory.LocationID, lines []inventory.CountLine, complete bool) {
	found := map[inventory.Lot]int64{}
	if complete {
		for _, l := range smallLots {
			found[l] = 0
		}
	}
	for _, n := range lines {
		found[inventory.Lot{Product: n.Product, Number: n.Lot}] += n.Counted
	}
	for l, n := range found {
		m.mass[l].Unaccounted += m.at[p][l] - n
		m.at[p][l] = n
	}
}
