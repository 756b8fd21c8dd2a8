package notice

import (
	"cmp"
	"context"
	"slices"

	"lotbook/inventory"
)

// A LotMatch is a lot and what a notice's scope says of it.
type LotMatch struct {
	Product inventory.ProductID `json:"product"`
	Name    string              `json:"product_name,omitempty"`
	// Lot is empty for the pieces of which no number is on record.
	Lot string `json:"lot"`
	inventory.Match
	// OnRecord tells that some entry of this unit names the lot.
	OnRecord bool           `json:"on_record"`
	Made     inventory.Date `json:"made,omitempty"`
	Expires  inventory.Date `json:"expires,omitempty"`
	// Decided is the last decision on it, nil if there was none.
	Decided *Decision `json:"decided,omitempty"`
	// Held tells that the notice holds it; Released that it was let go.
	Held     bool `json:"held"`
	Released bool `json:"released,omitempty"`
	// Elsewhere are other products of which a lot of this very number is on
	// record: perhaps what was scanned was taken for another product.
	Elsewhere []inventory.ProductID `json:"elsewhere,omitempty"`
}

// Undecided reports whether a person has to say if the lot is meant. Of pieces
// without a number on record nobody can, and they stay in doubt.
func (l *LotMatch) Undecided() bool {
	return l.Verdict == inventory.Doubtful && !l.Part && l.OnRecord && l.Lot != ""
}

// Lots returns what the scope of the versions up to one (0: the last) says of
// this unit's lots: first those that are meant, then those in doubt, then those
// of which a person decided that they are not meant; of each the ones on record
// first. Lots that the notice lists and nobody here has seen are among them.
func (b *Book) Lots(ctx context.Context, id ID, version int) ([]LotMatch, error) {
	var list []LotMatch
	err := b.View(ctx, func(r inventory.Reader) error {
		s, err := ByID(r, id)
		if err != nil {
			return err
		}
		list, err = b.lots(r, s, version)
		return err
	})
	return list, err
}

func (b *Book) lots(r inventory.Reader, s *State, version int) ([]LotMatch, error) {
	held, err := inventory.ScopeHolds(r, string(s.ID))
	if err != nil {
		return nil, err
	}
	var list []LotMatch
	for _, on := range s.Scope(version) {
		ids := []inventory.ProductID{on.Product}
		name := ""
		p, err := b.Product(r, on.Product)
		if err != nil {
			return nil, err
		}
		if p != nil {
			name = p.Name
			ids = append(ids, p.ProvisionalIDs()...)
		}
		found, err := lotsOn(r, ids, &on)
		if err != nil {
			return nil, err
		}
		for i := range found {
			m := &found[i]
			m.Product, m.Name = on.Product, name
			m.Decided = s.decided(on.Product, m.Lot)
			for _, h := range held {
				if h.Product == on.Product {
					m.Released = slices.Contains(h.Released, m.Lot)
					m.Held = !m.Released && m.Verdict != inventory.NotMeant
				}
			}
			if m.Verdict != inventory.NotMeant && m.Lot != "" {
				if m.Elsewhere, err = elsewhere(r, ids, m.Lot); err != nil {
					return nil, err
				}
			}
			if m.Verdict != inventory.NotMeant || m.Decided != nil {
				list = append(list, *m)
			}
		}
	}
	onRecord := func(m *LotMatch) int {
		if m.OnRecord {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(list, func(x, y LotMatch) int {
		return cmp.Or(cmp.Compare(y.Verdict, x.Verdict), cmp.Compare(onRecord(&x), onRecord(&y)), cmp.Compare(x.Product, y.Product), cmp.Compare(x.Lot, y.Lot))
	})
	return list, nil
}

// decided returns the last decision on a lot.
func (s *State) decided(p inventory.ProductID, lot string) *Decision {
	for i := len(s.Decided) - 1; i >= 0; i-- {
		if d := &s.Decided[i]; d.Product == p && d.Lot == lot {
			return d
		}
	}
	return nil
}

// lotsOn judges a product's lots on record, under its id and those of its
// packs, and the lots that the scope lists and nobody here has seen.
func lotsOn(r inventory.Reader, ids []inventory.ProductID, on *inventory.ScopedOn) ([]LotMatch, error) {
	var list []LotMatch
	seen := map[string]int{}
	for _, id := range ids {
		lots, err := inventory.LotsOf(r, id)
		if err != nil {
			return nil, err
		}
		for _, f := range lots {
			p, err := inventory.PiecesOf(r, f.Lot, on.Scope)
			if err != nil {
				return nil, err
			}
			m := LotMatch{Lot: f.Lot.Number, Match: on.Match(p), OnRecord: true, Made: p.Made, Expires: p.Expires}
			if at, twice := seen[m.Lot]; twice {
				if m.Verdict > list[at].Verdict {
					list[at] = m
				}
				continue
			}
			seen[m.Lot] = len(list)
			list = append(list, m)
		}
	}
	for _, n := range on.Scope.ListedLots() {
		if _, ok := seen[n]; ok {
			continue
		}
		seen[n] = -1
		if m := on.Match(&inventory.Pieces{Lot: n}); m.Verdict != inventory.NotMeant {
			list = append(list, LotMatch{Lot: n, Match: m})
		}
	}
	return list, nil
}

// elsewhere returns other products of which a lot of the same number is on
// record.
func elsewhere(r inventory.Reader, ids []inventory.ProductID, number string) ([]inventory.ProductID, error) {
	similar, err := inventory.SimilarLots(r, inventory.Lot{Product: ids[0], Number: number})
	var list []inventory.ProductID
	for _, l := range similar {
		if l.Number == number && !slices.Contains(ids, l.Product) {
			list = append(list, l.Product)
		}
	}
	return list, err
}
