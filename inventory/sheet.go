package inventory

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

const (
	ixSheet     Index = "sheet"     // sheet -> its document
	ixSheetOpen Index = "sheetopen" // location sheet -> nothing, while it is not finished
)

// A SheetID names a count sheet: "C" and the number of the entry that opened it.
type SheetID string

// A SheetState says how far a count sheet is.
type SheetState string

// The states.
const (
	SheetCounting SheetState = "counting" // lines come in
	SheetRecount  SheetState = "recount"  // some lots are asked for again; nobody has been told by how much they differ
	SheetCauses   SheetState = "causes"   // counted twice: the differences are shown, and need causes
	SheetDone     SheetState = "done"
	SheetDropped  SheetState = "dropped"
)

// A Sheet is a blind count: people write down what they find at a place, in
// parts, and are not told what the book has there.
type Sheet struct {
	ID       SheetID    `json:"id"`
	Location LocationID `json:"location"`
	// Products that are counted; all if empty.
	Products []ProductID `json:"products,omitempty"`
	// Complete: of lots that nobody names there were none. Otherwise nothing
	// is said of them.
	Complete bool       `json:"complete"`
	Shift    *Shift     `json:"shift,omitempty"`
	At       time.Time  `json:"at"`
	By       string     `json:"by"`
	State    SheetState `json:"state"`
	Found    []Found    `json:"found"`
	// Again are the lots that were asked for again.
	Again []Lot `json:"again,omitempty"`
	// Count is the entry of the count that the sheet became.
	Count uint64 `json:"count,omitempty"`
}

// Found is what one person found of a lot at a time.
type Found struct {
	Entry   uint64    `json:"entry"`
	Product ProductID `json:"product"`
	Lot     string    `json:"lot,omitempty"`
	Expires Date      `json:"expires,omitempty"`
	Pieces  int64     `json:"pieces"`
	By      string    `json:"by"`
	At      time.Time `json:"at"`
	// Recount: it was asked for again, and takes the place of what was found
	// before.
	Recount bool `json:"recount,omitempty"`
}

func (f *Found) lot() Lot { return Lot{f.Product, f.Lot} }

func sheetKey(id SheetID) []byte { return rowcode.AppendText(nil, string(id)) }

func (s *Sheet) openKey() []byte { return rowcode.AppendText(nil, string(s.Location), string(s.ID)) }

func (s *Sheet) save(w Writer) error {
	doc, err := json.Marshal(s)
	if err != nil {
		return err
	}
	if s.State == SheetDone || s.State == SheetDropped {
		err = w.Delete(ixSheetOpen, s.openKey())
	} else {
		err = w.Put(ixSheetOpen, s.openKey(), nil)
	}
	if err != nil {
		return err
	}
	return w.Put(ixSheet, sheetKey(s.ID), doc)
}

// SheetByID returns a count sheet, or a Refusal that is ErrNotFound.
func SheetByID(r Reader, id SheetID) (*Sheet, error) {
	row, err := r.Get(ixSheet, sheetKey(id))
	if err != nil {
		return nil, err
	}
	if row == nil {
		return nil, NotFound("sheet", string(id), "Open one first, or choose one from the list.")
	}
	s := new(Sheet)
	if err := json.Unmarshal(row, s); err != nil {
		return nil, fmt.Errorf("count sheet %s: %w", id, err)
	}
	return s, s.catalogue(r)
}

// catalogue puts what is on the sheet under the ids that its products have in
// the catalogue by now.
func (s *Sheet) catalogue(r Reader) (err error) {
	for i := range s.Products {
		if s.Products[i], err = Catalogued(r, s.Products[i]); err != nil {
			return err
		}
	}
	for i := range s.Found {
		if s.Found[i].Product, err = Catalogued(r, s.Found[i].Product); err != nil {
			return err
		}
	}
	for i := range s.Again {
		if s.Again[i].Product, err = Catalogued(r, s.Again[i].Product); err != nil {
			return err
		}
	}
	return nil
}

// OpenSheets returns the count sheets that are not finished, of one location or
// of all (empty).
func OpenSheets(r Reader, loc LocationID) (list []*Sheet, err error) {
	var prefix []byte
	if loc != "" {
		prefix = rowcode.AppendText(nil, string(loc))
	}
	err = r.Scan(ixSheetOpen, prefix, nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		id := SheetID(k.Text())
		if err := k.Err(); err != nil {
			return err
		}
		s, err := SheetByID(r, id)
		list = append(list, s)
		return err
	})
	return list, err
}

// covers reports whether the sheet counts a product.
func (s *Sheet) covers(p ProductID) bool {
	return len(s.Products) == 0 || slices.Contains(s.Products, p)
}

// SheetOpened opens a count sheet.
type SheetOpened struct {
	Sheet    SheetID     `json:"sheet"`
	Location LocationID  `json:"location"`
	Products []ProductID `json:"products,omitempty"`
	Complete bool        `json:"complete,omitempty"`
	Shift    *Shift      `json:"shift,omitempty"`
}

// Kind implements Event.
func (*SheetOpened) Kind() string { return "count.opened" }

// Project implements Event.
func (s *SheetOpened) Project(w Writer, e journal.Entry) error {
	return (&Sheet{
		ID: s.Sheet, Location: s.Location, Products: s.Products, Complete: s.Complete, Shift: s.Shift,
		At: e.Happened, By: e.Actor, State: SheetCounting, Found: []Found{},
	}).save(w)
}

// SheetLines adds what a person found.
type SheetLines struct {
	Sheet   SheetID     `json:"sheet"`
	Lines   []SheetLine `json:"lines"`
	Recount bool        `json:"recount,omitempty"`
}

// A SheetLine is what was found of a lot.
type SheetLine struct {
	Product ProductID `json:"product"`
	Lot     string    `json:"lot,omitempty"`
	Expires Date      `json:"expires,omitempty"`
	Pieces  int64     `json:"pieces"`
}

// Kind implements Event.
func (*SheetLines) Kind() string { return "count.lines" }

// Project implements Event.
func (l *SheetLines) Project(w Writer, e journal.Entry) error {
	s, err := SheetByID(w, l.Sheet)
	if err != nil {
		return err
	}
	for _, x := range l.Lines {
		s.Found = append(s.Found, Found{e.Seq, x.Product, x.Lot, x.Expires, x.Pieces, e.Actor, e.Happened, l.Recount})
	}
	if l.Recount && s.State == SheetCauses {
		s.State = SheetRecount // counted once more: compared anew
	}
	return s.save(w)
}

// Void implements Voider: lines that were wrong. A finished sheet stays as it
// is; its count is struck out by itself.
func (l *SheetLines) Void(w Writer, e, _ journal.Entry) error {
	s, err := SheetByID(w, l.Sheet)
	if err != nil {
		return err
	}
	s.Found = slices.DeleteFunc(s.Found, func(f Found) bool { return f.Entry == e.Seq })
	return s.save(w)
}

// SheetCompared says what came of comparing a sheet with the book before it
// became a count: which lots are asked for again, or that the differences stand
// and need causes. It has no figures.
type SheetCompared struct {
	Sheet SheetID    `json:"sheet"`
	State SheetState `json:"state"`
	Again []Lot      `json:"again"`
}

// Kind implements Event.
func (*SheetCompared) Kind() string { return "count.compared" }

// Project implements Event.
func (c *SheetCompared) Project(w Writer, _ journal.Entry) error {
	s, err := SheetByID(w, c.Sheet)
	if err != nil {
		return err
	}
	s.State = c.State
	for _, l := range c.Again {
		if !slices.Contains(s.Again, l) {
			s.Again = append(s.Again, l)
		}
	}
	return s.save(w)
}

// SheetGivenUp gives a sheet up: nothing of it is posted.
type SheetGivenUp struct {
	Sheet  SheetID `json:"sheet"`
	Reason string  `json:"reason"`
}

// Kind implements Event.
func (*SheetGivenUp) Kind() string { return "count.dropped" }

// Project implements Event.
func (d *SheetGivenUp) Project(w Writer, _ journal.Entry) error {
	s, err := SheetByID(w, d.Sheet)
	if err != nil {
		return err
	}
	s.State = SheetDropped
	return s.save(w)
}
