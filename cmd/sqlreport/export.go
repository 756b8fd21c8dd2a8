package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// tables are those of schema.sql, each written to a file of tab-separated lines.
var tables = []string{"location", "patient", "treatment", "item_use", "receipt", "stock_count", "count_line"}

func tableFile(dir, table string) string { return filepath.Join(dir, table+".tsv") }

// export writes what the journal holds as tables. The book is open for reading
// only, so one snapshot serves.
func export(ctx context.Context, b *trace.Book, dir string) error {
	to := map[string]*bufio.Writer{}
	for _, t := range tables {
		f, err := os.Create(tableFile(dir, t))
		if err != nil {
			return err
		}
		defer f.Close()
		to[t] = bufio.NewWriterSize(f, 1<<20)
	}
	err := b.View(ctx, func(r inventory.Reader) error {
		if err := exportTreatments(r, to); err != nil {
			return err
		}
		if err := exportLots(r, to); err != nil {
			return err
		}
		people, err := trace.Patients(r)
		if err != nil {
			return err
		}
		for _, p := range people {
			fmt.Fprintf(to["patient"], "%s\t%s\n", p.ID, p.Name)
		}
		return exportPlaces(r, to)
	})
	if err != nil {
		return err
	}
	for _, w := range to {
		if err := w.Flush(); err != nil { // says what any write before met
			return err
		}
	}
	return nil
}

// seconds is an instant in the tables: seconds since 1900-01-01, so that none is
// below zero, where SQL divides otherwise.
func seconds(t time.Time) int64 { return t.Unix() - since1900.Unix() }

var since1900 = time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC)

func exportTreatments(r inventory.Reader, to map[string]*bufio.Writer) error {
	return trace.ScanStarts(r, since1900, time.Time{}, func(t *trace.Treatment) error {
		fmt.Fprintf(to["treatment"], "%s\t%s\t%s\t%s\t%s\t%d\t%d\n", t.ID, t.Patient, t.Machine, t.Station, t.Location, seconds(t.Start), seconds(t.End))
		for i := range t.Uses {
			u := &t.Uses[i]
			fmt.Fprintf(to["item_use"], "%d\t%s\t%s\t%s\t%s\t%s\t%d\t%d\t%s\t%s\n", u.Entry, t.ID, u.Category, u.Product, u.Lot, u.Location, seconds(u.From), u.Quantity, u.How, u.By)
		}
		return nil
	})
}

func exportLots(r inventory.Reader, to map[string]*bufio.Writer) error {
	lots, err := inventory.LotsOf(r, "DLZ")
	if err != nil {
		return err
	}
	for _, f := range lots {
		err := inventory.ScanLedger(r, f.Lot, func(m *inventory.Movement) error {
			switch m.Class {
			case inventory.ClassReceived:
				fmt.Fprintf(to["receipt"], "%d\t%s\t%s\t%s\t%d\t%d\n", m.Entry, m.Lot.Product, m.Lot.Number, m.To, seconds(m.Happened), m.Quantity)
			case inventory.ClassCounted:
				fmt.Fprintf(to["count_line"], "%d\t%s\t%s\t%s\t%d\t%d\n", m.Entry, m.Lot.Product, m.Lot.Number, m.To, seconds(m.Happened), m.Quantity)
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func exportPlaces(r inventory.Reader, to map[string]*bufio.Writer) error {
	places, err := inventory.Locations(r)
	if err != nil {
		return err
	}
	for _, l := range places {
		fmt.Fprintf(to["location"], "%s\n", l.ID)
		err := inventory.ScanCounts(r, l.ID, since1900, func(c *inventory.Count) error {
			fmt.Fprintf(to["stock_count"], "%d\t%s\t%d\n", c.Entry, c.Location, seconds(c.At))
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}
