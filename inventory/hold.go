package inventory

import (
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
}

// HoldOn returns the hold on a lot, nil if there is none: its own, or one on
// all lots of the product. Several holds are one with all their reasons; its
// entry, notice, author and time are the first one's.
func HoldOn(r Reader, l Lot) (*Hold, error) {
	holds, err := holdsOf(r, l)
	if err != nil {
		return nil, err
	}
	if l.Number != "" {
		all, err := holdsOf(r, Lot{l.Product, ""})
		if err != nil {
			return nil, err
		}
		holds = append(holds, all...)
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
