package inventory

import (
	"encoding/json"
	"slices"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// ScopeHeld puts what a scope means on hold: lots on record and those that come
// later. It stands under a name, and a later one under the same name takes its
// place, so that a notice that grows has one hold.
type ScopeHeld struct {
	// Hold is the name: the notice's id.
	Hold string `json:"hold"`
	// Notice is the reference that people know the notice by.
	Notice   string     `json:"notice"`
	Reason   string     `json:"reason"`
	Products []ScopedOn `json:"products"`
}

// A ScopedOn is a product's part of a ScopeHeld.
type ScopedOn struct {
	Product ProductID `json:"product"`
	Scope   Scope     `json:"scope"`
	// Decided goes before what the scope says: lots on which a person said
	// that they are meant, or not.
	Decided []DecidedLot `json:"decided,omitempty"`
	// Released are lots that are meant and may be used all the same.
	Released []string `json:"released,omitempty"`
}

// A DecidedLot is a lot on which a person decided; the number is empty for
// pieces of which none is on record.
type DecidedLot struct {
	Lot   string `json:"lot"`
	Meant bool   `json:"meant"`
}

// Match says whether a product's part means some pieces: what a person decided
// on a lot goes before what the scope says of it.
func (s *ScopedOn) Match(p *Pieces) Match {
	for _, d := range s.Decided {
		switch {
		case d.Lot != p.Lot:
		case d.Meant:
			return s.Scope.match(p, Meant)
		default:
			return Match{Verdict: NotMeant, Why: "decided: it is not meant", Line: -1}
		}
	}
	return s.Scope.Match(p)
}

// Kind implements Event.
func (*ScopeHeld) Kind() string { return "scope.held" }

// Project implements Event.
func (h *ScopeHeld) Project(w Writer, e journal.Entry) error {
	if err := dropScopeHolds(w, h.Hold, ""); err != nil {
		return err
	}
	for _, p := range h.Products {
		if err := noteHeldAs(w, p.Product); err != nil {
			return err
		}
		row := scopeRow{h.Hold, h.Notice, h.Reason, e.Seq, e.Actor, e.Happened, p}
		if err := row.save(w); err != nil {
			return err
		}
	}
	return nil
}

// ScopeReleased ends a ScopeHeld: all of it, for a product, or for some lots of
// a product.
type ScopeReleased struct {
	Hold    string    `json:"hold"`
	Notice  string    `json:"notice"`
	Product ProductID `json:"product,omitempty"`
	Lots    []string  `json:"lots,omitempty"`
	Reason  string    `json:"reason"`
}

// Kind implements Event.
func (*ScopeReleased) Kind() string { return "scope.released" }

// Project implements Event.
func (h *ScopeReleased) Project(w Writer, _ journal.Entry) error {
	if len(h.Lots) == 0 {
		return dropScopeHolds(w, h.Hold, h.Product)
	}
	doc, err := w.Get(ixScopeHold, scopeKey(h.Product, h.Hold))
	if err != nil || doc == nil {
		return err
	}
	row, err := decodeScopeRow(doc)
	if err != nil {
		return err
	}
	for _, n := range h.Lots {
		if !slices.Contains(row.Released, n) {
			row.Released = append(row.Released, n)
		}
	}
	return row.save(w)
}

// A scopeRow is a product's part of a hold that is in force.
type scopeRow struct {
	Hold   string    `json:"hold"`
	Notice string    `json:"notice,omitempty"`
	Reason string    `json:"reason"`
	Entry  uint64    `json:"entry"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	ScopedOn
}

func scopeKey(p ProductID, hold string) []byte { return rowcode.AppendText(nil, string(p), hold) }

func (s *scopeRow) save(w Writer) error {
	doc, err := json.Marshal(s)
	if err != nil {
		return err
	}
	if err := w.Put(ixScopeOf, rowcode.AppendText(nil, s.Hold, string(s.Product)), nil); err != nil {
		return err
	}
	return w.Put(ixScopeHold, scopeKey(s.Product, s.Hold), doc)
}

func decodeScopeRow(doc []byte) (*scopeRow, error) {
	s := new(scopeRow)
	return s, json.Unmarshal(doc, s)
}

// dropScopeHolds ends a hold for a product, or for all if it is empty.
func dropScopeHolds(w Writer, hold string, p ProductID) error {
	products, err := scopeProducts(w, hold)
	if err != nil {
		return err
	}
	for _, id := range products {
		if p != "" && p != id {
			continue
		}
		if err := w.Delete(ixScopeHold, scopeKey(id, hold)); err != nil {
			return err
		}
		if err := w.Delete(ixScopeOf, rowcode.AppendText(nil, hold, string(id))); err != nil {
			return err
		}
	}
	return nil
}

func scopeProducts(r Reader, hold string) ([]ProductID, error) {
	var list []ProductID
	err := r.Scan(ixScopeOf, rowcode.AppendText(nil, hold), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		list = append(list, ProductID(k.Text()))
		return k.Err()
	})
	return list, err
}

// ScopeHolds returns the products' parts of a hold that are in force, with what
// was released of them.
func ScopeHolds(r Reader, hold string) ([]ScopedOn, error) {
	products, err := scopeProducts(r, hold)
	if err != nil {
		return nil, err
	}
	var list []ScopedOn
	for _, p := range products {
		doc, err := r.Get(ixScopeHold, scopeKey(p, hold))
		if err != nil {
			return nil, err
		}
		row, err := decodeScopeRow(doc)
		if err != nil {
			return nil, err
		}
		list = append(list, row.ScopedOn)
	}
	return list, nil
}

// scoped returns the holds by scope that mean some pieces of the product, or may.
func (h *Holds) scoped(r Reader, p *Pieces) ([]Hold, error) {
	var list []Hold
	known := false
	for _, row := range h.scopes {
		if slices.Contains(row.Released, p.Lot) {
			continue
		}
		lot := Lot{h.ids[0], p.Lot}
		if !known {
			q := *p // what is on record of the lot is added to a copy
			p, known = &q, true
			if err := p.complete(r, lot); err != nil {
				return nil, err
			}
		}
		if row.Scope.needsReceived() && p.Received == nil {
			var err error
			if p.Received, err = receivedOn(r, lot); err != nil {
				return nil, err
			}
		}
		m := row.Match(p)
		if m.Verdict == NotMeant {
			continue
		}
		held := Hold{Entry: row.Entry, Reason: row.Reason, Notice: row.Notice, By: row.By, At: row.At, Scope: row.Hold}
		if m.Verdict == Doubtful {
			held.Doubt = m.Why
		}
		list = append(list, held)
	}
	return list, nil
}

// complete adds what is on record of the lot's dates.
func (p *Pieces) complete(r Reader, l Lot) error {
	f, _, err := LotFactsOf(r, l)
	if p.Made == "" {
		p.Made = f.Made
	}
	if p.Expires == "" {
		p.Expires = f.Expires
	}
	return err
}

// receivedOn returns the days on which pieces of a lot came in. It is asked
// only where a scope names such a time.
func receivedOn(r Reader, l Lot) ([]Date, error) {
	u, err := unitOf(r)
	if err != nil {
		return nil, err
	}
	zone, err := u.Zone()
	if err != nil {
		return nil, err
	}
	var days []Date
	err = ScanLedger(r, l, func(m *Movement) error {
		if m.Struck == 0 && (m.Class == ClassReceived || m.Class == ClassBorrowed) {
			if d := DateOf(m.Happened, zone); !slices.Contains(days, d) {
				days = append(days, d)
			}
		}
		return nil
	})
	return days, err
}

// PiecesOf returns what is on record of a lot, for a Scope to judge.
func PiecesOf(r Reader, l Lot, s Scope) (*Pieces, error) {
	p := &Pieces{Lot: l.Number}
	if err := p.complete(r, l); err != nil {
		return nil, err
	}
	var err error
	if s.needsReceived() {
		p.Received, err = receivedOn(r, l)
	}
	return p, err
}
