package trace

import (
	"context"

	"lotbook/inventory"
)

// SetLocation records a location, new or renamed. A home store needs a patient
// of the unit.
func (b *Book) SetLocation(ctx context.Context, call inventory.Call, l inventory.Location) (inventory.Receipt, error) {
	return b.Record(ctx, call, l, func(r inventory.Reader) ([]inventory.Event, error) {
		if err := inventory.CheckLocation(r, &l); err != nil {
			return nil, err
		}
		if l.Type == inventory.HomeStore {
			if _, err := PatientByID(r, PatientID(l.Patient)); err != nil {
				return nil, err
			}
		}
		return []inventory.Event{&inventory.LocationSet{Location: l}}, nil
	})
}

// places are the unit's locations as an answer about a lot needs them.
type places map[inventory.LocationID]inventory.Location

func placesOf(r inventory.Reader) (places, error) {
	list, err := inventory.Locations(r)
	p := places{}
	for _, l := range list {
		p[l.ID] = l
	}
	return p, err
}

func (p places) kind(id inventory.LocationID) inventory.PlaceKind { return p[id].Type }

// away are those out of the house.
func (p places) away() map[inventory.LocationID]bool {
	away := map[inventory.LocationID]bool{}
	for id, l := range p {
		if l.Type.Away() {
			away[id] = true
		}
	}
	return away
}
