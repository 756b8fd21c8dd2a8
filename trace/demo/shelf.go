package demo

import (
	"cmp"
	"slices"

	"lotbook/inventory"
	"lotbook/trace"
)

// A shelf is a place with what really lies there.
type shelf struct {
	inventory.Location
	bay   int
	piles map[inventory.ProductID][]*pile // the soonest to expire first
	// vial is what is left, in µL, of the opened vial of heparin, and its lot.
	vial struct {
		left int64
		lot  *lot
		id   trace.ContainerID // its number, if somebody gave it one
	}
}

// A pile is the pieces of a lot at a place.
type pile struct {
	lot *lot
	n   int64
}

func newShelf(id, name string, kind inventory.PlaceKind, bay int) *shelf {
	return &shelf{
		Location: inventory.Location{ID: inventory.LocationID(id), Name: name, Type: kind}, bay: bay,
		piles: map[inventory.ProductID][]*pile{},
	}
}

// put adds pieces, or takes them away when n is below zero.
func (s *shelf) put(l *lot, n int64) {
	piles := s.piles[l.good.ID]
	for i, p := range piles {
		if p.lot == l {
			if p.n += n; p.n == 0 {
				s.piles[l.good.ID] = slices.Delete(piles, i, i+1)
			}
			return
		}
	}
	piles = append(piles, &pile{l, n})
	slices.SortStableFunc(piles, func(a, b *pile) int {
		return cmp.Or(cmp.Compare(a.lot.expires, b.lot.expires), cmp.Compare(a.lot.number, b.lot.number))
	})
	s.piles[l.good.ID] = piles
}

// has returns how many pieces of a lot are there.
func (s *shelf) has(l *lot) int64 {
	for _, p := range s.piles[l.good.ID] {
		if p.lot == l {
			return p.n
		}
	}
	return 0
}

// total returns how many pieces of a product are there that people take.
func (s *shelf) total(g *good) int64 {
	var n int64
	for _, p := range s.piles[g.ID] {
		if !p.lot.kept {
			n += p.n
		}
	}
	return n
}

// choose returns the lot that a person takes of a product: mostly the one that
// expires first, never one that fit refuses; nil if there is none.
func (w *world) choose(s *shelf, id inventory.ProductID, orderly float64, fit func(*lot) bool) *lot {
	var can []*lot
	for _, p := range s.piles[id] {
		if p.n > 0 && fit(p.lot) {
			can = append(can, p.lot)
		}
	}
	if len(can) == 0 {
		return nil
	}
	if len(can) == 1 || w.chance(orderly) {
		return can[0]
	}
	return pick(w, can...)
}

func usual(l *lot) bool { return !l.kept }

// sound is what a person takes who has just been stopped.
func (w *world) sound(l *lot) bool {
	return !l.kept && !l.held && l.expires >= inventory.DateOf(w.now, w.zone)
}
