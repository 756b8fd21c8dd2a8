package trace

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A ContainerID is the number on an opened container: a multi-dose vial, a can,
// a bottle that several patients share.
type ContainerID string

// A Container is one piece of a lot that was opened for several treatments. The
// piece was used when it was opened; what is drawn from it takes none.
type Container struct {
	ID       ContainerID          `json:"container"`
	Product  inventory.ProductID  `json:"product"`
	Name     string               `json:"product_name,omitempty"`
	Category inventory.Category   `json:"category,omitempty"`
	Lot      string               `json:"lot,omitempty"`
	Serial   string               `json:"serial,omitempty"`
	Expires  inventory.Date       `json:"expires,omitempty"`
	From     inventory.LocationID `json:"from"`
	// Place is where it stands open, OpenedAt where it did when it was opened,
	// before it was moved.
	Place    inventory.LocationID `json:"location"`
	OpenedAt inventory.LocationID `json:"opened_at_location"`
	Moves    []ContainerMove      `json:"moves,omitempty"`
	Opened   time.Time            `json:"opened"`
	By       string               `json:"by"`
	// Closed is when it was empty or thrown away, zero while it is open.
	Closed time.Time `json:"closed,omitzero"`
	How    string    `json:"closed_how,omitempty"`
	// ClosedBy is the entry that says so.
	ClosedBy uint64 `json:"closed_by_entry,omitempty"`
	Entry    uint64 `json:"entry"`
	Struck   uint64 `json:"struck,omitempty"`
}

// The ways in which a container ends.
const (
	ContainerEmpty     = "empty"
	ContainerDiscarded = "discarded"
)

func (c *Container) lot() inventory.Lot { return inventory.Lot{Product: c.Product, Number: c.Lot} }

// open reports whether the container was open at any time in [from, to].
func (c *Container) open(from, to time.Time) bool {
	return c.Struck == 0 && !c.Opened.After(to) && (c.Closed.IsZero() || !c.Closed.Before(from))
}

// ContainerOpened says that a piece was opened for several treatments.
type ContainerOpened struct {
	Container ContainerID          `json:"container"`
	Stock     inventory.Stock      `json:"stock"`
	Name      string               `json:"product_name,omitempty"`
	Category  inventory.Category   `json:"category,omitempty"`
	From      inventory.LocationID `json:"from"`
	Place     inventory.LocationID `json:"location"`
}

// Kind implements inventory.Event.
func (*ContainerOpened) Kind() string { return "container.opened" }

func (v *ContainerOpened) row(e journal.Entry) *Container {
	s := &v.Stock
	return &Container{
		ID: v.Container, Product: s.Product, Name: v.Name, Category: v.Category, Lot: s.Lot, Serial: s.Serial, Expires: s.Expires,
		From: v.From, Place: v.Place, OpenedAt: v.Place, Opened: e.Happened, By: e.Actor, Entry: e.Seq,
	}
}

func (v *ContainerOpened) movement() inventory.Movement {
	c := rowcode.NewEnc(coverContainer, 32)
	c.Text(string(v.Container))
	return inventory.Movement{
		Class: inventory.ClassUsed, Lot: inventory.Lot{Product: v.Stock.Product, Number: v.Stock.Lot}, From: v.From, Quantity: v.Stock.Quantity,
		Cause: "opened as container " + string(v.Container), Cover: c.Bytes(),
	}
}

func containerAtKey(place inventory.LocationID, e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(rowcode.AppendText(nil, string(place)), e.Happened), e.Seq)
}

// Project implements inventory.Event.
func (v *ContainerOpened) Project(w inventory.Writer, e journal.Entry) error {
	row := v.row(e)
	if err := inventory.NoteLot(w, e, row.lot(), v.Stock.Expires, v.Stock.Made); err != nil {
		return err
	}
	if err := w.Put(ixContainerAt, containerAtKey(v.Place, e), []byte(v.Container)); err != nil {
		return err
	}
	if err := putDoc(w, ixContainer, string(v.Container), row); err != nil {
		return err
	}
	return inventory.Post(w, e, v.movement())
}

// Void implements inventory.Voider. What was drawn from it stays recorded with
// its lot.
func (v *ContainerOpened) Void(w inventory.Writer, e, c journal.Entry) error {
	row, err := ContainerByID(w, v.Container)
	if err != nil {
		return err
	}
	row.Struck = c.Seq
	if err := errors.Join(w.Delete(ixContainerAt, containerAtKey(v.Place, e)), row.dropMoves(w)); err != nil {
		return err
	}
	if err := putDoc(w, ixContainer, string(v.Container), row); err != nil {
		return err
	}
	return inventory.Strike(w, e, c, v.movement())
}

// ContainerClosed says that an opened container was empty or thrown away.
type ContainerClosed struct {
	Container ContainerID `json:"container"`
	// How is "empty" or "discarded".
	How  string `json:"how"`
	Note string `json:"note,omitempty"`
}

// Kind implements inventory.Event.
func (*ContainerClosed) Kind() string { return "container.closed" }

// Project implements inventory.Event.
func (v *ContainerClosed) Project(w inventory.Writer, e journal.Entry) error {
	return v.close(w, e.Happened, v.How, e.Seq)
}

// Void implements inventory.Voider: it is open again.
func (v *ContainerClosed) Void(w inventory.Writer, _, _ journal.Entry) error {
	return v.close(w, time.Time{}, "", 0)
}

func (v *ContainerClosed) close(w inventory.Writer, at time.Time, how string, by uint64) error {
	row, err := ContainerByID(w, v.Container)
	if err != nil {
		return err
	}
	row.Closed, row.How, row.ClosedBy = at, how, by
	return putDoc(w, ixContainer, string(v.Container), row)
}

// ContainerByID returns a container, also one that was struck out, or a Refusal
// that is inventory.ErrNotFound.
func ContainerByID(r inventory.Reader, id ContainerID) (*Container, error) {
	c := new(Container)
	return c, getDoc(r, ixContainer, "container", string(id), c)
}

// ScanContainers calls fn for the containers that stand and were opened at a
// place, or moved there, before an instant, the latest first, each once.
func ScanContainers(r inventory.Reader, place inventory.LocationID, before time.Time, fn func(*Container) error) error {
	return scanContainers(r, place, before, func(_ time.Time, c *Container) error { return fn(c) })
}

// scanContainers also tells when each came to the place.
func scanContainers(r inventory.Reader, place inventory.LocationID, before time.Time, fn func(at time.Time, c *Container) error) error {
	prefix := rowcode.AppendText(nil, string(place))
	seen := map[ContainerID]bool{}
	return r.ScanBack(ixContainerAt, prefix, rowcode.AppendTime(prefix[:len(prefix):len(prefix)], before), func(key, id []byte) error {
		if seen[ContainerID(id)] {
			return nil
		}
		seen[ContainerID(id)] = true
		k := rowcode.ReadKey(key)
		k.Text()
		at := k.Time()
		k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		c, err := ContainerByID(r, ContainerID(id))
		if err != nil {
			return err
		}
		return fn(at, c)
	})
}

// openFor is how long a container may have been open for it to be looked for:
// those opened earlier and not closed since are looked for by their lot. A
// multi-dose vial is used within 28 days (common practice, no source).
const openFor = 60 * 24 * time.Hour

// openContainers returns the containers that were open at a place at any time in
// [from, to].
func openContainers(r inventory.Reader, place inventory.LocationID, from, to time.Time) (list []*Container, err error) {
	if to.Before(rowcode.MaxTime) {
		to = to.Add(1)
	}
	err = scanContainers(r, place, to, func(at time.Time, c *Container) error {
		if at.Before(from.Add(-openFor)) {
			return inventory.ErrStop
		}
		if c.openAt(place, from, to) {
			list = append(list, c)
		}
		return nil
	})
	return list, err
}

// OpenContainer records that a piece was opened for several treatments. The
// container may be left out: it is then given a number. So may Place, which is
// then where the piece was taken from.
func (b *Book) OpenContainer(ctx context.Context, call inventory.Call, v ContainerOpened) (inventory.Receipt, error) {
	return b.Record(ctx, call, v, func(r inventory.Reader) ([]inventory.Event, error) {
		ev := v
		if ev.From == "" {
			return nil, inventory.Invalid("from", "Name the location that it was taken from.", "there is no location")
		}
		if ev.Place == "" {
			ev.Place = ev.From
		}
		if _, err := inventory.LocationByID(r, ev.Place); err != nil {
			return nil, err
		}
		if ev.Stock.Quantity == 0 && ev.Stock.Packs == 0 {
			ev.Stock.Quantity = 1
		}
		if err := b.TakeStock(r, call, &ev.Stock, ev.From); err != nil {
			return nil, err
		}
		if ev.Stock.Quantity != 1 {
			return nil, inventory.Invalid("quantity", "Record each container with a number of its own.", "%d pieces were opened as one container", ev.Stock.Quantity)
		}
		ev.Container = ContainerID(strings.TrimSpace(string(ev.Container)))
		if ev.Container == "" {
			ev.Container = ContainerID("V" + strconv.FormatUint(r.Head().Seq+1, 10))
		}
		if err := inventory.CheckLotNumber(string(ev.Container)); err != nil {
			return nil, err
		}
		if old, err := ContainerByID(r, ev.Container); err == nil {
			return nil, inventory.Conflict("container_exists", "Give the container a number of its own, or none: it is then given one.", "container %s is on record, by entry %d", ev.Container, old.Entry)
		} else if !errors.Is(err, inventory.ErrNotFound) {
			return nil, err
		}
		p, err := b.Product(r, ev.Stock.Product)
		if p != nil {
			ev.Name, ev.Category = p.Name, p.Category
		}
		return []inventory.Event{&ev}, err
	})
}

// CloseContainer records that an opened container was empty or thrown away.
func (b *Book) CloseContainer(ctx context.Context, call inventory.Call, v ContainerClosed) (inventory.Receipt, error) {
	return b.Record(ctx, call, v, func(r inventory.Reader) ([]inventory.Event, error) {
		c, err := standingContainer(r, v.Container)
		if err != nil {
			return nil, err
		}
		at := b.when(call)
		switch {
		case v.How != ContainerEmpty && v.How != ContainerDiscarded:
			return nil, inventory.Invalid("how", "Use empty or discarded.", "there is no end of a container %q", v.How)
		case !c.Closed.IsZero():
			return nil, inventory.Conflict("container_closed", "Strike out the entry that says so, if it was wrong.", "container %s was %s at %s already", c.ID, c.How, c.Closed.Format(time.RFC3339))
		case at.Before(c.Opened):
			return nil, inventory.Invalid("at", "Give the time when it was empty or thrown away.", "container %s was opened at %s and can't end at %s", c.ID, c.Opened.Format(time.RFC3339), at.Format(time.RFC3339))
		}
		return []inventory.Event{&v}, nil
	})
}

func standingContainer(r inventory.Reader, id ContainerID) (*Container, error) {
	c, err := ContainerByID(r, id)
	if err == nil && c.Struck != 0 {
		return nil, inventory.Conflict("container_struck_out", "Choose the container that was opened.", "container %s was struck out by entry %d", id, c.Struck)
	}
	return c, err
}

// openOf returns the container that a scan of a piece opened before is drawn
// from where it names none: the one of that lot that is open at the treatment's
// place, if there is exactly one.
func openOf(r inventory.Reader, t *Treatment, s *Scan, at time.Time) (*Container, error) {
	open, err := openContainers(r, t.Location, at, at)
	open = slices.DeleteFunc(open, func(c *Container) bool {
		return c.Product != s.Product || c.Lot != s.Lot || s.Lot == "" || (!c.Closed.IsZero() && !c.Closed.After(at))
	})
	if len(open) != 1 {
		return nil, err
	}
	return open[0], err
}

// draw fills a scan in from the container that it names.
func (b *Book) draw(r inventory.Reader, s *Scan) (*Container, error) {
	if s.Container == "" {
		return nil, nil
	}
	c, err := standingContainer(r, s.Container)
	if err != nil {
		return nil, err
	}
	if (s.Product != "" && s.Product != c.Product) || (s.Lot != "" && s.Lot != c.Lot) {
		return nil, inventory.Conflict("container_of_another", "Leave out the lot, or name the container that was drawn from.", "container %s is of lot %s of %s", c.ID, c.Lot, c.Product)
	}
	s.Product, s.Lot, s.Expires, s.GTIN, s.Serial = c.Product, c.Lot, c.Expires, "", ""
	s.OpenedBefore, s.Quantity, s.Packs = true, 0, 0
	return c, nil
}

// containerFindings says what there is to notice about drawing from a container.
func (u *Used) containerFindings(c *Container, t *Treatment, at time.Time) {
	switch {
	case at.Before(c.Opened):
		u.find(inventory.FindingContainer, inventory.Caution, "By the book container %s was opened later, at %s.", c.ID, c.Opened.Format(time.RFC3339))
	case !c.Closed.IsZero() && at.After(c.Closed):
		u.find(inventory.FindingContainer, inventory.Stop, "By the book container %s was %s at %s.", c.ID, c.How, c.Closed.Format(time.RFC3339))
	case c.placeAt(at) != t.Location:
		u.find(inventory.FindingContainer, inventory.Caution, "By the book container %s stands open at %s.", c.ID, c.placeAt(at))
	}
}
