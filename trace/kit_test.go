package trace_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// kits adds a kit of a bloodline set and two needles to the catalogue, and
// receives two lots of it.
func (u *unit) kits() {
	u.t.Helper()
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{
		ID: "KIT", Name: "Set with needles", Category: inventory.BloodlineSet, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinUncatalogd, Holds: 1}},
		Components: []inventory.Component{{Product: "BLS", Pieces: 1}, {Product: "NDL", Pieces: 2}},
	}))
	u.receive("KIT", "K1", "2027-06-30", 10, "cart-a")
	u.receive("KIT", "K2", "2027-06-30", 10, "cart-a")
}

func (u *unit) contents(kit string, lines ...inventory.Stock) inventory.Receipt {
	u.t.Helper()
	return u.ok(u.SetKitContents(ctx, u.by("stock"), inventory.Stock{Product: "KIT", Lot: kit}, lines...))
}

// treated opens a treatment, scans packs into it, and closes it.
func (u *unit) treated(p trace.PatientID, s trace.StationID, gtinsAndLots ...string) trace.TreatmentID {
	u.t.Helper()
	id := u.open(p, s)
	for i := 0; i < len(gtinsAndLots); i += 2 {
		u.scan(id, gtinsAndLots[i], gtinsAndLots[i+1])
	}
	u.clock.pass(4 * time.Hour)
	u.close(id)
	u.clock.pass(time.Hour)
	return id
}

func TestAKitCountsAsWhatIsInIt(t *testing.T) {
	u := newUnit(t)
	u.kits()
	id := u.open("P1", "S1")
	ev := event[*trace.Used](u, u.scan(id, gtinUncatalogd, "K1"))
	if ev.Category != inventory.BloodlineSet || len(ev.Also) != 2 {
		t.Errorf("taken as %s, also %v", ev.Category, ev.Also)
	}
	for _, m := range ev.Missing {
		if m.Category == inventory.BloodlineSet || m.Category == inventory.FistulaNeedle {
			t.Errorf("still missing: %+v", m)
		}
	}
	if slices.Contains(codes(ev.Findings), inventory.FindingWrongProduct+":caution") {
		t.Errorf("the unit uses what the kit holds: %v", ev.Findings)
	}
	// A prescription that names another needle than the kit holds is told.
	rx := prescription()
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: "NDX", Name: "Fistula needle 16G", Category: inventory.FistulaNeedle}))
	rx.Products[inventory.FistulaNeedle] = "NDX"
	u.ok(u.SetPrescription(ctx, u.by("nurse"), trace.PrescriptionSet{Patient: "P2", Prescription: rx}))
	stop := event[*trace.ScanStopped](u, u.scan(u.open("P2", "S2"), gtinUncatalogd, "K1"))
	if !strings.Contains(stop.Findings[0].Message, "16G") {
		t.Errorf("another needle is prescribed: %v", stop.Findings)
	}
}

// A component's lot reaches patients through the kit's lot; where it is not
// known which lot a kit holds, nobody who had the kit can be excluded.
func TestAComponentIsTracedThroughTheKit(t *testing.T) {
	u := newUnit(t)
	u.kits()
	one := u.treated("P1", "S1", gtinUncatalogd, "K1")
	two := u.treated("P2", "S1", gtinUncatalogd, "K2")
	grade := func(lot string) (trace.Grade, trace.Grade, *trace.LotAnswer) {
		t.Helper()
		a, xs := u.exposures(gtinNeedle, lot)
		g := grades(xs)
		return g[one], g[two], a
	}
	if g1, g2, a := grade("N7"); g1 != trace.NotExcluded || g2 != trace.NotExcluded || a.OnRecord || len(a.Holders) != 2 {
		t.Errorf("nobody said what is in them: %q %q, on record %v, holders %v", g1, g2, a.OnRecord, a.Holders)
	}
	u.contents("K1", inventory.Stock{GTIN: gtinNeedle, Lot: "N7"}, inventory.Stock{Product: "BLS", Lot: "L1"})
	unknown := u.contents("K2", inventory.Stock{Product: "NDL"})
	if g1, g2, a := grade("N7"); g1 != trace.Confirmed || g2 != trace.NotExcluded || !a.OnRecord || a.Counts[0].Patients != 1 {
		t.Errorf("one is said, the other not known: %q %q %+v", g1, g2, a.Counts)
	}
	u.ok(u.Correct(ctx, u.by("stock"), unknown.Entries[0].Seq, "found on the packing list"))
	u.contents("K2", inventory.Stock{Product: "NDL", Lot: "N8"})
	g1, g2, a := grade("N7")
	if g1 != trace.Confirmed || g2 != "" || len(a.Holders) != 1 || a.Holders[0].Pieces != 2 {
		t.Errorf("both are said: %q %q %+v", g1, g2, a.Holders)
	}
	_, xs := u.exposures(gtinNeedle, "N7")
	if x := xs[0]; x.Via == nil || x.Via.Lot != "K1" || x.Quantity != 2 || x.Lot != "N7" || !strings.Contains(x.Why, "kit K1") {
		t.Errorf("an exposure through a kit: %+v", x)
	}
	if g1, g2, _ := grade("N8"); g1 != "" || g2 != trace.Confirmed {
		t.Errorf("the other lot: %q %q", g1, g2)
	}
	// Of two lots named for one place in the kit it is open which kit has which.
	u.contents("K2", inventory.Stock{Product: "NDL", Lot: "N7"})
	if _, g2, _ := grade("N7"); g2 != trace.Probable {
		t.Errorf("one of two lots is in it: %q", g2)
	}
	// The kit's own lot is answered as before, and its mass closes.
	a, xs = u.exposures(gtinUncatalogd, "K1")
	if len(xs) != 1 || a.Mass.Used != 1 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("the kit's lot: %+v %+v", xs, a.Mass)
	}
}

// A treatment without a record may have had a kit, and what is in it.
func TestAGapMayHaveBeenAKit(t *testing.T) {
	u := newUnit(t)
	u.kits()
	u.contents("K1", inventory.Stock{Product: "NDL", Lot: "N7"})
	u.contents("K2", inventory.Stock{Product: "NDL", Lot: "N8"})
	u.treated("P1", "S1", gtinUncatalogd, "K1")
	silent := u.treated("P2", "S1")
	_, xs := u.exposures(gtinNeedle, "N7")
	i := slices.IndexFunc(xs, func(x trace.Exposure) bool { return x.Treatment == silent })
	if i < 0 || xs[i].Grade != trace.Probable || xs[i].Via == nil {
		t.Errorf("the treatment without a record: %+v", xs)
	}
	// A hold on the component stops the kit.
	u.ok(u.Hold(ctx, u.by("quality"), inventory.Held{Product: "NDL", Lots: []string{"N7"}, Reason: "bent tips"}))
	stop := event[*trace.ScanStopped](u, u.scan(u.open("P1", "S1"), gtinUncatalogd, "K1"))
	if !slices.Contains(codes(stop.Findings), inventory.FindingHeld+":stop") || !strings.Contains(stop.Findings[0].Message, "N7") {
		t.Errorf("a kit with a held lot in it: %v", stop.Findings)
	}
}

func TestWhatCannotBeInAKit(t *testing.T) {
	u := newUnit(t)
	u.kits()
	for name, lines := range map[string][]inventory.Stock{
		"nothing": {}, "another product": {{Product: "SAL", Lot: "S"}}, "the same lot twice": {{Product: "NDL", Lot: "N"}, {Product: "NDL", Lot: "N"}}, "an unknown product": {{Product: "NONE", Lot: "N"}},
	} {
		if _, err := u.SetKitContents(ctx, u.by("stock"), inventory.Stock{Product: "KIT", Lot: "K1"}, lines...); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	if _, err := u.SetKitContents(ctx, u.by("stock"), inventory.Stock{Product: "SAL", Lot: "K1"}, inventory.Stock{Product: "NDL"}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("contents of what is no kit: %v", err)
	}
	if _, err := u.SetKitContents(ctx, u.by("stock"), inventory.Stock{Product: "KIT"}, inventory.Stock{Product: "NDL"}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("contents of no lot: %v", err)
	}
}
