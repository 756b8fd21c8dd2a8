package inventory

import (
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

func holdKeys(p ProductID, lots []string, all bool) [][]byte {
	var keys [][]byte
	for _, n := range lots {
		keys = append(keys, Lot{p, n}.key())
	}
	if all {
		keys = append(keys, Lot{p, ""}.key())
	}
	return keys
}

// Project implements Event.
func (h *Held) Project(w Writer, e journal.Entry) error {
	v := rowcode.NewEnc(1, 64)
	v.Uint(e.Seq)
	v.Text(h.Reason)
	v.Text(h.Notice)
	v.Text(e.Actor)
	v.Time(e.Happened)
	for _, k := range holdKeys(h.Product, h.Lots, h.AllLots) {
		if err := w.Put(ixHold, k, v.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// Project implements Event.
func (h *Released) Project(w Writer, _ journal.Entry) error {
	for _, k := range holdKeys(h.Product, h.Lots, h.AllLots) {
		if err := w.Delete(ixHold, k); err != nil {
			return err
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
}

// HoldOn returns the hold on a lot, nil if there is none: its own, or one on
// all lots of the product.
func HoldOn(r Reader, l Lot) (*Hold, error) {
	keys := [][]byte{l.key()}
	if l.Number != "" {
		keys = append(keys, Lot{l.Product, ""}.key())
	}
	for _, key := range keys {
		row, err := r.Get(ixHold, key)
		if err != nil {
			return nil, err
		}
		if row == nil {
			continue
		}
		d := rowcode.NewDec(1, row)
		h := &Hold{Entry: d.Uint(), Reason: d.Text(), Notice: d.Text(), By: d.Text(), At: d.Time()}
		return h, d.Err()
	}
	return nil, nil
}
