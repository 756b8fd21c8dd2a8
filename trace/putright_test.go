package trace_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A closing as not done that was a slip is taken back whole: the packs are used
// again, at their own times, and nothing is wasted.
func TestNotDoneIsTakenBack(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	u.receive("SAL", "S1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	first := u.scan(id, gtinDialyzer, "D1").Entries[0]
	u.clock.pass(10 * time.Minute)
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}, Replaces: first.Seq, Cause: "leaked"}))
	u.scan(id, gtinSaline, "S1")
	u.clock.pass(10 * time.Minute)
	before, _ := u.exposures(gtinDialyzer, "D1")
	rec := u.ok(u.Close(ctx, u.by("nurse"), trace.Closing{Treatment: id, NotDone: true, Note: "touched by mistake"}))
	closing := rec.Entries[len(rec.Entries)-1].Seq

	u.ok(u.Correct(ctx, u.by("nurse"), closing, "touched by mistake"))
	a, xs := u.exposures(gtinDialyzer, "D1")
	if a.Mass != before.Mass {
		t.Errorf("mass balance %+v, before %+v", a.Mass, before.Mass)
	}
	if len(xs) != 2 || !xs[0].From.Equal(first.Happened) || xs[0].Until.Sub(xs[0].From) != 10*time.Minute {
		t.Errorf("exposures %+v", xs)
	}
	err := u.View(ctx, func(r inventory.Reader) error {
		tr, err := trace.TreatmentByID(r, id)
		if err == nil && (tr.Closed || tr.NotDone || len(tr.Required) == 0) {
			t.Errorf("the treatment is %+v", tr)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	u.close(id)
}

// One piece is used once: its serial a second time is a scan too many.
func TestSameSerialStops(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	scan := trace.Scan{Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1", Serial: "SN1"}}
	event[*trace.Used](u, u.ok(u.Scan(ctx, u.by("nurse"), scan)))
	stop := event[*trace.ScanStopped](u, u.ok(u.Scan(ctx, u.by("nurse"), scan)))
	if got := codes(stop.Findings)[0]; got != "same_serial:stop" {
		t.Errorf("findings %v", codes(stop.Findings))
	}
}

// A date misread at a chair changes nothing that later scans are told.
func TestExpiryOfADeliveryStands(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	for _, reason := range []string{"", "used all the same"} {
		u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1", Expires: "2025-01-31"}, Reason: reason}))
	}
	next := u.open("P2", "S1")
	if ev := event[*trace.Used](u, u.scan(next, gtinDialyzer, "D1")); len(ev.Findings) != 0 {
		t.Errorf("findings %v", codes(ev.Findings))
	}
}

func TestHoldsAddUp(t *testing.T) {
	u := newUnit(t)
	hold := func(by, reason string) {
		u.ok(u.Hold(ctx, u.by(by), inventory.Held{Product: "DLZ", Lots: []string{"D1"}, Reason: reason}))
	}
	hold("quality", "hub cracks")
	hold("nurse", "looked odd")
	on := func() (h *inventory.Hold) {
		err := u.View(ctx, func(r inventory.Reader) (err error) {
			h, err = inventory.HoldOn(r, inventory.Lot{Product: "DLZ", Number: "D1"})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	if h := on(); h == nil || h.Reason != "hub cracks; looked odd" || h.By != "quality" {
		t.Errorf("hold %+v", h)
	}
	u.ok(u.Release(ctx, u.by("quality"), inventory.Released{Product: "DLZ", Lots: []string{"D1"}, Reason: "cleared by the maker"}))
	if h := on(); h != nil {
		t.Errorf("still held: %+v", h)
	}
}

func TestAPatientsSecondTreatmentIsAsked(t *testing.T) {
	u := newUnit(t)
	u.open("P1", "S1")
	again := trace.Opening{Patient: "P1", Station: "S2"}
	if _, err := u.Open(ctx, u.by("nurse"), again); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("a second one was opened: %v", err)
	}
	again.Another = true
	u.ok(u.Open(ctx, u.by("nurse"), again))
	u.clock.pass(24 * time.Hour) // yesterday's, forgotten, is in nobody's way
	u.open("P1", "S1")
}

// What a nurse is told names places and times as people do.
func TestFindingsAreWords(t *testing.T) {
	u := newUnit(t)
	id := u.open("P1", "S1")
	day := func(days int) inventory.Date { return inventory.DateOf(u.Now(), time.UTC).AddDays(-days) }
	for days, want := range map[int]string{
		1: "Expired on " + string(day(1)) + ", yesterday.", 25: "Expired on " + string(day(25)) + ", 25 days ago.", 2520: "Expired on " + string(day(2520)) + ".",
	} {
		s := trace.Scan{Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "X" + string(day(days)), Expires: day(days)}}
		ev := event[*trace.ScanStopped](u, u.ok(u.Scan(ctx, u.by("nurse"), s)))
		told := ""
		for _, f := range ev.Findings {
			told += f.Message + " "
		}
		if !strings.Contains(told, want) || strings.Contains(told, "at cart-a") {
			t.Errorf("%d days: %q, want %q and the place by its name", days, told, want)
		}
	}
}
