package main

import (
	"context"
	"errors"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
	"lotbook/trace"
)

// A batchOut is a batch with what went in, what was read and what it fed.
type batchOut struct {
	*trace.Batch
	Inputs   []inventory.Content `json:"inputs"`
	Readings []trace.Reading     `json:"readings"`
	Fed      []trace.BatchFeed   `json:"fed"`
}

// runBatches prints the batches that stand, the latest first, one JSON object a
// line.
func runBatches(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("batches")
	data := f.String("data", "", "")
	tank := f.String("tank", "", "")
	id := f.String("batch", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --tank and --batch")
	}
	return eachLine(ctx, e, *data, func(h *house, r inventory.Reader, line func(any) error) error {
		one := func(b *trace.Batch) error {
			if *tank != "" && string(b.Tank) != *tank {
				return nil
			}
			out := batchOut{Batch: b}
			var errs [3]error
			out.Inputs, errs[0] = inventory.ContentsOf(r, b.Lot())
			out.Readings, errs[1] = trace.ReadingsOf(r, b.ID)
			out.Fed, errs[2] = h.book.BatchFeeds(r, b)
			if err := errors.Join(errs[:]...); err != nil {
				return err
			}
			return line(out)
		}
		if *id != "" {
			b, err := trace.BatchByID(r, trace.BatchID(*id))
			if err != nil {
				return err
			}
			return one(b)
		}
		return trace.ScanBatches(r, rowcode.MaxTime, one)
	})
}

// A kitOut is a kit's lot and what is on record of what it holds.
type kitOut struct {
	Product    inventory.ProductID   `json:"product"`
	Name       string                `json:"product_name"`
	Lot        string                `json:"lot"`
	Components []inventory.Component `json:"components"`
	// Contents are empty where nobody said which lots are in it: then no lot of
	// a component can be excluded.
	Contents []inventory.Content `json:"contents"`
}

// runKits prints the lots of kits and what they hold, one JSON object a line.
func runKits(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("kits")
	data := f.String("data", "", "")
	product := f.String("product", "", "")
	lot := f.String("lot", "", "")
	unsaid := f.Bool("unsaid", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --product, --lot and --unsaid")
	}
	return eachLine(ctx, e, *data, func(h *house, r inventory.Reader, line func(any) error) error {
		ps, err := h.book.Products(r)
		if err != nil {
			return err
		}
		for _, p := range ps {
			if !p.Kit() || (*product != "" && string(p.ID) != *product) {
				continue
			}
			lots, err := inventory.LotsOf(r, p.ID)
			if err != nil {
				return err
			}
			for _, l := range lots {
				if *lot != "" && l.Lot.Number != *lot {
					continue
				}
				contents, err := inventory.ContentsOf(r, l.Lot)
				if err != nil {
					return err
				}
				if *unsaid && len(contents) > 0 {
					continue
				}
				if err := line(kitOut{p.ID, p.Name, l.Lot.Number, p.Components, append([]inventory.Content{}, contents...)}); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// runContainers prints containers that were opened for several treatments, by
// place, the latest first, one JSON object a line.
func runContainers(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("containers")
	data := f.String("data", "", "")
	location := f.String("location", "", "")
	open := f.Bool("open", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --location and --open")
	}
	return eachLine(ctx, e, *data, func(_ *house, r inventory.Reader, line func(any) error) error {
		locs, err := inventory.Locations(r)
		if *location != "" {
			var loc inventory.Location
			loc, err = inventory.LocationByID(r, inventory.LocationID(*location))
			locs = []inventory.Location{loc}
		}
		for _, loc := range locs {
			if err != nil {
				break
			}
			err = trace.ScanContainers(r, loc.ID, rowcode.MaxTime, func(c *trace.Container) error {
				if *open && !c.Closed.IsZero() {
					return nil
				}
				return line(c)
			})
		}
		return err
	})
}
