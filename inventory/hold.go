package inventory

import (
	"fmt"
	"slices"
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
// see Holds.On.
func HoldOnPieces(r Reader, id ProductID, p *Pieces) (*Hold, error) {
	h, err := HoldsOf(r, id)
	if err != nil {
		return nil, err
	}
	return h.On(r, p)
}

// Holds are all that hold anything of a product, read once for whoever asks
// about several of its lots.
type Holds struct {
	ids    []ProductID
	lots   map[string][]Hold // by lot number; empty for all lots
	scopes []*scopeRow
}

// HoldsOf returns what holds anything of a product. Holds on a number of its
// packs, from before it was in the catalogue, are among them.
func HoldsOf(r Reader, id ProductID) (*Holds, error) {
	ids, err := heldAs(r, id)
	h := &Holds{ids: ids}
	for _, id := range ids {
		if err == nil {
			err = h.read(r, id)
		}
	}
	return h, err
}

// read adds what stands under one id.
func (h *Holds) read(r Reader, id ProductID) error {
	prefix := rowcode.AppendText(nil, string(id))
	err := r.Scan(ixHold, prefix, nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		number := lotFromKey(k).Number
		held, err := decodeHold(k, row)
		if err != nil {
			return err
		}
		if h.lots == nil {
			h.lots = map[string][]Hold{}
		}
		h.lots[number] = append(h.lots[number], held)
		return nil
	})
	if err != nil {
		return err
	}
	return r.Scan(ixScopeHold, prefix, nil, func(_, doc []byte) error {
		row, err := decodeScopeRow(doc)
		h.scopes = append(h.scopes, row)
		return err
	})
}

// On returns the hold on pieces of the product, nil if there is none: on their
// lot, on all lots of the product, or on what a scope means. Several holds are
// one with all their reasons; its entry, notice, author and time are the first
// one's, a sure one before one in doubt.
func (h *Holds) On(r Reader, p *Pieces) (*Hold, error) {
	if len(h.lots) == 0 && len(h.scopes) == 0 {
		return nil, nil
	}
	holds := slices.Clone(h.lots[p.Lot])
	if p.Lot != "" {
		holds = append(holds, h.lots[""]...)
	}
	scoped, err := h.scoped(r, p)
	if err != nil {
		return nil, err
	}
	var doubts []Hold
	for _, s := range scoped {
		if s.Doubt != "" {
			s.Reason = fmt.Sprintf("it may be meant, and nobody has decided yet (%s): %s", s.Doubt, s.Reason)
			doubts = append(doubts, s)
			continue
		}
		holds = append(holds, s)
	}
	if len(holds) == 0 {
		holds = doubts
	}
	if len(holds) == 0 {
		return nil, nil
	}
	first := holds[0]
	for _, o := range holds[1:] {
		if !strings.Contains(first.Reason, o.Reason) {
			first.Reason += "; " + o.Reason
		}
		if first.Notice == "" {
			first.Notice = o.Notice
		}
	}
	return &first, nil
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
		h, err := decodeHold(k, row)
		list = append(list, h)
		return err
	})
	return list, err
}

// decodeHold reads a hold, of whose key the lot was taken.
func decodeHold(k *rowcode.Key, row []byte) (Hold, error) {
	h := Hold{Entry: k.Number()}
	if err := k.Err(); err != nil {
		return h, err
	}
	d := rowcode.NewDec(1, row)
	h.Reason, h.Notice, h.By, h.At = d.Text(), d.Text(), d.Text(), d.Time()
	return h, d.Err()
}
