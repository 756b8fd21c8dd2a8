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
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
)

const benchExposures = 100_000

// BenchmarkExposuresWorkbook writes the workbook of a lot with 100,000 uses,
// read from its journal as it is drawn, and, before it in the same run, the
// same 15 columns from memory with the bare stream writer. It reports the
// seconds, the highest heap in use (sampled every 2 ms) and the shares of the
// bare writer's. Each workbook is written once an iteration: -benchtime 3x.
func BenchmarkExposuresWorkbook(b *testing.B) {
	book := lotOfMany(b, benchExposures)
	a, err := book.Exposures(context.Background(), trace.Question{Product: "DLZ", Lot: "D1"})
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
	at := time.Date(2000, 1, 3, 6, 0, 0, 0, time.UTC)
	clock := func() time.Time { return at }
	dir := b.TempDir()
	open := func(o boltstore.Options) (*boltstore.Store, *trace.Book) {
		o.Clock = clock
		s, err := boltstore.Open(filepath.Join(dir, "book"), o)
		if err != nil {
			b.Fatal(err)
		}
		return s, trace.NewBook(inventory.NewBook(s, inventory.NewRegistry(inventory.Events(), trace.Events()), clock))
	}
	s, u := open(boltstore.Options{NoSync: true, Bulk: 2000})
	ctx, by := context.Background(), inventory.Call{Actor: "nurse"}
	ok := func(rec inventory.Receipt, err error) inventory.Receipt {
		if err != nil {
			b.Fatal(err)
		}
		return rec
	}
	ok(u.SetLocation(ctx, by, inventory.Location{ID: "cart", Name: "Cart", Type: inventory.Cart}))
	ok(u.SetProducts(ctx, by, inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer}))
	set := inventory.DefaultUnit()
	set.Rules.Needs = []inventory.Need{{Category: inventory.Dialyzer, By: inventory.NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true}}
	ok(u.SetUnit(ctx, by, set))
	ok(u.SetMachine(ctx, by, trace.Machine{ID: "M1", Name: "Machine 1"}))
	ok(u.SetStation(ctx, by, trace.Station{ID: "S1", Name: "Station 1", Location: "cart", Machine: "M1"}))
	rx := inventory.Prescription{Access: inventory.Fistula, Minutes: 240, DialysateFlow: 500}
	for i := range 200 {
		id := trace.PatientID(fmt.Sprintf("P%04d", i))
		ok(u.Enrol(ctx, by, trace.Enrolment{PatientSet: trace.PatientSet{ID: id, Name: "Invented Person " + string(id)}, Prescription: &rx}))
	}
	ok(u.Receive(ctx, by, inventory.Received{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Expires: "2099-12-31", Quantity: int64(uses)}, To: "cart"}))
	for i := range uses {
		rec := ok(u.Open(ctx, by, trace.Opening{Patient: trace.PatientID(fmt.Sprintf("P%04d", i%200)), Station: "S1"}))
		id := trace.TreatmentID(fmt.Sprint("T", rec.Entries[0].Seq))
		ok(u.Scan(ctx, by, trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{Product: "DLZ", Lot: "D1"}}))
		at = at.Add(time.Minute)
		ok(u.Close(ctx, by, trace.Closing{Treatment: id, Minutes: 240}))
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	s, u = open(boltstore.Options{ReadOnly: true})
	b.Cleanup(func() { _ = s.Close() })
	return u
}
