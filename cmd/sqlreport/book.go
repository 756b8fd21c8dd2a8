package main

import (
	"context"
	"fmt"
	"io"
	"syscall"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// A book is a journal of treatments, opened for reading.
type book struct {
	*trace.Book
	store *boltstore.Store
}

// openBook opens a journal, made first if there is none.
func openBook(ctx context.Context, dir string, o demo.Long) (*book, error) {
	registry := inventory.NewRegistry(inventory.Events(), trace.Events())
	clock := new(demo.Clock)
	err := inventorytest.MakeOnce(dir, clock.Now, func(store *boltstore.Store) error {
		fmt.Printf("making a journal of %d treatments\n", o.Treatments)
		return demo.MakeLong(ctx, trace.NewBook(inventory.NewBook(store, registry, clock.Now)), clock, o)
	})
	if err != nil {
		return nil, err
	}
	now := func() time.Time { return time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC) }
	store, err := boltstore.Open(dir, boltstore.Options{Clock: now, ReadOnly: true})
	if err != nil {
		return nil, err
	}
	return &book{trace.NewBook(inventory.NewBook(store, registry, now)), store}, nil
}

func (*book) name() string { return "lotbook" }

func (b *book) ask(ctx context.Context, lot string) (*trace.LotAnswer, []string, error) {
	a, err := b.Exposures(ctx, trace.Question{Product: "DLZ", Lot: lot})
	if err != nil {
		return nil, nil, err
	}
	var lines []string
	take := func(x *trace.Exposure) error {
		lines = append(lines, string(x.Grade)+"\t"+string(x.Treatment))
		return nil
	}
	err = b.EachConfirmed(ctx, a, take)
	for i := range a.Unrecorded {
		_ = take(&a.Unrecorded[i]) // never fails
	}
	return a, lines, err
}

func (b *book) answer(ctx context.Context, lot string) ([]string, error) {
	_, lines, err := b.ask(ctx, lot)
	return lines, err
}

func (b *book) time(ctx context.Context, lot string, rounds int) (figure, error) {
	return timed(rounds, func() error {
		_, err := b.answer(ctx, lot)
		return err
	})
}

// workbook asks and draws the workbook.
func (b *book) workbook(ctx context.Context, lot string, rounds int, temp string) (figure, error) {
	return timed(rounds, func() error {
		a, _, err := b.ask(ctx, lot)
		if err != nil {
			return err
		}
		wb := reports.Exposures(ctx, b.Book, a, reports.Asked{By: "the report", At: a.At, Unit: "Invented unit", Zone: time.UTC})
		return xlsx.Write(ctx, io.Discard, wb, xlsx.Options{TempDir: temp})
	})
}

func timed(rounds int, fn func() error) (figure, error) {
	var walls []time.Duration
	before := processor()
	for range rounds {
		start := time.Now()
		if err := fn(); err != nil {
			return figure{}, err
		}
		walls = append(walls, time.Since(start))
	}
	return figure{median(walls), (processor() - before) / time.Duration(rounds)}, nil
}

// processor is the processor time that this process has had.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
