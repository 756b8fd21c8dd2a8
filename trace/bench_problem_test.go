package trace_test

import (
	"fmt"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
)

// BenchmarkProblems asks in books of so many problems, four a day: for the list
// of all with what belongs together, for that of a month, and what a setup page
// tells of lots.
func BenchmarkProblems(b *testing.B) {
	for _, n := range []int{1000, 10_000} {
		c := &clock{time.Date(2020, 3, 2, 6, 0, 0, 0, time.UTC)}
		store, err := boltstore.Open(b.TempDir(), boltstore.Options{Clock: c.now, NoSync: true, Bulk: 500})
		if err != nil {
			b.Fatal(err)
		}
		book := trace.NewBook(inventory.NewBook(store, registry(), c.now))
		call := inventory.Call{Actor: "nurse"}
		if _, err := book.SetProducts(ctx, call, inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer}); err != nil {
			b.Fatal(err)
		}
		for i := range n {
			c.pass(6 * time.Hour)
			if _, err := book.ReportProblem(ctx, call, trace.ProblemFacts{Product: "DLZ", Lot: fmt.Sprintf("D-%d", i/40), Seen: []string{"leak"}}); err != nil {
				b.Fatal(err)
			}
		}
		list := func(q trace.ProblemQuery) func(*testing.B) {
			return func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if err := book.View(ctx, func(r inventory.Reader) error {
						_, err := book.ListProblems(r, q)
						return err
					}); err != nil {
						b.Fatal(err)
					}
				}
			}
		}
		b.Run(fmt.Sprintf("all/%d", n), list(trace.ProblemQuery{}))
		b.Run(fmt.Sprintf("month/%d", n), list(trace.ProblemQuery{From: c.at.AddDate(0, -1, 0)}))
		b.Run(fmt.Sprintf("lot/%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := book.View(ctx, func(r inventory.Reader) error {
					known, err := book.KnownProblems(r, c.at)
					if err != nil {
						return err
					}
					_, err = known.Of(inventory.Lot{Product: "DLZ", Number: fmt.Sprintf("D-%d", (n-1)/40)})
					return err
				}); err != nil {
					b.Fatal(err)
				}
			}
		})
		if err := store.Close(); err != nil {
			b.Fatal(err)
		}
	}
}
