package trace_test

import (
	"fmt"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// BenchmarkCompare asks what twelve treatments with a reaction share, with all
// others of three weeks (some 950), and of 210 and 400 days, in journals of
// growing size, those of BenchmarkExposures. What it costs follows from the time
// looked at and not from the journal. The largest takes minutes to make: -bench
// 'Compare/treatments=10_*0*$' leaves it out.
func BenchmarkCompare(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		for _, days := range []int{21, 210, 400} {
			if days*45 > n {
				continue
			}
			b.Run(fmt.Sprintf("treatments=%d/days=%d", n, days), func(b *testing.B) {
				u := openLong(b, demo.LongOf(n))
				// The days lie in the middle, and end there.
				end := demo.LongFirst.AddDays(n / 45 / 2)
				if days > n/45/2 {
					end = demo.LongFirst.AddDays(n/45 - 1)
				}
				q := trace.Comparing{From: end.AddDays(1 - days), To: end}
				err := u.View(ctx, func(r inventory.Reader) error {
					from, err := q.To.AddDays(-2).Time(time.UTC)
					if err != nil {
						return err
					}
					return trace.ScanStarts(r, from, from.AddDate(0, 0, 2), func(t *trace.Treatment) error {
						if q.Cases = append(q.Cases, trace.Case{Treatment: t.ID}); len(q.Cases) == 12 {
							return inventory.ErrStop
						}
						return nil
					})
				})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportAllocs()
				before, rounds := processor(b), 0
				var c *trace.Comparison
				for b.Loop() {
					rounds++
					if c, err = u.Compare(ctx, q); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64((processor(b)-before).Microseconds())/1000/float64(rounds), "cpu-ms/op")
				b.ReportMetric(float64(c.Treatments.Others), "others")
				b.ReportMetric(float64(c.Looked), "looked-at")
				if c.Treatments.Cases != 12 || c.Treatments.Others < int64(days)*40 {
					b.Fatalf("%+v", c.Treatments)
				}
			})
		}
	}
}
