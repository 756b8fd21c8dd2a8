package reports_test

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
	"lotbook/trace/demo"
)

const benchExposures = 100_000

// BenchmarkExposuresWorkbook writes the workbook of a lot with 100,000 uses,
// read from its journal as it is drawn, and, before it in the same run, the
// same 15 columns from memory with the bare stream writer. It reports the
// seconds, the highest heap in use (sampled every 2 ms) and the shares of the
// bare writer's. Each workbook is written once an iteration: -benchtime 3x.
func BenchmarkExposuresWorkbook(b *testing.B) {
	book := lotOfMany(b, benchExposures)
	a, err := book.Exposures(context.Background(), trace.Question{Product: "DLZ", Lot: "L000000"})
	if err != nil {
		b.Fatal(err)
	}
	var bare, bareHeap float64
	b.Run("bare", func(b *testing.B) {
		bare, bareHeap = measured(b, func() error { return bareSheet(benchExposures) })
	})
	b.Run("exposures", func(b *testing.B) {
		temp := b.TempDir()
		s, heap := measured(b, func() error {
			wb := reports.Exposures(context.Background(), book, a, reports.Asked{By: "x", At: a.At, Unit: "u", Zone: time.UTC})
			return xlsx.Write(context.Background(), io.Discard, wb, xlsx.Options{TempDir: temp})
		})
		if bare > 0 {
			b.ReportMetric(s/bare, "time-of-bare")
			b.ReportMetric(heap/bareHeap, "heap-of-bare")
		}
	})
}

// measured runs fn b.N times and reports and returns the seconds of one run and
// the highest heap in use above what was in use before.
func measured(b *testing.B, fn func() error) (seconds, heap float64) {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	before, peak := m.HeapInuse, m.HeapInuse
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		var m runtime.MemStats
		for {
			select {
			case <-stop:
				return
			case <-time.After(2 * time.Millisecond):
				runtime.ReadMemStats(&m)
				peak = max(peak, m.HeapInuse)
			}
		}
	}()
	start := time.Now()
	for range b.N {
		if err := fn(); err != nil {
			b.Fatal(err)
		}
	}
	seconds = time.Since(start).Seconds() / float64(b.N)
	close(stop)
	<-stopped
	heap = float64(peak-before) / 1e6
	b.ReportMetric(seconds, "s/workbook")
	b.ReportMetric(heap, "peak-MB")
	return seconds, heap
}

// bareSheet writes rows like those of the exposures sheet with excelize alone.
func bareSheet(rows int) error {
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		return err
	}
	at := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	style, err := f.NewStyle(&excelize.Style{NumFmt: 22})
	if err != nil {
		return err
	}
	for i := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		if err != nil {
			return err
		}
		when := excelize.Cell{StyleID: style, Value: at.Add(time.Duration(i) * time.Minute)}
		err = w.SetRow(cell, []any{
			"confirmed", fmt.Sprintf("P%04d", i%200), fmt.Sprint("T", i), fmt.Sprintf("Invented Person %04d", i%200), when, "M1", "S1", when, nil, 1, "",
			"scanned", "nurse", fmt.Sprint(i), "recorded as used, scanned",
		})
		if err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Write(io.Discard)
}

// lotOfMany makes a journal in which one lot was used so many times.
func lotOfMany(b *testing.B, uses int) *trace.Book {
	b.Helper()
	clock, dir := new(demo.Clock), filepath.Join(b.TempDir(), "book")
	book := func(s *boltstore.Store) *trace.Book {
		return trace.NewBook(inventory.NewBook(s, inventory.NewRegistry(inventory.Events(), trace.Events()), clock.Now))
	}
	err := inventorytest.MakeOnce(dir, clock.Now, func(s *boltstore.Store) error {
		return demo.MakeLong(context.Background(), book(s), clock, demo.Long{Treatments: uses, Goods: 1, Lots: []int{uses}})
	})
	if err != nil {
		b.Fatal(err)
	}
	s, err := boltstore.Open(dir, boltstore.Options{Clock: clock.Now, ReadOnly: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	return book(s)
}
