package trace

import (
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
)

// Fed is how a use is known that nobody scanned: the treatment's station was
// fed from a tank.
const Fed How = "fed"

// A Supply is what a treatment's station is fed with, of one category.
type Supply struct {
	Category inventory.Category `json:"category"`
	Tank     TankID             `json:"tank"`
	TankName string             `json:"tank_name,omitempty"`
	Loop     LoopID             `json:"loop,omitempty"`
	// Batches that are, or may be, in the tank, the latest first.
	Batches  []SuppliedBatch     `json:"batches"`
	Findings []inventory.Finding `json:"findings,omitempty"`
}

// A SuppliedBatch is a batch that a station is, or may be, fed from.
type SuppliedBatch struct {
	Batch   BatchID             `json:"batch"`
	Product inventory.ProductID `json:"product"`
	Name    string              `json:"product_name,omitempty"`
	UseBy   time.Time           `json:"use_by,omitzero"`
	// From and Until are when it fed the station; Until is zero if it does.
	From  time.Time `json:"from,omitzero"`
	Until time.Time `json:"until,omitzero"`
	// Grade is how surely the treatment took from it, by its record; empty
	// where the record says that it did not.
	Grade Grade  `json:"grade,omitempty"`
	Why   string `json:"why,omitempty"`
}

// satisfies reports whether the nurse need not record a container.
func (s *Supply) satisfies() bool {
	return len(s.Batches) > 0 && !inventory.HasStop(s.Findings)
}

// feeds reports whether a treatment took from one of its supplies, or probably
// did.
func feeds(list []Supply, c inventory.Category) bool {
	return slices.ContainsFunc(list, func(s Supply) bool {
		return s.Category == c && slices.ContainsFunc(s.Batches, func(b SuppliedBatch) bool { return b.Grade == Confirmed || b.Grade == Probable })
	})
}

// SuppliesOf returns what fed a treatment's station: at a time for one that is
// being set up, all of its own time for one that is closed.
func (b *Book) SuppliesOf(r inventory.Reader, t *Treatment, at time.Time) ([]Supply, error) {
	from, to := at, at
	if t.Closed {
		from, to = t.span()
	}
	return b.suppliesAt(r, t, from, to)
}

func (b *Book) suppliesAt(r inventory.Reader, t *Treatment, from, to time.Time) ([]Supply, error) {
	s := newSupplies(b, r)
	if none, err := s.none(); none || err != nil {
		return nil, err
	}
	var list []Supply
	for _, c := range []inventory.Category{inventory.AcidConcentrate, inventory.Bicarbonate} {
		sources, _, err := s.of(t.Station, c, from, to)
		if err != nil {
			return nil, err
		}
		for i := range slices.Backward(sources) {
			if err := s.addSupply(&list, t, c, &sources[i], to); err != nil {
				return nil, err
			}
		}
	}
	return list, nil
}

// addSupply adds a source to the list, with what there is to notice.
func (s *supplies) addSupply(list *[]Supply, t *Treatment, c inventory.Category, x *source, at time.Time) error {
	i := slices.IndexFunc(*list, func(o Supply) bool { return o.Category == c && o.Tank == x.feed.Tank })
	if i < 0 {
		tank, err := TankByID(s.r, x.feed.Tank)
		if err != nil {
			return err
		}
		i = len(*list)
		*list = append(*list, Supply{Category: c, Tank: tank.ID, TankName: tank.Name, Loop: x.feed.Loop})
	}
	sup := &(*list)[i]
	p, err := s.b.Product(s.r, x.batch.Product)
	if err != nil {
		return err
	}
	b := SuppliedBatch{Batch: x.batch.ID, Product: x.batch.Product, UseBy: x.batch.UseBy, From: x.from, Until: x.to}
	if p != nil {
		b.Name = p.Name
	}
	if t.Opened != 0 {
		v, err := s.judge(t, c, x)
		if err != nil {
			return err
		}
		if b.Grade, b.Why = v.grade, v.why; v.excluded != "" {
			b.Why = v.excluded.Meaning()
		}
	}
	if slices.ContainsFunc(sup.Batches, func(o SuppliedBatch) bool { return o.Batch == b.Batch }) {
		return nil
	}
	sup.Batches = append(sup.Batches, b)
	found, err := s.b.BatchFindings(s.r, x.batch, at)
	if err != nil {
		return err
	}
	sup.Findings = append(sup.Findings, found...)
	return nil
}

// BatchFindings says what there is to notice about a batch at a time, as about
// a pack: past its time, or something on hold in it.
func (b *Book) BatchFindings(r inventory.Reader, x *Batch, at time.Time) ([]inventory.Finding, error) {
	var list []inventory.Finding
	find := func(code string, format string, args ...any) {
		list = append(list, inventory.Finding{Code: code, Level: inventory.Stop, Message: fmt.Sprintf(format, args...)})
	}
	if !x.UseBy.IsZero() && at.After(x.UseBy) {
		u, err := b.Unit(r)
		if err != nil {
			return nil, err
		}
		zone, err := u.Zone()
		if err != nil {
			return nil, err
		}
		find(inventory.FindingExpired, "Batch %s was to be used by %s.", x.ID, x.UseBy.In(zone).Format("2006-01-02 15:04"))
	}
	hold, err := inventory.HoldOn(r, x.Lot())
	if err != nil {
		return nil, err
	}
	if hold != nil {
		find(inventory.FindingHeld, "Batch %s is on hold: %s. Do not use it.", x.ID, hold.Reason)
	}
	held, err := heldWithin(r, x.Lot())
	for _, h := range held {
		find(inventory.FindingHeld, "Lot %s of %s, which is in batch %s, is on hold: %s. Do not use it.", h.lot.Number, h.lot.Product, x.ID, h.hold.Reason)
	}
	return list, err
}

type heldLot struct {
	lot  inventory.Lot
	hold *inventory.Hold
}

// heldWithin returns the lots on hold that a lot holds.
func heldWithin(r inventory.Reader, l inventory.Lot) (list []heldLot, err error) {
	contents, err := inventory.ContentsOf(r, l)
	if err != nil {
		return nil, err
	}
	for _, c := range contents {
		hold, err := inventory.HoldOn(r, c.Lot)
		if err != nil {
			return nil, err
		}
		if hold != nil && !slices.ContainsFunc(list, func(h heldLot) bool { return h.lot == c.Lot }) {
			list = append(list, heldLot{c.Lot, hold})
		}
	}
	return list, nil
}

// supplyFindings adds to a treatment's supplies whether they are as prescribed.
func (b *Book) supplyFindings(r inventory.Reader, rx *inventory.Prescription, required []Required, list []Supply) error {
	for i := range list {
		sup := &list[i]
		if sup.Category != inventory.AcidConcentrate {
			continue
		}
		j := slices.IndexFunc(required, func(q Required) bool { return q.Category == sup.Category })
		if j < 0 {
			continue
		}
		want, err := b.wanted(r, rx, required[j])
		if err != nil {
			return err
		}
		for _, x := range sup.Batches {
			p, err := b.Product(r, x.Product)
			if err != nil {
				return err
			}
			if p == nil || contradicts(want, p.Facts) {
				have := "is not in the catalogue"
				if p != nil {
					have = "makes " + p.Facts.Composition()
				}
				sup.Findings = append(sup.Findings, inventory.Finding{
					Code: inventory.FindingNotPrescribed, Level: inventory.Stop,
					Message: fmt.Sprintf("Prescribed is %s. Tank %s holds batch %s, which %s. Use a container.", want.Composition(), sup.Tank, x.Batch, have),
				})
			}
		}
	}
	return nil
}

// TreatmentSupplies returns what feeds a treatment's station, with what there is
// to notice, the prescription among it.
func (b *Book) TreatmentSupplies(r inventory.Reader, t *Treatment, at time.Time) ([]Supply, error) {
	list, err := b.SuppliesOf(r, t, at)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	rx, err := b.PrescriptionOf(r, t)
	if err != nil {
		return nil, err
	}
	return list, b.supplyFindings(r, rx, t.Required, list)
}

// Lacks returns what a treatment still lacks: what is required and neither
// recorded by lot nor supplied by what feeds its station.
func (b *Book) Lacks(r inventory.Reader, t *Treatment, at time.Time) ([]Missing, []Supply, error) {
	sup, err := b.TreatmentSupplies(r, t, at)
	return lacks(t.Missing(), t, sup), sup, err
}

// lacks takes what is supplied out of what is missing. Where a person said
// something of the kind, or a container is recorded, that is asked for all the
// same.
func lacks(missing []Missing, t *Treatment, sup []Supply) []Missing {
	return slices.DeleteFunc(missing, func(m Missing) bool {
		return m.Cause == "" && m.Known == "" && t.recorded(m.Category) == 0 &&
			slices.ContainsFunc(sup, func(s Supply) bool { return s.Category == m.Category && s.satisfies() })
	})
}

// A TankHold is a batch that a tank holds, or may still hold.
type TankHold struct {
	Batch *Batch
	Since time.Time
	// Surely: by the book it is in it. Otherwise nobody said whether the tank
	// was empty when a later one was poured in.
	Surely bool
}

// TankHolds returns what a tank holds at a time.
func (b *Book) TankHolds(r inventory.Reader, t TankID, at time.Time) (list []TankHold, err error) {
	s := newSupplies(b, r)
	layers, err := s.layers(t)
	for _, l := range layers {
		if !l.meets(at, at) || l.to.Equal(at) {
			continue
		}
		batch, err := s.batch(l.batch)
		if err != nil {
			return nil, err
		}
		list = append(list, TankHold{batch, l.from, l.doubt.IsZero() || l.doubt.After(at)})
	}
	return list, err
}

// A BatchFeed is the time in which a batch fed, or may have fed, stations.
type BatchFeed struct {
	Feed        Feed
	From, Until time.Time
	Surely      bool
}

// BatchFeeds returns what a batch fed from its tank.
func (b *Book) BatchFeeds(r inventory.Reader, batch *Batch) (list []BatchFeed, err error) {
	if batch.Tank == "" || batch.Struck != 0 {
		return nil, nil
	}
	s := newSupplies(b, r)
	layers, err := s.layers(batch.Tank)
	if err != nil {
		return nil, err
	}
	feeds, err := FeedsOf(r, batch.Tank)
	if err != nil {
		return nil, err
	}
	for _, l := range layers {
		if l.batch != batch.ID {
			continue
		}
		for _, f := range feeds {
			from, until := later(l.from, f.From), sooner(l.to, f.Until)
			if until.IsZero() || until.After(from) {
				list = append(list, BatchFeed{f, from, until, l.doubt.IsZero() || (!until.IsZero() && !l.doubt.Before(until))})
			}
		}
	}
	return list, nil
}
