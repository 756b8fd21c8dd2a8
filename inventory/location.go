package inventory

import (
	"strings"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A LocationID names a location: the unit's own short code.
type LocationID string

// A PlaceKind says what a location is.
type PlaceKind string

// The kinds of locations. Packs in quarantine count as held. What lies with a
// home patient is still this unit's and on its book; another unit keeps a book
// of its own, and its balance here is what it was lent less what it lent.
const (
	SupplyRoom PlaceKind = "supply_room"
	Cart       PlaceKind = "cart"
	StationBay PlaceKind = "station"
	Quarantine PlaceKind = "quarantine"
	OtherUnit  PlaceKind = "unit"
	HomeStore  PlaceKind = "home"
)

// Away reports whether packs there are out of the house: none of them can get
// into a treatment here before somebody brings them in again.
func (k PlaceKind) Away() bool { return k == OtherUnit || k == HomeStore }

// A Location is a place where packs lie: in the unit, with a home patient, or
// in another unit.
type Location struct {
	ID   LocationID `json:"id"`
	Name string     `json:"name"`
	Type PlaceKind  `json:"kind"`
	// Patient is the home patient whose store it is, by the unit's number.
	Patient string `json:"patient,omitempty"`
	// Since is when it was first added; an entry says that itself.
	Since time.Time `json:"-"`
}

// LocationSet adds a location, or renames it.
type LocationSet struct {
	Location
}

// Kind implements Event.
func (*LocationSet) Kind() string { return "location.set" }

func (l *LocationSet) check() error {
	switch {
	case strings.TrimSpace(string(l.ID)) == "" || !rowcode.Valid(string(l.ID)) || len(l.ID) > 64:
		return Invalid("id", "Give a short code, at most 64 bytes.", "a location needs an id")
	case strings.TrimSpace(l.Name) == "":
		return Invalid("name", "Give the name that people use.", "location %s needs a name", l.ID)
	}
	switch l.Type {
	case SupplyRoom, Cart, StationBay, Quarantine, OtherUnit:
		if l.Patient != "" {
			return Invalid("patient", "Leave the patient out, or say that it is a home patient's store: kind home.", "location %s is of kind %s and can't be a patient's", l.ID, l.Type)
		}
		return nil
	case HomeStore:
		if l.Patient == "" || !rowcode.Valid(l.Patient) {
			return Invalid("patient", "Name the home patient whose store it is.", "location %s is of kind home and has no patient", l.ID)
		}
		return nil
	}
	return Invalid("kind", "Use supply_room, cart, station, quarantine, unit or home.", "location %s: there is no kind %q", l.ID, l.Type)
}

// Project implements Event.
func (l *LocationSet) Project(w Writer, e journal.Entry) error {
	key := rowcode.AppendText(nil, string(l.ID))
	since := e.Happened
	if row, err := w.Get(ixLocation, key); err != nil {
		return err
	} else if row != nil {
		old, err := decodeLocation(key, row)
		if err != nil {
			return err
		}
		since = old.Since
	}
	v := rowcode.NewEnc(1, 64)
	v.Time(since)
	v.Text(l.Name)
	v.Text(string(l.Type))
	v.Text(l.Patient)
	return w.Put(ixLocation, key, v.Bytes())
}

func decodeLocation(key, row []byte) (Location, error) {
	k := rowcode.ReadKey(key)
	l := Location{ID: LocationID(k.Text())}
	if err := k.Err(); err != nil {
		return l, err
	}
	d := rowcode.NewDec(1, row)
	l.Since = d.Time()
	l.Name = d.Text()
	l.Type = PlaceKind(d.Text())
	l.Patient = d.Text()
	return l, d.Err()
}

// LocationByID returns a location, or a Refusal that is ErrNotFound.
func LocationByID(r Reader, id LocationID) (Location, error) {
	key := rowcode.AppendText(nil, string(id))
	row, err := r.Get(ixLocation, key)
	if err != nil {
		return Location{}, err
	}
	if row == nil {
		return Location{}, NotFound("location", string(id), "Add it first, or choose one of the unit's locations.")
	}
	return decodeLocation(key, row)
}

// unitNamed returns the location that stands for another unit, by its id or its
// name; ok is false if there is none.
func unitNamed(r Reader, name string) (l Location, ok bool, err error) {
	all, err := Locations(r)
	for _, l := range all {
		if l.Type == OtherUnit && (string(l.ID) == name || strings.EqualFold(l.Name, name)) {
			return l, true, err
		}
	}
	return l, false, err
}

// inHouse says, in a Refusal, that a location is another unit, whose packs are
// not on this unit's book.
func inHouse(l Location) error {
	if l.Type != OtherUnit {
		return nil
	}
	return Conflict("other_unit", "Record what goes there or comes from there as a transfer, out or in.", "%s is another unit, and what it has is on its own book", l.Name)
}

// Locations returns all locations by id.
func Locations(r Reader) ([]Location, error) {
	var ls []Location
	err := r.Scan(ixLocation, nil, nil, func(key, row []byte) error {
		l, err := decodeLocation(key, row)
		ls = append(ls, l)
		return err
	})
	return ls, err
}
