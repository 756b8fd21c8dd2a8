package trace

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"lotbook/inventory"
)

// A HomeExposure is a home patient whose store has or had pieces of a lot. What
// is used at home is nobody's treatment here, so it stands beside the
// exposures.
type HomeExposure struct {
	Grade    Grade                `json:"grade"`
	Patient  PatientID            `json:"patient"`
	Name     string               `json:"patient_name,omitempty"`
	Location inventory.LocationID `json:"location"`
	// Supplied pieces came to the store, Returned left it unused; Used are
	// recorded as used there.
	Supplied int64 `json:"supplied"`
	Returned int64 `json:"returned"`
	Used     int64 `json:"used"`
	// First and Last are when the first and the last of them came.
	First time.Time `json:"first"`
	Last  time.Time `json:"last"`
	Why   string    `json:"why"`
	// Via is the kit or the batch that the lot came in, nil for its own packs.
	Via *Holder `json:"via,omitempty"`
}

// homeStores adds up what went to home patients' stores.
type homeStores map[inventory.LocationID]*HomeExposure

// add takes a movement that stands.
func (h homeStores) add(p places, m *inventory.Movement) {
	at := func(id inventory.LocationID) *HomeExposure {
		l := p[id]
		if l.Type != inventory.HomeStore {
			return nil
		}
		if h[id] == nil {
			h[id] = &HomeExposure{Patient: PatientID(l.Patient), Location: id, First: m.Happened}
		}
		return h[id]
	}
	if x := at(m.To); x != nil {
		if m.Class != inventory.ClassCounted {
			x.Supplied += m.Quantity
		}
		x.Last = m.Happened
	}
	if x := at(m.From); x != nil {
		if m.Class == inventory.ClassUsed {
			x.Used += m.Quantity
		} else {
			x.Returned += m.Quantity
		}
	}
}

// list grades them: confirmed where a use is on record, left out where as many
// came back, or were thrown away, as went there.
func (h homeStores) list(r inventory.Reader, c *carrier) (list []HomeExposure, unused int, err error) {
	for _, id := range slices.SortedFunc(maps.Keys(h), cmp.Compare[inventory.LocationID]) {
		x := h[id]
		switch {
		case x.Used > 0:
			x.Grade, x.Why = Confirmed, "recorded as used at home"
		case x.Supplied == x.Returned && x.Supplied > 0:
			unused++
			continue
		default:
			x.Grade, x.Why = Probable, fmt.Sprintf("%d pieces went to the patient's home, and how many were used there is not recorded", x.Supplied)
		}
		p, err := PatientByID(r, x.Patient)
		if err != nil {
			return nil, 0, err
		}
		x.Name = p.Name
		x.Grade, x.Why, x.Via = c.limit(x.Grade), c.through(x.Why), c.holder
		list = append(list, *x)
	}
	return list, unused, nil
}
