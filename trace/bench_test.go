package trace_test

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// openLong opens a journal of treatments for reading, made on the first call.
func openLong(b *testing.B, o demo.Long) *trace.Book {
	b.Helper()
	dir := filepath.Join(benchDir(b), o.Name())
	made := new(demo.Clock)
	err := inventorytest.MakeOnce(dir, made.Now, func(store *boltstore.Store) error {
		return demo.MakeLong(ctx, trace.NewBook(inventory.NewBook(store, registry(), made.Now)), made, o)
	})
	if err != nil {
		b.Fatal(err)
	}
	c := &clock{time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)}
	store, err := boltstore.Open(dir, boltstore.Options{Clock: c.now, ReadOnly: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { store.Close() })
	return trace.NewBook(inventory.NewBook(store, registry(), c.now))
}

// BenchmarkExposures asks for a lot of 100 uses and one of 2,500 in journals of
// growing size, with the treatments that lack a record graded. The largest takes
// minutes to make: -bench Exposures/treatments=10_*0*$ leaves it out.
func BenchmarkExposures(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		for _, uses := range []int{100, 2500} {
			b.Run(fmt.Sprintf("treatments=%d/uses=%d", n, uses), func(b *testing.B) {
				o := demo.LongOf(n)
				ask(b, openLong(b, o), trace.Question{Product: "DLZ", Lot: o.Middle(uses)}, uses)
			})
		}
	}
}

// ask asks again and again who received a lot, and reads the answer.
func ask(b *testing.B, u *trace.Book, q trace.Question, uses int) {
	b.ReportAllocs()
	before, rounds := processor(b), 0
	for b.Loop() {
		rounds++
		a, err := u.Exposures(ctx, q)
		if err != nil {
			b.Fatal(err)
		}
		hits := 0
		if err := u.EachConfirmed(ctx, a, func(*trace.Exposure) error { hits++; return nil }); err != nil {
			b.Fatal(err)
		}
		if unscanned := uses / 50; hits != uses-unscanned || len(a.Unrecorded) < unscanned || len(a.Unrecorded) > unscanned+20 {
			b.Fatalf("%d hits, %d without a record", hits, len(a.Unrecorded))
		}
	}
	b.ReportMetric(float64((processor(b)-before).Microseconds())/1000/float64(rounds), "cpu-ms/op")
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

var benchFolder string

// benchKept names a folder, outside the repository, in which the journals of the
// benchmarks are kept for the next run. Remove it when the form of rows changes.
const benchKept = "LOTBOOK_BENCH"

// benchDir is one folder for all runs of a benchmark, since making a million
// treatments takes long.
func benchDir(b *testing.B) string {
	b.Helper()
	if kept := os.Getenv(benchKept); kept != "" {
		return kept
	}
	if benchFolder == "" {
		dir, err := os.MkdirTemp("", "lotbook-bench-")
		if err != nil {
			b.Fatal(err)
		}
		benchFolder = dir
	}
	return benchFolder
}

func TestMain(m *testing.M) {
	code := m.Run()
	if benchFolder != "" {
		_ = os.RemoveAll(benchFolder)
	}
	os.Exit(code)
}
