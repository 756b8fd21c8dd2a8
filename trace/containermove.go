package trace

import (
	"cmp"
	"context"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A ContainerMove is a place to which an opened container was carried.
type ContainerMove struct {
	Place inventory.LocationID `json:"location"`
	At    time.Time            `json:"at"`
	Entry uint64               `json:"entry"`
}

// ContainerMoved says that an opened container stands at another place from now
// on. Its piece was used when it was opened, so no balance changes.
type ContainerMoved struct {
	Container ContainerID          `json:"container"`
	Place     inventory.LocationID `json:"location"`
	Note      string               `json:"note,omitempty"`
}

// Kind implements inventory.Event.
func (*ContainerMoved) Kind() string { return "container.moved" }

// Project implements inventory.Event.
func (v *ContainerMoved) Project(w inventory.Writer, e journal.Entry) error {
	row, err := ContainerByID(w, v.Container)
	if err != nil {
		return err
	}
	row.Moves = append(row.Moves, ContainerMove{v.Place, e.Happened, e.Seq})
	if row.Struck == 0 {
		if err := w.Put(ixContainerAt, containerAtKey(v.Place, e), []byte(v.Container)); err != nil {
			return err
		}
	}
	return row.moved(w)
}

// Void implements inventory.Voider.
func (v *ContainerMoved) Void(w inventory.Writer, e, _ journal.Entry) error {
	row, err := ContainerByID(w, v.Container)
	if err != nil {
		return err
	}
	row.Moves = slices.DeleteFunc(row.Moves, func(m ContainerMove) bool { return m.Entry == e.Seq })
	if err := w.Delete(ixContainerAt, containerAtKey(v.Place, e)); err != nil {
		return err
	}
	return row.moved(w)
}

// moved puts the moves in the order in which they happened, and saves the row.
func (c *Container) moved(w inventory.Writer) error {
	slices.SortFunc(c.Moves, func(a, b ContainerMove) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Entry, b.Entry)) })
	c.Place = c.OpenedAt
	if n := len(c.Moves); n > 0 {
		c.Place = c.Moves[n-1].Place
	}
	return putDoc(w, ixContainer, string(c.ID), c)
}

// dropMoves takes the container off the lists of the places that it was moved to.
func (c *Container) dropMoves(w inventory.Writer) error {
	for _, m := range c.Moves {
		if err := w.Delete(ixContainerAt, containerAtKey(m.Place, journal.Entry{Happened: m.At, Seq: m.Entry})); err != nil {
			return err
		}
	}
	return nil
}

// A stay is a time at one place; until is the end of time for one that has not
// ended. The entries say how it began and ended.
type stay struct {
	place       inventory.LocationID
	from, until time.Time
	entry, by   uint64
}

// stays are the places where the container stood open, in order. Where it came to
// an end before a move that was written down, it came to an end there.
func (c *Container) stays() []stay {
	list := []stay{{place: c.OpenedAt, from: c.Opened, entry: c.Entry}}
	for _, m := range c.Moves {
		last := &list[len(list)-1]
		last.until, last.by = m.At, m.Entry
		list = append(list, stay{place: m.Place, from: m.At, entry: m.Entry})
	}
	last := &list[len(list)-1]
	if last.until, last.by = c.Closed, c.ClosedBy; c.Closed.IsZero() {
		last.until, last.by = rowcode.MaxTime, last.entry
	}
	if last.until.Before(last.from) {
		last.until = last.from
	}
	return list
}

// openAt reports whether the container stood open at a place at any time in
// [from, to].
func (c *Container) openAt(place inventory.LocationID, from, to time.Time) bool {
	return c.open(from, to) && slices.ContainsFunc(c.stays(), func(s stay) bool {
		return s.place == place && !s.from.After(to) && !s.until.Before(from)
	})
}

// placeAt is where the container stood at a time.
func (c *Container) placeAt(at time.Time) inventory.LocationID {
	place := c.OpenedAt
	for _, m := range c.Moves {
		if !m.At.After(at) {
			place = m.Place
		}
	}
	return place
}

// MoveContainer records that an opened container was carried to another place.
func (b *Book) MoveContainer(ctx context.Context, call inventory.Call, v ContainerMoved) (inventory.Receipt, error) {
	return b.Record(ctx, call, v, func(r inventory.Reader) ([]inventory.Event, error) {
		c, err := standingContainer(r, v.Container)
		if err != nil {
			return nil, err
		}
		if _, err := inventory.LocationByID(r, v.Place); err != nil {
			return nil, err
		}
		at := b.when(call)
		switch {
		case at.Before(c.Opened):
			return nil, inventory.Invalid("at", "Give the time when it was carried there.", "container %s was opened at %s and can't be carried at %s", c.ID, c.Opened.Format(time.RFC3339), at.Format(time.RFC3339))
		case !c.Closed.IsZero() && at.After(c.Closed):
			return nil, inventory.Conflict("container_closed", "Give the time when it was carried, or strike out the entry that says so.", "container %s was %s at %s", c.ID, c.How, c.Closed.Format(time.RFC3339))
		case c.placeAt(at) == v.Place:
			return nil, inventory.Invalid("location", "Name the place to which it was carried.", "container %s stands at %s by the book", c.ID, v.Place)
		}
		return []inventory.Event{&v}, nil
	})
}
