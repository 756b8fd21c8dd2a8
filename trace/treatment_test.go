package trace_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

func TestScansBecomeATreatmentsLots(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")

	ev := event[*trace.Used](u, u.scan(id, gtinDialyzer, "D1"))
	if ev.Category != inventory.Dialyzer || len(ev.Findings) != 0 {
		t.Fatalf("taken as %s with %v", ev.Category, ev.Findings)
	}
	var missing []inventory.Category
	for _, m := range ev.Missing {
		missing = append(missing, m.Category)
	}
	want := []inventory.Category{
		inventory.BloodlineSet, inventory.AcidConcentrate, inventory.Bicarbonate, inventory.Heparin, inventory.Saline, inventory.FistulaNeedle,
	}
	if !slices.Equal(missing, want) {
		t.Fatalf("missing %v, want %v", missing, want)
	}
	err := u.View(ctx, func(r inventory.Reader) error {
		b, err := inventory.BalanceAt(r, "cart-a", inventory.Lot{Product: "DLZ", Number: "D1"})
		if b.Quantity != 19 {
			t.Errorf("%d are left, want 19", b.Quantity)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestFindings(t *testing.T) {
	for _, c := range []struct {
		name  string
		setup func(*unit)
		scan  trace.Scan
		want  []string
	}{
		{"expired", func(u *unit) { u.receive("DLZ", "D1", "2026-03-01", 5, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}}, []string{"expired:stop"}},
		{"last day", func(u *unit) { u.receive("DLZ", "D1", "2026-03-02", 5, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}}, []string{"short_dated:caution"}},
		{"held", func(u *unit) {
			u.receive("DLZ", "D1", "2027-03-01", 5, "cart-a")
			u.ok(u.Hold(ctx, u.by("quality"), inventory.Held{Product: "DLZ", Lots: []string{"D1"}, Reason: "notice N-1"}))
		}, trace.Scan{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}}, []string{"held:stop"}},
		{"concentrate differs in potassium", func(u *unit) { u.receive("A3K", "C1", "2027-03-01", 5, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinAcid3K, Lot: "C1"}}, []string{"not_as_prescribed:stop"}},
		{"concentrate as prescribed", func(u *unit) { u.receive("A2K", "C1", "2027-03-01", 5, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinAcid2K, Lot: "C1"}}, nil},
		{"not for a treatment", func(u *unit) { u.receive("STR", "T1", "2027-03-01", 5, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinStrips, Lot: "T1"}}, []string{"wrong_product:stop"}},
		{"unknown product", func(*unit) {}, trace.Scan{Stock: inventory.Stock{GTIN: gtinUncatalogd, Lot: "X", Expires: "2027-01-01"}}, []string{"unknown_product:caution", "below_zero:caution"}},
		{"older lot here", func(u *unit) {
			u.receive("DLZ", "D1", "2027-03-01", 5, "cart-a")
			u.receive("DLZ", "D2", "2027-05-01", 5, "cart-a")
		}, trace.Scan{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D2"}}, []string{"older_lot_open:caution"}},
		{"older lots here that are held, expired or gone", func(u *unit) {
			u.receive("DLZ", "D1", "2027-03-01", 5, "cart-a")
			u.receive("DLZ", "D0", "2026-03-01", 5, "cart-a")
			u.receive("DLZ", "D2", "2027-05-01", 5, "cart-a")
			u.receive("DLZ", "D3", "2027-03-01", 5, "cart-a")
			u.ok(u.Hold(ctx, u.by("quality"), inventory.Held{Product: "DLZ", Lots: []string{"D1"}, Reason: "notice N-1"}))
			u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: inventory.Stock{Product: "DLZ", Lot: "D3", Quantity: 6}, From: "cart-a", Cause: "dropped"}))
		}, trace.Scan{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D2"}}, nil},
		{"box", func(u *unit) { u.receive("NDL", "N1", "2027-03-01", 50, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinNeedleBox, Lot: "N1"}}, []string{"box_code:caution"}},
		{"similar", func(u *unit) { u.receive("DLZ", "04D15309", "2027-03-01", 5, "cart-a") }, trace.Scan{Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "O4D1530 9", Expires: "2027-03-01"}}, []string{"similar_lot:caution", "below_zero:caution"}},
		{"no lot, no date", func(*unit) {}, trace.Scan{Stock: inventory.Stock{GTIN: gtinSaline}}, []string{"expiry_unknown:caution", "no_lot:caution", "below_zero:caution"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			u := newUnit(t)
			c.setup(u)
			c.scan.Treatment, c.scan.How = u.open("P1", "S1"), trace.Scanned
			rec := u.ok(u.Scan(ctx, u.by("nurse"), c.scan))
			ev, err := u.Registry().Decode(rec.Entries[0])
			if err != nil {
				t.Fatal(err)
			}
			var fs []inventory.Finding
			stopped := false
			switch ev := ev.(type) {
			case *trace.Used:
				fs = ev.Findings
			case *trace.ScanStopped:
				fs, stopped = ev.Findings, true
			}
			if got := codes(fs); !slices.Equal(got, c.want) {
				t.Errorf("findings %v, want %v", got, c.want)
			}
			if stopped != inventory.HasStop(fs) {
				t.Errorf("stopped is %v with findings %v", stopped, codes(fs))
			}
			// With a reason it is recorded whatever was found.
			c.scan.Reason = "nothing else there, physician informed"
			event[*trace.Used](u, u.ok(u.Scan(ctx, u.by("nurse"), c.scan)))
		})
	}
}

func TestAStoppedScanIsAnswered(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "OLD", "2026-02-01", 5, "cart-a")
	id := u.open("P1", "S1")
	first := u.scan(id, gtinDialyzer, "OLD").Entries[0].Seq
	second := u.scan(id, gtinDialyzer, "OLD").Entries[0].Seq

	if _, err := u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: first, Used: true}); !errors.Is(err, inventory.ErrInvalid) {
		t.Fatalf("used without a reason: %v", err)
	}
	u.ok(u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: first}))
	// The set-aside one is no use; the other waits: probable.
	_, xs := u.exposures(gtinDialyzer, "OLD")
	if len(xs) != 1 || xs[0].Grade != trace.Probable {
		t.Fatalf("exposures %+v, want one probable", xs)
	}
	u.ok(u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: second, Used: true, Reason: "only one left"}))
	_, xs = u.exposures(gtinDialyzer, "OLD")
	if len(xs) != 1 || xs[0].Grade != trace.Confirmed {
		t.Fatalf("exposures %+v, want one confirmed", xs)
	}
	if _, err := u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: second}); !errors.Is(err, inventory.ErrConflict) {
		t.Fatalf("a second answer: %v", err)
	}
}

func TestReplacementInMidTreatment(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	u.receive("DLZ", "D2", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	first := u.scan(id, gtinDialyzer, "D1").Entries[0].Seq
	u.clock.pass(90 * time.Minute)
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{
		Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D2"}, Replaces: first, Cause: "clotted",
	}))
	_, xs := u.exposures(gtinDialyzer, "D1")
	if len(xs) != 1 || xs[0].Until.Sub(xs[0].From) != 90*time.Minute {
		t.Fatalf("the first dialyzer: %+v, want 90 minutes", xs)
	}
	_, err := u.Scan(ctx, u.by("nurse"), trace.Scan{
		Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D2"}, Replaces: first, Cause: "clotted",
	})
	if !errors.Is(err, inventory.ErrConflict) {
		t.Fatalf("replacing it again: %v", err)
	}
}

func TestCorrectionStrikesOutAndKeeps(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	seq := u.scan(id, gtinDialyzer, "D1").Entries[0].Seq
	u.ok(u.Correct(ctx, u.by("nurse"), seq, "scanned at the wrong station"))
	a, xs := u.exposures(gtinDialyzer, "D1")
	if len(a.StruckOut) != 1 || a.StruckOut[0].Entry != seq {
		t.Errorf("struck out: %+v", a.StruckOut)
	}
	for _, x := range xs {
		if x.Grade == trace.Confirmed {
			t.Errorf("a struck out use is confirmed: %+v", x)
		}
	}
	if a.Mass.OnHand != 20 || a.Mass.Used != 0 {
		t.Errorf("mass balance %+v", a.Mass)
	}
	if _, err := u.Correct(ctx, u.by("nurse"), seq, "again"); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("struck out twice: %v", err)
	}
}

func TestNotDoneBecomesWaste(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	u.scan(id, gtinDialyzer, "D1")
	u.ok(u.Close(ctx, u.by("nurse"), trace.Closing{Treatment: id, NotDone: true, Note: "the patient did not come"}))
	a, xs := u.exposures(gtinDialyzer, "D1")
	if len(xs) != 0 {
		t.Errorf("a patient who did not come is listed: %+v", xs)
	}
	if a.Mass.Wasted != 1 || a.Mass.OnHand != 19 {
		t.Errorf("mass balance %+v", a.Mass)
	}
}

func TestTheSameKeyAnswersTheSame(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	id := u.open("P1", "S1")
	call := inventory.Call{Actor: "nurse", Key: "k1"}
	scan := trace.Scan{Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}}
	first := u.ok(u.Scan(ctx, call, scan))
	again := u.ok(u.Scan(ctx, call, scan))
	if !again.Replayed || again.Entries[0].Seq != first.Entries[0].Seq {
		t.Fatalf("again: %+v", again)
	}
	scan.Lot = "D2"
	if _, err := u.Scan(ctx, call, scan); !errors.Is(err, inventory.ErrKeyReused) {
		t.Fatalf("another scan under the key: %v", err)
	}
	if a, _ := u.exposures(gtinDialyzer, "D1"); a.Mass.Used != 1 {
		t.Fatalf("used %d times", a.Mass.Used)
	}
}
