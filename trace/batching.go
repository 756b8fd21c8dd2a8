package trace

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"lotbook/inventory"
)

// A Mixing asks to record a batch and what went into it. The call's time is
// when it was ready, or poured. Batch may be left out: it is then given one.
type Mixing struct {
	BatchMade
	Inputs []MixInput `json:"inputs"`
	// Readings are check readings taken with it.
	Readings []BatchReading `json:"readings,omitempty"`
}

// A MixInput is pieces of a lot, taken from a location. Without a lot number it
// is recorded that the lot is not known.
type MixInput struct {
	inventory.Stock
	From inventory.LocationID `json:"from"`
}

// Mix records a batch. The receipt's first entry is the BatchMade; a BatchInput
// for each input and a BatchReading for each reading follow.
func (b *Book) Mix(ctx context.Context, call inventory.Call, m Mixing) (inventory.Receipt, error) {
	return b.Record(ctx, call, m, func(r inventory.Reader) ([]inventory.Event, error) {
		made := m.BatchMade
		if err := b.mixable(r, call, &made); err != nil {
			return nil, err
		}
		if len(m.Inputs) == 0 {
			return nil, inventory.Invalid("inputs", "List what went into it; leave a lot out that is not known.", "nothing went into the batch")
		}
		evs := []inventory.Event{&made}
		err := inventory.EachLine(len(m.Inputs), func(i int) error {
			in, err := b.input(r, call, made.Batch, made.Product, m.Inputs[i])
			evs = append(evs, in)
			return err
		})
		if err != nil {
			return nil, err
		}
		for _, x := range m.Readings {
			x.Batch = made.Batch
			if err := x.check(); err != nil {
				return nil, err
			}
			evs = append(evs, &x)
		}
		return evs, nil
	})
}

// mixable says whether a batch can be recorded, and adds its findings.
func (b *Book) mixable(r inventory.Reader, call inventory.Call, made *BatchMade) error {
	made.Findings = nil
	p, err := b.Product(r, made.Product)
	if err != nil {
		return err
	}
	if p == nil {
		return inventory.NotFound("product", string(made.Product), "Add what is mixed to the catalogue first, with its composition: what the batch makes, not what goes into it.")
	}
	made.Batch = BatchID(strings.TrimSpace(string(made.Batch)))
	if made.Batch == "" {
		made.Batch = BatchID("B" + strconv.FormatUint(r.Head().Seq+1, 10))
	}
	if err := inventory.CheckLotNumber(string(made.Batch)); err != nil {
		return err
	}
	if old, err := BatchByID(r, made.Batch); err == nil {
		return inventory.Conflict("batch_exists", "Give the batch a number of its own, or none: it is then given one.", "batch %s is on record, by entry %d", made.Batch, old.Entry)
	} else if !errors.Is(err, inventory.ErrNotFound) {
		return err
	}
	switch {
	case made.MixedBy == "":
		return inventory.Invalid("mixed_by", "Name who mixed it.", "it is not said who mixed the batch")
	case made.Volume < 0:
		return inventory.Invalid("volume_ml", "Give the volume made in millilitres, or leave it out.", "a volume of %d mL", made.Volume)
	case made.Poured != "" && made.Poured != IntoEmpty && made.Poured != OntoRest:
		return inventory.Invalid("poured_into", "Use empty, or rest for what was left of an older batch; leave it out if that is not known.", "there is no state of a tank %q", made.Poured)
	case made.Poured != "" && made.Tank == "":
		return inventory.Invalid("tank", "Name the tank, or leave out what it held.", "it is said what the tank held, and there is no tank")
	}
	at := b.when(call)
	if !made.UseBy.IsZero() {
		made.UseBy = made.UseBy.UTC()
		if made.UseBy.Before(at) {
			return inventory.Invalid("use_by", "Give the time until which it may be used.", "the batch can't be past its use at %s, it was made at %s", made.UseBy.Format(time.RFC3339), at.Format(time.RFC3339))
		}
	}
	find := func(code, format string, args ...any) {
		made.Findings = append(made.Findings, inventory.Finding{Code: code, Level: inventory.Caution, Message: fmt.Sprintf(format, args...)})
	}
	if made.CheckedBy == "" {
		find(inventory.FindingNotChecked, "It is not said who checked the batch.")
	} else if strings.EqualFold(strings.TrimSpace(made.CheckedBy), strings.TrimSpace(made.MixedBy)) {
		find(inventory.FindingNotChecked, "Who checked the batch is who mixed it.")
	}
	if made.Tank == "" {
		return nil
	}
	if _, err := TankByID(r, made.Tank); err != nil {
		return err
	}
	return b.tankFindings(r, made, p, at, find)
}

// tankFindings says what there is to notice about the tank that a batch is
// poured into.
func (b *Book) tankFindings(r inventory.Reader, made *BatchMade, p *inventory.Product, at time.Time, find func(code, format string, args ...any)) error {
	if made.Poured == IntoEmpty {
		return nil
	}
	s := newSupplies(b, r)
	layers, err := s.layers(made.Tank)
	if err != nil {
		return err
	}
	for _, l := range layers {
		if !l.meets(at, at) {
			continue
		}
		old, err := BatchByID(r, l.batch)
		if err != nil {
			return err
		}
		if made.Poured == "" {
			find(inventory.FindingTankHeld, "By the book tank %s still holds batch %s, and it is not said that it was empty. Both are taken to feed from now on.", made.Tank, old.ID)
		}
		if old.Product != made.Product {
			find(inventory.FindingNotPrescribed, "Tank %s holds batch %s of %s; this one is of %s.", made.Tank, old.ID, old.Product, p.ID)
		}
	}
	return nil
}

// input makes the entry of what goes into a batch.
func (b *Book) input(r inventory.Reader, call inventory.Call, id BatchID, product inventory.ProductID, in MixInput) (*BatchInput, error) {
	ev := &BatchInput{Batch: id, Product: product, Stock: in.Stock, From: in.From}
	if in.From == "" {
		return ev, inventory.Invalid("from", "Name the location that it was taken from.", "there is no location")
	}
	if err := b.TakeStock(r, call, &ev.Stock, in.From); err != nil {
		return ev, err
	}
	if ev.Stock.Product == product {
		return ev, inventory.Conflict("input_is_batch", "Name what went into it.", "%s is what the batch makes", product)
	}
	p, err := b.Product(r, ev.Stock.Product)
	if err != nil || p == nil {
		return ev, err
	}
	ev.Name = p.Name
	made, err := b.Product(r, product)
	if err != nil || made == nil {
		return ev, err
	}
	if differs(p.Facts, made.Facts) {
		ev.Stock.Findings = append(ev.Stock.Findings, inventory.Finding{
			Code: inventory.FindingNotPrescribed, Level: inventory.Caution,
			Message: fmt.Sprintf("%s makes %s; the batch is recorded as %s.", p.Name, p.Facts.Composition(), made.Facts.Composition()),
		})
	}
	return ev, nil
}

// differs reports whether two compositions that are known contradict each
// other.
func differs(a, b inventory.Facts) bool {
	if a.MixSystem != "" && b.MixSystem != "" && a.MixSystem != b.MixSystem {
		return true
	}
	return a.IonsKnown && b.IonsKnown && (a.Potassium != b.Potassium || a.Calcium != b.Calcium)
}

// standingBatch returns a batch that was not struck out.
func standingBatch(r inventory.Reader, id BatchID) (*Batch, error) {
	b, err := BatchByID(r, id)
	if err == nil && b.Struck != 0 {
		return nil, inventory.Conflict("batch_struck_out", "Choose the batch that was made.", "batch %s was struck out by entry %d", id, b.Struck)
	}
	return b, err
}

// AddInput records something else that went into a batch.
func (b *Book) AddInput(ctx context.Context, call inventory.Call, id BatchID, in MixInput) (inventory.Receipt, error) {
	type command struct {
		Batch BatchID
		Input MixInput
	}
	return b.Record(ctx, call, command{id, in}, func(r inventory.Reader) ([]inventory.Event, error) {
		batch, err := standingBatch(r, id)
		if err != nil {
			return nil, err
		}
		ev, err := b.input(r, call, id, batch.Product, in)
		return []inventory.Event{ev}, err
	})
}

// ReadBatch records a check reading of a batch.
func (b *Book) ReadBatch(ctx context.Context, call inventory.Call, x BatchReading) (inventory.Receipt, error) {
	return b.Record(ctx, call, x, func(r inventory.Reader) ([]inventory.Event, error) {
		if _, err := standingBatch(r, x.Batch); err != nil {
			return nil, err
		}
		return []inventory.Event{&x}, x.check()
	})
}

// check says whether the readings can be ones at all.
func (v *BatchReading) check() error {
	switch {
	case v.Conductivity == 0 && v.PH == 0 && v.Temperature == nil:
		return inventory.Invalid("readings", "Give the conductivity, the pH or the temperature that was read.", "the reading has no value")
	case v.Conductivity < 0 || v.Conductivity > 1_000_000:
		return inventory.Invalid("conductivity_ms_per_cm", "Give the conductivity in mS/cm.", "a conductivity of %d µS/cm", v.Conductivity)
	case v.PH < 0 || v.PH > 1400:
		return inventory.Invalid("ph", "Give the pH, 0 to 14.", "a pH of %d hundredths", v.PH)
	case v.Temperature != nil && (*v.Temperature < -100 || *v.Temperature > 1200):
		return inventory.Invalid("temperature_c", "Give the temperature in degrees Celsius.", "a temperature of %d tenths of a degree", *v.Temperature)
	}
	return nil
}

// EndBatch records that the rest of a batch without a tank was used up or
// thrown away.
func (b *Book) EndBatch(ctx context.Context, call inventory.Call, v BatchEnded) (inventory.Receipt, error) {
	return b.Record(ctx, call, v, func(r inventory.Reader) ([]inventory.Event, error) {
		batch, err := standingBatch(r, v.Batch)
		if err != nil {
			return nil, err
		}
		at := b.when(call)
		switch {
		case batch.Tank != "":
			return nil, inventory.Conflict("batch_in_tank", "Record that the tank was emptied.", "batch %s is in tank %s", batch.ID, batch.Tank)
		case !batch.Ended.IsZero():
			return nil, inventory.Conflict("batch_ended", "Strike out the entry that ended it, if its time was wrong.", "batch %s ended at %s already", batch.ID, batch.Ended.Format(time.RFC3339))
		case at.Before(batch.Made):
			return nil, inventory.Invalid("at", "Give the time when it was over.", "batch %s was made at %s and can't end at %s", batch.ID, batch.Made.Format(time.RFC3339), at.Format(time.RFC3339))
		}
		return []inventory.Event{&v}, nil
	})
}

// strikeBatch returns what strikes out what went into a batch and was read of
// it, before the batch itself.
func (b *Book) strikeBatch(r inventory.Reader, v *BatchMade, reason string) ([]inventory.Event, error) {
	in, err := inventory.ContentsOf(r, inventory.Lot{Product: v.Product, Number: string(v.Batch)})
	if err != nil {
		return nil, err
	}
	var evs []inventory.Event
	for _, c := range in {
		evs = append(evs, &inventory.Corrected{Corrects: c.Entry, Reason: reason})
	}
	readings, err := ReadingsOf(r, v.Batch)
	for _, x := range readings {
		evs = append(evs, &inventory.Corrected{Corrects: x.Entry, Reason: reason})
	}
	return evs, err
}
