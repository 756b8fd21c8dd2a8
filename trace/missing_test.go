package trace_test

import (
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// What came on top of what a treatment requires must not hide that something
// required is not recorded: the treatment stays among those that an answer
// about another lot lists. (Found by trace/demo, whose truth is known.)
func TestFurtherUsesHideNothing(t *testing.T) {
	needle := func(id trace.TreatmentID, n int64) trace.Scan {
		return trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{GTIN: gtinNeedle, Lot: "N1", Quantity: n}}
	}
	dialyzer := func(id trace.TreatmentID, lot, cause string) trace.Scan {
		return trace.Scan{Treatment: id, How: trace.Scanned, Cause: cause, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: lot}}
	}
	for _, c := range []struct {
		name     string
		category inventory.Category
		missing  int64
		play     func(u *unit, id trace.TreatmentID)
	}{
		{"one of two needles recorded, and replaced", inventory.FistulaNeedle, 1, func(u *unit, id trace.TreatmentID) {
			first := u.ok(u.Scan(ctx, u.by("nurse"), needle(id, 1))).Entries[0].Seq
			again := needle(id, 1)
			again.Replaces, again.Cause = first, "failed stick"
			u.ok(u.Scan(ctx, u.by("nurse"), again))
		}},
		{"both needles recorded, one replaced", inventory.FistulaNeedle, 0, func(u *unit, id trace.TreatmentID) {
			first := u.ok(u.Scan(ctx, u.by("nurse"), needle(id, 2))).Entries[0].Seq
			again := needle(id, 1)
			again.Replaces, again.Cause = first, "failed stick"
			u.ok(u.Scan(ctx, u.by("nurse"), again))
		}},
		{"what it replaced is struck out", inventory.Dialyzer, 0, func(u *unit, id trace.TreatmentID) {
			first := u.scan(id, gtinDialyzer, "D2").Entries[0].Seq
			second := dialyzer(id, "D2", "leaked")
			second.Replaces = first
			u.ok(u.Scan(ctx, u.by("nurse"), second))
			u.ok(u.Correct(ctx, u.by("nurse"), first, "not of this treatment"))
		}},
		{"the first dialyzer not recorded, its replacement is", inventory.Dialyzer, 1, func(u *unit, id trace.TreatmentID) {
			u.ok(u.Scan(ctx, u.by("nurse"), dialyzer(id, "D2", "clotted")))
		}},
		{"said to be used and not recorded, then another recorded", inventory.Dialyzer, 1, func(u *unit, id trace.TreatmentID) {
			u.ok(u.NotRecorded(ctx, u.by("nurse"), trace.Unrecorded{Treatment: id, Category: inventory.Dialyzer, Used: true, Cause: "packaging gone"}))
			u.scan(id, gtinDialyzer, "D2")
		}},
		{"what was said is struck out", inventory.Dialyzer, 0, func(u *unit, id trace.TreatmentID) {
			said := u.ok(u.NotRecorded(ctx, u.by("nurse"), trace.Unrecorded{Treatment: id, Category: inventory.Dialyzer, Used: true, Cause: "packaging gone"}))
			u.scan(id, gtinDialyzer, "D2")
			u.ok(u.Correct(ctx, u.by("nurse"), said.Entries[0].Seq, "found in the bin: D2"))
		}},
		{"done without", inventory.Dialyzer, 0, func(u *unit, id trace.TreatmentID) {
			u.ok(u.NotRecorded(ctx, u.by("nurse"), trace.Unrecorded{Treatment: id, Category: inventory.Dialyzer, Cause: "none left"}))
		}},
		{"the replacement met a stop and was answered", inventory.Dialyzer, 1, func(u *unit, id trace.TreatmentID) {
			u.receive("DLZ", "OLD", "2026-02-01", 5, "cart-a")
			stop := u.ok(u.Scan(ctx, u.by("nurse"), dialyzer(id, "OLD", "clotted"))).Entries[0].Seq
			u.ok(u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: stop, Used: true, Reason: "nothing else there"}))
		}},
		{"the replacement of one on record met a stop and was answered", inventory.Dialyzer, 0, func(u *unit, id trace.TreatmentID) {
			u.receive("DLZ", "OLD", "2026-02-01", 5, "cart-a")
			again := dialyzer(id, "OLD", "clotted")
			again.Replaces = u.scan(id, gtinDialyzer, "D2").Entries[0].Seq
			stop := u.ok(u.Scan(ctx, u.by("nurse"), again)).Entries[0].Seq
			ev := event[*trace.Used](u, u.ok(u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: stop, Used: true, Reason: "nothing else there"})))
			if ev.Replaces != again.Replaces || ev.Cause != "clotted" {
				t.Errorf("the answer says %d %q", ev.Replaces, ev.Cause)
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			u := newUnit(t)
			u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
			u.receive("DLZ", "D2", "2027-06-30", 20, "cart-a")
			u.receive("NDL", "N1", "2027-06-30", 50, "cart-a")
			u.receive("NDL", "N2", "2027-06-30", 50, "cart-a")
			id := u.open("P1", "S1")
			c.play(u, id)
			u.clock.pass(4 * time.Hour)
			u.close(id)
			other, ask := "D1", gtinDialyzer
			if c.category == inventory.FistulaNeedle {
				other, ask = "N2", gtinNeedle
			}
			_, xs := u.exposures(ask, other)
			if listed := len(xs) == 1; listed != (c.missing > 0) {
				t.Errorf("listed for another lot: %v; %d pieces are missing", listed, c.missing)
			}
			err := u.View(ctx, func(r inventory.Reader) error {
				tr, err := trace.TreatmentByID(r, id)
				if err != nil {
					return err
				}
				var pieces int64
				for _, m := range tr.Missing() {
					if m.Category == c.category {
						pieces = m.Pieces
					}
				}
				if pieces != c.missing {
					t.Errorf("%d pieces are missing, want %d", pieces, c.missing)
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
		})
	}
}
