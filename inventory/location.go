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

// The kinds of locations. Packs in quarantine count as held.
const (
	SupplyRoom PlaceKind = "supply_room"
	Cart       PlaceKind = "cart"
	StationBay PlaceKind = "station"
	Quarantine PlaceKind = "quarantine"
)

// A Location is a place in the unit where packs lie.
type Location struct {
	ID   LocationID `json:"id"`
	Name string     `json:"name"`
	Type PlaceKind  `json:"kind"`
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
	case SupplyRoom, Cart, StationBay, Quarantine:
		return nil
	}
	return Invalid("kind", "Use supply_room, cart, station or quarantine.", "location %s: there is no kind %q", l.ID, l.Type)
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
