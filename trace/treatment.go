package trace

import (
	"time"

	"lotbook/inventory"
)

// A TreatmentID names a treatment: "T" and the number of the entry that opened
// it.
type TreatmentID string

// A How says how a use is known.
type How string

// The ways of knowing.
const (
	Scanned How = "scanned" // by a scanner that types
	Photo   How = "photo"   // read from a picture
	Typed   How = "typed"   // by a person, from the pack
	Assumed How = "assumed" // from the open box, not from the pack itself
)

// A Treatment is one patient, one machine, one station, one start, and what
// was used.
type Treatment struct {
	ID       TreatmentID          `json:"id"`
	Patient  PatientID            `json:"patient"`
	Machine  MachineID            `json:"machine"`
	Station  StationID            `json:"station"`
	Location inventory.LocationID `json:"location"`
	Start    time.Time            `json:"start"`
	// Planned is the planned length in minutes.
	Planned int64     `json:"planned_minutes"`
	Opened  uint64    `json:"opened_entry"`
	By      string    `json:"opened_by"`
	Closed  bool      `json:"closed"`
	End     time.Time `json:"end,omitzero"`
	// Minutes is the real length of a closed treatment.
	Minutes int64 `json:"minutes,omitempty"`
	// NotDone is set when it was closed as one that did not take place.
	NotDone bool `json:"not_done,omitempty"`
	// Struck is the correction that struck the treatment out.
	Struck uint64 `json:"struck,omitempty"`

	Required []Required `json:"required"`
	Uses     []Use      `json:"uses"`
	Absences []Absence  `json:"absences,omitempty"`
	Stopped  []Stopped  `json:"stopped,omitempty"`
}

// Required is what a treatment must have recorded by lot.
type Required struct {
	Category inventory.Category `json:"category"`
	// Product is the one prescribed, or else the unit's default; Prescribed
	// tells which.
	Product    inventory.ProductID `json:"product,omitempty"`
	Prescribed bool                `json:"prescribed,omitempty"`
	// Pieces is how many; 0 for something shared, of which one record with
	// a lot is enough.
	Pieces int64 `json:"pieces"`
}

// A Use is a lot that a treatment used.
type Use struct {
	Entry    uint64               `json:"entry"`
	Category inventory.Category   `json:"category"`
	Product  inventory.ProductID  `json:"product"`
	Lot      string               `json:"lot"`
	Serial   string               `json:"serial,omitempty"`
	Expires  inventory.Date       `json:"expires,omitempty"`
	Quantity int64                `json:"quantity"`
	Location inventory.LocationID `json:"location"`
	How      How                  `json:"how"`
	By       string               `json:"by"`
	From     time.Time            `json:"from"`
	// Until is when it was replaced; zero while, or if, it stayed to the end.
	Until time.Time `json:"until,omitzero"`
	// Replaces is the entry of the use that this one took over from, and
	// Cause says why.
	Replaces uint64 `json:"replaces,omitempty"`
	Cause    string `json:"cause,omitempty"`
	// Reason is what the nurse said to a finding at level Stop.
	Reason   string   `json:"reason,omitempty"`
	Findings []string `json:"findings,omitempty"` // codes
	Struck   uint64   `json:"struck,omitempty"`
	// Also is what a kit counts as beside its category, by its components.
	Also []Part `json:"also,omitempty"`
	// Container is the opened container that it was drawn from.
	Container ContainerID `json:"container,omitempty"`
}

// A Part is what a kit holds of a category.
type Part struct {
	Category inventory.Category `json:"category"`
	Pieces   int64              `json:"pieces"`
}

// Counts returns how many pieces of a category a use stands for.
func (u *Use) Counts(c inventory.Category) int64 {
	for _, p := range u.Also {
		if p.Category == c {
			return p.Pieces
		}
	}
	if u.Category == c {
		return max(1, u.Quantity)
	}
	return 0
}

// An Absence says that something required is not recorded by lot, and why.
type Absence struct {
	Entry    uint64             `json:"entry"`
	Category inventory.Category `json:"category"`
	// Used tells that the thing was used, only not recorded; otherwise the
	// treatment did without it.
	Used     bool      `json:"used"`
	Cause    string    `json:"cause"`
	Replaces uint64    `json:"replaces,omitempty"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
}

// Stopped is a scan that met a finding at level Stop and waits for an answer.
type Stopped struct {
	Entry    uint64              `json:"entry"`
	Category inventory.Category  `json:"category"`
	Product  inventory.ProductID `json:"product"`
	Lot      string              `json:"lot"`
	Findings []inventory.Finding `json:"findings"`
	By       string              `json:"by"`
	At       time.Time           `json:"at"`
}

// Missing is what a treatment still lacks.
type Missing struct {
	Category inventory.Category  `json:"category"`
	Product  inventory.ProductID `json:"product,omitempty"`
	// Pieces is how many are not recorded by lot, at least 1.
	Pieces int64 `json:"pieces"`
	// Cause is what was said about it, empty if nothing was.
	Cause string `json:"cause,omitempty"`
	// Known is the product of a use that was recorded without a lot.
	Known inventory.ProductID `json:"known,omitempty"`
}

// use returns the use that an entry recorded, nil if there is none.
func (t *Treatment) use(entry uint64) *Use {
	for i := range t.Uses {
		if t.Uses[i].Entry == entry {
			return &t.Uses[i]
		}
	}
	return nil
}

// required returns what is required of a category.
func (t *Treatment) required(c inventory.Category) (Required, bool) {
	for _, q := range t.Required {
		if q.Category == c {
			return q, true
		}
	}
	return Required{}, false
}

// recorded returns how many pieces of a category are recorded by lot toward
// what is required. A use that took over from another does not count: what it
// took over from does, or is missing if nobody recorded it.
func (t *Treatment) recorded(c inventory.Category) int64 {
	var n int64
	for i := range t.Uses {
		if u := &t.Uses[i]; u.Struck == 0 && u.Lot != "" && !t.tookOver(u) {
			n += u.Counts(c)
		}
	}
	return n
}

// tookOver reports whether a use took over from another, on record or not: one
// with a cause of its own that names no use replaced something nobody recorded.
// If what it replaced was struck out, it stands in its place.
func (t *Treatment) tookOver(u *Use) bool {
	if u.Replaces == 0 {
		return u.Cause != ""
	}
	old := t.use(u.Replaces)
	return old != nil && old.Struck == 0
}

// Missing returns what is required and not recorded by lot. A category that
// the treatment did without is not missing. Something of which a person said
// that it was used and not recorded is, whatever else is recorded: if its lot
// is found after all, that saying is struck out.
func (t *Treatment) Missing() []Missing {
	var list []Missing
	if t.NotDone {
		return nil
	}
	for _, q := range t.Required {
		need := max(1, q.Pieces)
		m := Missing{Category: q.Category, Product: q.Product}
		without, said := false, int64(0)
		for _, a := range t.Absences {
			if a.Category != q.Category {
				continue
			}
			m.Cause = a.Cause
			switch {
			case !a.Used:
				without = true
			case a.Replaces != 0:
				need++
			default:
				said++
			}
		}
		if m.Pieces = max(need-t.recorded(q.Category), said); m.Pieces > 0 && (!without || said > 0) {
			for i := range t.Uses {
				if u := &t.Uses[i]; u.Counts(q.Category) > 0 && u.Struck == 0 && u.Lot == "" {
					m.Known = u.Product
				}
			}
			list = append(list, m)
		}
	}
	return list
}
