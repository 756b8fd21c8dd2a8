package inventory

import (
	"fmt"
	"strings"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// Held puts lots of a product on hold: they must not be used until released.
// A lot may be held before any of it was received.
type Held struct {
	Product ProductID `json:"product"`
	// Lots are the numbers held; AllLots holds every lot, also without one.
	Lots    []string `json:"lots,omitempty"`
	AllLots bool     `json:"all_lots,omitempty"`
	Reason  string   `json:"reason"`
	// Notice is the reference of the field notice, if there is one.
	Notice string `json:"notice,omitempty"`
}

// Kind implements Event.
func (*Held) Kind() string { return "lot.held" }

// Released ends a hold on lots.
type Released struct {
	Product ProductID `json:"product"`
	Lots    []string  `json:"lots,omitempty"`
	AllLots bool      `json:"all_lots,omitempty"`
	Reason  string    `json:"reason"`
}

// Kind implements Event.
func (*Released) Kind() string { return "lot.released" }

// holdLots are the lots that a hold or a release names; number "" stands for
// all lots of the product.
func holdLots(p ProductID, lots []string, all bool) []Lot {
	var list []Lot
	for _, n := range lots {
		list = append(list, Lot{p, n})
	}
	if all {
		list = append(list, Lot{p, ""})
	}
	return list
}

// Project implements Event.
func (h *Held) Project(w Writer, e journal.Entry) error {
	v := rowcode.NewEnc(1, 64)
	v.Text(h.Reason)
	v.Text(h.Notice)
	v.Text(e.Actor)
	v.Time(e.Happened)
	if err := noteHeldAs(w, h.Product); err != nil {
		return err
	}
	for _, l := range holdLots(h.Product, h.Lots, h.AllLots) {
		if err := w.Put(ixHold, rowcode.AppendNumber(l.key(), e.Seq), v.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// Project implements Event. It ends every hold on the lots named.
func (h *Released) Project(w Writer, _ journal.Entry) error {
	for _, l := range holdLots(h.Product, h.Lots, h.AllLots) {
		holds, err := holdsOf(w, l)
		if err != nil {
			return err
		}
		for _, held := range holds {
			if err := w.Delete(ixHold, rowcode.AppendNumber(l.key(), held.Entry)); err != nil {
				return err
			}
		}
	}
	return nil
}

// A Hold is a hold that is in force.
type Hold struct {
	Entry  uint64    `json:"entry"`
	Reason string    `json:"reason"`
	Notice string    `json:"notice,omitempty"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	// Scope is the name of the ScopeHeld, if it is one. Doubt says why it is
	// not sure that the pieces are meant; they are held until a person decides.
	Scope string `json:"scope,omitempty"`
	Doubt string `json:"doubt,omitempty"`
}

// HoldOn returns the hold on a lot, nil if there is none: see HoldOnPieces.
func HoldOn(r Reader, l Lot) (*Hold, error) {
	return HoldOnPieces(r, l.Product, &Pieces{Lot: l.Number})
}

// HoldOnPieces returns the hold on pieces of a product, nil if there is none:
// on their lot, on all lots of the product, or on what a scope means. Holds on
// a number of the product's packs, from before it was in the catalogue, count.
// Several holds are one with all their reasons; its entry, notice, author and
// time are the first one's, a sure one before one in doubt.
func HoldOnPieces(r Reader, id ProductID, p *Pieces) (*Hold, error) {
	ids, err := heldAs(r, id)
	if err != nil {
		return nil, err
	}
	var holds, doubts []Hold
	for _, id := range ids {
		own, err := holdsOf(r, Lot{id, p.Lot})
		if err != nil {
			return nil, err
		}
		holds = append(holds, own...)
		if p.Lot != "" {
			all, err := holdsOf(r, Lot{id, ""})
			if err != nil {
				return nil, err
			}
			holds = append(holds, all...)
		}
		scoped, err := scopeHoldsOn(r, id, p)
		if err != nil {
			return nil, err
		}
		for _, h := range scoped {
			if h.Doubt != "" {
				h.Reason = fmt.Sprintf("it may be meant, and nobody has decided yet (%s): %s", h.Doubt, h.Reason)
				doubts = append(doubts, h)
				continue
			}
			holds = append(holds, h)
		}
	}
	if len(holds) == 0 {
		holds = doubts
	}
	if len(holds) == 0 {
		return nil, nil
	}
	h := holds[0]
	for _, o := range holds[1:] {
		if !strings.Contains(h.Reason, o.Reason) {
			h.Reason += "; " + o.Reason
		}
		if h.Notice == "" {
			h.Notice = o.Notice
		}
	}
	return &h, nil
}

// noteHeldAs notes that there is, or was, a hold on a provisional id: while there
// never was one, nobody has to look for them.
func noteHeldAs(w Writer, id ProductID) error {
	if !id.Provisional() {
		return nil
	}
	return w.Put(ixHoldAs, rowcode.AppendText(nil, string(id)), nil)
}

// heldAs returns the ids under which a hold on a product may stand: its own, and
// where there are holds on provisional ids, those of its packs.
func heldAs(r Reader, id ProductID) ([]ProductID, error) {
	ids := []ProductID{id}
	if id.Provisional() {
		return ids, nil
	}
	some := false
	err := r.Scan(ixHoldAs, nil, nil, func(_, _ []byte) error {
		some = true
		return ErrStop
	})
	if err != nil {
		return nil, err
	}
	if !some {
		return ids, nil
	}
	row, err := r.Get(ixProduct, rowcode.AppendText(nil, string(id)))
	if err != nil || row == nil {
		return ids, err
	}
	prod, _, err := decodeProduct(row)
	if err != nil {
		return nil, err
	}
	return append(ids, prod.ProvisionalIDs()...), nil
}

// holdsOf returns the holds on exactly a lot, the first one first.
func holdsOf(r Reader, l Lot) ([]Hold, error) {
	var list []Hold
	err := r.Scan(ixHold, l.key(), nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		lotFromKey(k)
		h := Hold{Entry: k.Number()}
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, row)
		h.Reason, h.Notice, h.By, h.At = d.Text(), d.Text(), d.Text(), d.Time()
		list = append(list, h)
		return d.Err()
	})
	return list, err
}
