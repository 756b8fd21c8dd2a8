package demo_test

import (
	"fmt"
	"syscall"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// The full proposal and the list of lots to take next, on the default unit with
// some half a year, five and ten years behind it. The plan ahead is the same, so
// the time must be, too. Making the journals takes minutes: -bench
// 'Reorder/treatments=7000$' leaves the long ones out.
func BenchmarkReorder(b *testing.B) {
	for _, size := range []struct{ treatments, days int }{{7_000, 178}, {70_000, 1_778}, {140_000, 3_556}} {
		b.Run(fmt.Sprintf("treatments=%d", size.treatments), func(b *testing.B) {
			o := demo.Defaults(until)
			o.Days = size.days
			clock := demo.NewClock(o)
			store, err := boltstore.Open(b.TempDir(), boltstore.Options{Clock: clock.Now, Unit: demo.UnitID(o.Seed), NoSync: true, Bulk: 2000})
			if err != nil {
				b.Fatal(err)
			}
			defer store.Close()
			book := trace.NewBook(inventory.NewBook(store, inventory.NewRegistry(inventory.Events(), trace.Events()), clock.Now))
			truth, err := demo.Make(ctx, book, clock, o)
			if err != nil {
				b.Fatal(err)
			}
			if err := store.Sync(); err != nil {
				b.Fatal(err)
			}
			b.Run("reorder", func(b *testing.B) {
				b.ReportAllocs()
				b.ReportMetric(float64(len(truth.Treatments)), "treatments")
				before, rounds := processor(b), 0
				defer func() {
					b.ReportMetric(float64((processor(b)-before).Milliseconds())/float64(rounds), "cpu-ms/op")
				}()
				for b.Loop() {
					rounds++
					p, err := book.Propose(ctx, trace.OrderQuestion{})
					if err != nil {
						b.Fatal(err)
					}
					if l := p.Of("DLZ-18"); l.Quantity == nil || p.Record.Planned < 2000 {
						b.Fatalf("%+v", l)
					}
				}
			})
			b.Run("next", func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if n, err := book.Next(ctx, trace.NextQuestion{}); err != nil || len(n.Shelves) < 60 {
						b.Fatal(err, len(n.Shelves))
					}
				}
			})
		})
	}
}

// processor is the processor time that the process has had: what counts on a
// machine that others use as well.
func processor(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
