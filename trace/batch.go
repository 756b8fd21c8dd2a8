package trace

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A BatchID is the number of a batch, which is the lot number of what was made.
type BatchID string

// Poured says what a tank held when a batch was poured into it. Left out, it is
// not known, and the older batches may still have been in it.
type Poured string

// What a tank held.
const (
	IntoEmpty Poured = "empty"
	OntoRest  Poured = "rest"
)

// A Batch is something made in the unit from several lots. It is a lot of the
// product that it makes, with its own number.
type Batch struct {
	ID      BatchID             `json:"batch"`
	Product inventory.ProductID `json:"product"`
	// Tank is where it was poured; empty for one that is filled into jugs,
	// which a nurse records as packs of the batch.
	Tank   TankID `json:"tank,omitempty"`
	Poured Poured `json:"poured_into,omitempty"`
	// Volume made, in millilitres.
	Volume    int64  `json:"volume_ml,omitempty"`
	MixedBy   string `json:"mixed_by"`
	CheckedBy string `json:"checked_by,omitempty"`
	Note      string `json:"note,omitempty"`
	// Made is when it was ready, UseBy until when it may be used, zero if
	// nobody said.
	Made  time.Time `json:"made"`
	UseBy time.Time `json:"use_by,omitzero"`
	// Ended is when the rest of a batch without a tank was used up or thrown
	// away, zero while there may be some.
	Ended time.Time `json:"ended,omitzero"`
	// EndedBy is the entry that says so.
	EndedBy uint64 `json:"ended_by_entry,omitempty"`
	Entry   uint64 `json:"entry"`
	By      string `json:"by"`
	// Struck is the correction that struck it out.
	Struck uint64 `json:"struck,omitempty"`
}

// Lot is the batch as a lot of its product.
func (b *Batch) Lot() inventory.Lot {
	return inventory.Lot{Product: b.Product, Number: string(b.ID)}
}

// BatchMade says that a batch was made, at the entry's time. What went into it
// are entries of their own.
type BatchMade struct {
	Batch     BatchID             `json:"batch"`
	Product   inventory.ProductID `json:"product"`
	Tank      TankID              `json:"tank,omitempty"`
	Poured    Poured              `json:"poured_into,omitempty"`
	Volume    int64               `json:"volume_ml,omitempty"`
	MixedBy   string              `json:"mixed_by"`
	CheckedBy string              `json:"checked_by,omitempty"`
	UseBy     time.Time           `json:"use_by,omitzero"`
	Note      string              `json:"note,omitempty"`
	Findings  []inventory.Finding `json:"findings,omitempty"`
}

// Kind implements inventory.Event.
func (*BatchMade) Kind() string { return "batch.made" }

func (v *BatchMade) row(e journal.Entry) *Batch {
	return &Batch{
		ID: v.Batch, Product: v.Product, Tank: v.Tank, Poured: v.Poured, Volume: v.Volume, MixedBy: v.MixedBy, CheckedBy: v.CheckedBy,
		Note: v.Note, Made: e.Happened, UseBy: v.UseBy, Entry: e.Seq, By: e.Actor,
	}
}

// Project implements inventory.Event.
func (v *BatchMade) Project(w inventory.Writer, e journal.Entry) error {
	row := v.row(e)
	if err := inventory.NoteLot(w, e, row.Lot(), "", ""); err != nil {
		return err
	}
	if v.Tank != "" {
		if err := putTankEvent(w, v.Tank, e, tankEvent{batch: v.Batch, poured: v.Poured}); err != nil {
			return err
		}
	}
	if err := w.Put(ixBatchMade, batchMadeKey(e), []byte(v.Batch)); err != nil {
		return err
	}
	return putDoc(w, ixBatch, string(v.Batch), row)
}

func batchMadeKey(e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(nil, e.Happened), e.Seq)
}

// Void implements inventory.Voider: a batch that never was. What went into it
// must have been struck out before.
func (v *BatchMade) Void(w inventory.Writer, e, c journal.Entry) error {
	b, err := BatchByID(w, v.Batch)
	if err != nil {
		return err
	}
	in, err := inventory.ContentsOf(w, b.Lot())
	if err != nil {
		return err
	}
	if len(in) > 0 {
		return fmt.Errorf("batch %s has inputs that stand, strike them out first: %w", b.ID, inventory.ErrCannotCorrect)
	}
	if v.Tank != "" {
		if err := w.Delete(ixTankEvent, tankEventKey(v.Tank, e)); err != nil {
			return err
		}
	}
	if err := w.Delete(ixBatchMade, batchMadeKey(e)); err != nil {
		return err
	}
	b.Struck = c.Seq
	return putDoc(w, ixBatch, string(b.ID), b)
}

// BatchByID returns a batch, also one that was struck out, or a Refusal that is
// inventory.ErrNotFound.
func BatchByID(r inventory.Reader, id BatchID) (*Batch, error) {
	b := new(Batch)
	return b, getDoc(r, ixBatch, "batch", string(id), b)
}

// BatchByLot returns the batch that a lot is, nil if it is none or was struck
// out.
func BatchByLot(r inventory.Reader, l inventory.Lot) (*Batch, error) {
	b, err := BatchByID(r, BatchID(l.Number))
	switch {
	case errors.Is(err, inventory.ErrNotFound):
		return nil, nil
	case err != nil:
		return nil, err
	case b.Product != l.Product || b.Struck != 0:
		return nil, nil
	}
	return b, nil
}

// ScanBatches calls fn for the batches that stand and were made before an
// instant, the latest first.
func ScanBatches(r inventory.Reader, before time.Time, fn func(*Batch) error) error {
	return r.ScanBack(ixBatchMade, nil, rowcode.AppendTime(nil, before), func(_, id []byte) error {
		b, err := BatchByID(r, BatchID(id))
		if err != nil {
			return err
		}
		return fn(b)
	})
}

// BatchInput says that pieces of a lot went into a batch. They are taken from
// a location.
type BatchInput struct {
	Batch   BatchID              `json:"batch"`
	Product inventory.ProductID  `json:"batch_product"`
	Stock   inventory.Stock      `json:"stock"`
	From    inventory.LocationID `json:"from"`
	Name    string               `json:"product_name,omitempty"`
}

// Kind implements inventory.Event.
func (*BatchInput) Kind() string { return "batch.input" }

func (v *BatchInput) batch() inventory.Lot {
	return inventory.Lot{Product: v.Product, Number: string(v.Batch)}
}

func (v *BatchInput) lot() inventory.Lot {
	return inventory.Lot{Product: v.Stock.Product, Number: v.Stock.Lot}
}

func (v *BatchInput) movement() inventory.Movement {
	c := rowcode.NewEnc(coverBatch, 32)
	c.Text(string(v.Batch))
	return inventory.Movement{
		Class: inventory.ClassUsed, Lot: v.lot(), From: v.From, Quantity: v.Stock.Quantity, Cause: "into batch " + string(v.Batch), Cover: c.Bytes(),
	}
}

// Project implements inventory.Event.
func (v *BatchInput) Project(w inventory.Writer, e journal.Entry) error {
	if err := inventory.NoteLot(w, e, v.lot(), v.Stock.Expires, v.Stock.Made); err != nil {
		return err
	}
	if err := inventory.NoteContent(w, e, v.batch(), inventory.Content{Lot: v.lot(), Pieces: v.Stock.Quantity}); err != nil {
		return err
	}
	return inventory.Post(w, e, v.movement())
}

// Void implements inventory.Voider.
func (v *BatchInput) Void(w inventory.Writer, e, c journal.Entry) error {
	if err := inventory.DropContent(w, e, v.batch(), v.lot()); err != nil {
		return err
	}
	return inventory.Strike(w, e, c, v.movement())
}

// BatchReading is a check reading of a batch: recorded, never judged, since
// that is the unit's procedure's. What was not measured is left out.
type BatchReading struct {
	Batch BatchID `json:"batch"`
	// Conductivity in microsiemens per centimetre: 13900 is 13.9 mS/cm.
	Conductivity int64 `json:"conductivity_us_per_cm,omitempty"`
	// PH in hundredths: 720 is 7.20.
	PH int64 `json:"ph_hundredths,omitempty"`
	// Temperature in tenths of a degree Celsius.
	Temperature *int64 `json:"temperature_tenths_c,omitempty"`
	Note        string `json:"note,omitempty"`
}

// Kind implements inventory.Event.
func (*BatchReading) Kind() string { return "batch.reading" }

func readingKey(id BatchID, e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(rowcode.AppendText(nil, string(id)), e.Happened), e.Seq)
}

// A Reading is a check reading of a batch as its list shows it.
type Reading struct {
	BatchReading
	Entry uint64    `json:"entry"`
	At    time.Time `json:"at"`
	By    string    `json:"by"`
}

// Project implements inventory.Event.
func (v *BatchReading) Project(w inventory.Writer, e journal.Entry) error {
	doc, err := json.Marshal(Reading{*v, e.Seq, e.Happened, e.Actor})
	if err != nil {
		return err
	}
	return w.Put(ixReading, readingKey(v.Batch, e), doc)
}

// Void implements inventory.Voider.
func (v *BatchReading) Void(w inventory.Writer, e, _ journal.Entry) error {
	return w.Delete(ixReading, readingKey(v.Batch, e))
}

// ReadingsOf returns a batch's check readings in the order in which they were
// taken.
func ReadingsOf(r inventory.Reader, id BatchID) (list []Reading, err error) {
	err = r.Scan(ixReading, rowcode.AppendText(nil, string(id)), nil, func(_, row []byte) error {
		var x Reading
		err := json.Unmarshal(row, &x)
		list = append(list, x)
		return err
	})
	return list, err
}

// BatchEnded says that what was left of a batch without a tank was used up or
// thrown away.
type BatchEnded struct {
	Batch BatchID `json:"batch"`
	Note  string  `json:"note,omitempty"`
}

// Kind implements inventory.Event.
func (*BatchEnded) Kind() string { return "batch.ended" }

// Project implements inventory.Event.
func (v *BatchEnded) Project(w inventory.Writer, e journal.Entry) error {
	return v.end(w, e.Happened, e.Seq)
}

// Void implements inventory.Voider.
func (v *BatchEnded) Void(w inventory.Writer, _, _ journal.Entry) error {
	return v.end(w, time.Time{}, 0)
}

func (v *BatchEnded) end(w inventory.Writer, at time.Time, by uint64) error {
	b, err := BatchByID(w, v.Batch)
	if err != nil {
		return err
	}
	b.Ended, b.EndedBy = at, by
	return putDoc(w, ixBatch, string(b.ID), b)
}
