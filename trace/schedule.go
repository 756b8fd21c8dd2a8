package trace

import (
	"bytes"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A Slot is a planned treatment.
type Slot struct {
	Shift   inventory.Shift `json:"shift"`
	Station StationID       `json:"station"`
	Patient PatientID       `json:"patient"`
}

// Scheduled plans treatments. A slot that was planned before gets the new
// patient; an empty patient clears it.
type Scheduled struct {
	Slots []Slot `json:"slots"`
}

// Kind implements inventory.Event.
func (*Scheduled) Kind() string { return "schedule.set" }

func slotPrefix(s inventory.Shift) []byte {
	return rowcode.AppendNumber(rowcode.AppendText(nil, string(s.Date)), uint64(s.Number))
}

// Project implements inventory.Event.
func (s *Scheduled) Project(w inventory.Writer, _ journal.Entry) error {
	for _, slot := range s.Slots {
		key := rowcode.AppendText(slotPrefix(slot.Shift), string(slot.Station))
		var err error
		if slot.Patient == "" {
			err = w.Delete(ixSlot, key)
		} else {
			err = w.Put(ixSlot, key, []byte(slot.Patient))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Slots returns the planned treatments of a shift by station.
func Slots(r inventory.Reader, s inventory.Shift) ([]Slot, error) {
	var list []Slot
	err := r.Scan(ixSlot, slotPrefix(s), nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		k.Number()
		list = append(list, Slot{s, StationID(k.Text()), PatientID(row)})
		return k.Err()
	})
	return list, err
}

// SlotPage calls fn for at most limit planned treatments by date, shift and
// station, from a place on, nil for the start, and returns the place where to go
// on, nil at the end.
func SlotPage(r inventory.Reader, from []byte, limit int, fn func(Slot) error) (next []byte, err error) {
	n := 0
	err = r.Scan(ixSlot, nil, from, func(key, row []byte) error {
		if n == limit {
			next = bytes.Clone(key)
			return inventory.ErrStop
		}
		n++
		k := rowcode.ReadKey(key)
		s := Slot{Shift: inventory.Shift{Date: inventory.Date(k.Text()), Number: int(k.Number())}, Station: StationID(k.Text()), Patient: PatientID(row)}
		if err := k.Err(); err != nil {
			return err
		}
		return fn(s)
	})
	return next, err
}
