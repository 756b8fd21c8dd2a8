package trace_test

import (
	"fmt"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// years is a journal of treatments that use five things each, from lots that
// last some 13 days.
func years(treatments int, counted bool) demo.Long {
	return demo.Long{Treatments: treatments, Goods: 5, Lots: []int{600}, Counted: counted}
}

// BenchmarkReconcile compares a shift in the middle of journals of growing
// size, where each shift was counted and where nobody ever counted. It must cost
// what the shift holds, not what the journal does.
func BenchmarkReconcile(b *testing.B) {
	for _, counted := range []bool{true, false} {
		for _, n := range []int{7_000, 70_000, 140_000} {
			b.Run(fmt.Sprintf("counted=%v/treatments=%d", counted, n), func(b *testing.B) {
				u := openLong(b, years(n, counted))
				s := inventory.Shift{Date: demo.LongFirst.AddDays(n / 90), Number: 2}
				b.ReportAllocs()
				b.ResetTimer()
				for b.Loop() {
					rec, err := u.Reconcile(ctx, s)
					if err != nil {
						b.Fatal(err)
					}
					if rec.Treatments != 15 || len(rec.Lines) != 15 || (rec.Lines[0].Counted != nil) != counted {
						b.Fatalf("%d treatments, %d lines, %+v", rec.Treatments, len(rec.Lines), rec.Lines[0])
					}
				}
			})
		}
	}
}

// BenchmarkWatch looks at a year of 14,000 treatments, 936 counted shifts at
// three places: reading it, each shift in a snapshot of its own, and judging it.
func BenchmarkWatch(b *testing.B) {
	u := openLong(b, years(14_040, true))
	for b.Loop() {
		w, err := u.Watch(ctx, trace.Watching{From: demo.LongFirst, To: demo.LongFirst.AddDays(365)})
		if err != nil {
			b.Fatal(err)
		}
		if w.Shifts != 936 || w.Looked != 20 || len(w.Alarms()) != 0 {
			b.Fatalf("%d shifts, %d series, alarms %v", w.Shifts, w.Looked, w.Alarms())
		}
	}
}
