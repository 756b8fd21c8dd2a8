package trace

import (
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
