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

// grades returns the grade of each treatment.
func grades(xs []trace.Exposure) map[trace.TreatmentID]trace.Grade {
	g := map[trace.TreatmentID]trace.Grade{}
	for _, x := range xs {
		g[x.Treatment] = x.Grade
	}
	return g
}

// A treatment without a dialyzer on record is graded by what was open where.
func TestGrades(t *testing.T) {
	u := newUnit(t)
	early := u.open("P1", "S1") // before the lot came, on another day
	u.clock.pass(4 * time.Hour)
	u.close(early)
	u.clock.pass(48 * time.Hour)
	u.receive("DLZ", "D1", "2027-06-30", 2, "cart-a")
	u.receive("DLZ", "D2", "2027-06-30", 20, "cart-b")

	treat := func(p trace.PatientID, s trace.StationID, lot string) trace.TreatmentID {
		id := u.open(p, s)
		if lot != "" {
			u.scan(id, gtinDialyzer, lot)
		}
		u.clock.pass(4 * time.Hour)
		u.close(id)
		u.clock.pass(time.Hour)
		return id
	}
	used := treat("P1", "S1", "D1")
	unrecordedHere := treat("P2", "S1", "")
	unrecordedThere := treat("P2", "S2", "")
	other := treat("P1", "S2", "D2")

	a, xs := u.exposures(gtinDialyzer, "D1")
	got := grades(xs)
	for id, want := range map[trace.TreatmentID]trace.Grade{
		early: "", used: trace.Confirmed, unrecordedHere: trace.Probable, unrecordedThere: trace.NotExcluded, other: "",
	} {
		if got[id] != want {
			t.Errorf("%s is %q, want %q", id, got[id], want)
		}
	}
	if a.Counts[0].Patients != 1 || a.Counts[1].Patients != 1 || a.Counts[2].Patients != 0 {
		t.Errorf("a patient counts under the surest grade: %+v", a.Counts)
	}

	// One complete count without it is not enough, the second is.
	late := func() trace.Grade {
		id := treat("P2", "S1", "")
		_, xs := u.exposures(gtinDialyzer, "D1")
		return grades(xs)[id]
	}
	count := func(loc inventory.LocationID) {
		u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: loc, Complete: true}))
		u.clock.pass(time.Minute)
	}
	count("cart-a")
	if g := late(); g == "" {
		t.Errorf("excluded after one count")
	}
	count("cart-a")
	if g := late(); g == "" {
		t.Errorf("excluded by counts of one place, when a piece may lie uncounted at another")
	}
	if a, _ := u.exposures(gtinDialyzer, "D1"); len(a.Limits) != 1 || !strings.Contains(a.Limits[0], "Cart B, Supply room") {
		t.Errorf("it is not said which places were never counted: %q", a.Limits)
	}
}

// A piece that is carried to the next place before the first is counted is met by
// the counts of that place only: two of each place are not enough.
func TestCountsAndACarriedPiece(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 2, "cart-a")
	u.clock.pass(time.Hour)
	for _, step := range []struct {
		count []inventory.LocationID
		want  trace.Grade
	}{
		{[]inventory.LocationID{"room", "room", "cart-b", "cart-b"}, trace.NotExcluded},
		// Carried to the room or to cart B in between.
		{[]inventory.LocationID{"cart-a", "cart-a"}, trace.NotExcluded},
		// Carried just before cart A was first counted, and overlooked once.
		{[]inventory.LocationID{"room", "cart-b"}, trace.NotExcluded},
		{[]inventory.LocationID{"room"}, trace.NotExcluded},
		{[]inventory.LocationID{"cart-b"}, ""},
	} {
		for _, loc := range step.count {
			u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: loc, Complete: true}))
			u.clock.pass(time.Minute)
		}
		id := u.open("P2", "S1")
		u.clock.pass(4 * time.Hour)
		u.close(id)
		if _, xs := u.exposures(gtinDialyzer, "D1"); grades(xs)[id] != step.want {
			t.Errorf("after counts of %v: %q, want %q", step.count, grades(xs)[id], step.want)
		}
	}
}

func TestAllAccountedFor(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 1, "cart-a")
	first := u.open("P1", "S1")
	u.scan(first, gtinDialyzer, "D1")
	u.clock.pass(4 * time.Hour)
	u.close(first)
	next := u.open("P2", "S1")
	u.clock.pass(4 * time.Hour)
	u.close(next)
	if _, xs := u.exposures(gtinDialyzer, "D1"); len(xs) != 1 {
		t.Errorf("%+v, want the one that used the only piece", xs)
	}
}

// "None found" and "not recorded" never look alike.
func TestUnknownLotIsAnotherAnswerThanNoPatient(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "O4015309", "2027-06-30", 1, "room")
	a, xs := u.exposures(gtinDialyzer, "O4015309")
	if !a.OnRecord || len(xs) != 0 {
		t.Errorf("on record %v, %d exposures", a.OnRecord, len(xs))
	}
	a, _ = u.exposures(gtinDialyzer, "04015309")
	if a.OnRecord || len(a.Similar) != 1 {
		t.Errorf("on record %v, similar %v", a.OnRecord, a.Similar)
	}
	if _, err := u.Exposures(ctx, trace.Question{Product: "09506000199999", Lot: "X"}); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("a wrong GTIN: %v", err)
	}
}

// What was scanned before the product was in the catalogue is found under it.
func TestProvisionalProductIsFoundLater(t *testing.T) {
	u := newUnit(t)
	id := u.open("P1", "S1")
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, Category: inventory.Dialyzer, Stock: inventory.Stock{GTIN: gtinUncatalogd, Lot: "U1", Expires: "2027-01-01"}}))
	if _, xs := u.exposures(gtinUncatalogd, "U1"); len(xs) != 1 {
		t.Fatalf("before: %+v", xs)
	}
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{
		ID: "DLN", Name: "New dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinUncatalogd, Holds: 1}},
	}))
	a, xs := u.exposures("DLN", "U1")
	if len(xs) != 1 || a.Product != "DLN" {
		t.Fatalf("after: %s %+v", a.Product, xs)
	}
}

// A pack of another agency is taken as its product by its code, and found under
// it also when it was scanned before anyone catalogued it.
func TestPacksOfOtherAgencies(t *testing.T) {
	u := newUnit(t)
	id := u.open("P1", "S1")
	hibc, iccbba := inventory.HIBCCode("A999", "1234", "5"), inventory.ICCBBACode("A9999XYZ100T0944")
	scan := func(p inventory.ProductID, lot string) *trace.Used {
		t.Helper()
		return event[*trace.Used](u, u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{
			Treatment: id, How: trace.Scanned, Reason: "agreed", Stock: inventory.Stock{Product: p, Lot: lot, Expires: "2027-01-01"},
		})))
	}
	box := func(ev *trace.Used) bool {
		return slices.ContainsFunc(ev.Findings, func(f inventory.Finding) bool { return f.Code == inventory.FindingBoxScanned })
	}
	if ev := scan(hibc, "U1"); ev.Product != hibc || ev.Category != "" {
		t.Errorf("not catalogued: %+v", ev)
	}
	if _, xs := u.exposures(string(hibc), "U1"); len(xs) != 1 {
		t.Errorf("before: %+v", xs)
	}
	product := inventory.Product{ID: "DLN", Name: "New dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{
		{Level: inventory.LevelEach, GTIN: gtinUncatalogd, Code: string(iccbba), Holds: 1}, {Level: inventory.LevelCase, Code: string(hibc), Holds: 12},
	}}
	u.ok(u.SetProducts(ctx, u.by("stock"), product))
	if ev := scan(hibc, "U1"); ev.Product != "DLN" || ev.Category != inventory.Dialyzer || !box(ev) {
		t.Errorf("a case: %+v", ev)
	}
	if ev := scan(iccbba, "U1"); ev.Product != "DLN" || box(ev) {
		t.Errorf("a piece: %+v", ev)
	}
	for _, asked := range []string{"DLN", string(hibc), string(iccbba), gtinUncatalogd} {
		if a, xs := u.exposures(asked, "U1"); len(xs) != 3 || a.Product != "DLN" {
			t.Errorf("%s: %s %+v", asked, a.Product, xs)
		}
	}
	other := product
	other.ID = "DLO"
	other.Packs = product.Packs[1:]
	if _, err := u.SetProducts(ctx, u.by("stock"), other); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("one code of two products: %v", err)
	}
	for _, code := range []string{"hibc:", "hibc:9999123", "hibc:A999 1234", "hibc:A99912x", "hibc:A9991234Z", "iccbba:A9999XYZ100T094", "A99912345"} {
		other.Packs = []inventory.Pack{{Level: inventory.LevelEach, Code: code, Holds: 1}}
		if _, err := u.SetProducts(ctx, u.by("stock"), other); !errors.Is(err, inventory.ErrInvalid) {
			t.Errorf("%s as a pack's code: %v", code, err)
		}
		if _, err := u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, Stock: inventory.Stock{Product: inventory.ProductID(code), Lot: "X"}}); err == nil {
			t.Errorf("%s was taken for a product", code)
		}
	}
	product.Packs = product.Packs[:1]
	u.ok(u.SetProducts(ctx, u.by("stock"), product))
	if ev := scan(hibc, "U2"); ev.Product != hibc {
		t.Errorf("its pack was taken out of the catalogue: %+v", ev)
	}
}

func TestMassBalanceCloses(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 48, "room")
	st := func(n int64) inventory.Stock { return inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: n} }
	u.ok(u.Borrow(ctx, u.by("stock"), inventory.Borrowed{Stock: st(5), To: "room", Other: "Unit North"}))
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: st(20), From: "room", To: "cart-a"}, inventory.Moved{Stock: st(3), From: "room", To: "quarantine"}))
	id := u.open("P1", "S1")
	u.scan(id, gtinDialyzer, "D1")
	u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: st(2), From: "cart-a", Cause: "dropped"}))
	u.ok(u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: st(4), From: "room", How: inventory.HowReturned, Other: "supplier"}))
	u.ok(u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: st(1), From: "room", How: inventory.HowDestroyed, Other: "witness"}))
	u.ok(u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: st(2), From: "room", How: inventory.HowLent, Other: "Unit North"}))
	u.clock.pass(time.Hour)
	u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-a", Lines: []inventory.CountLine{{Product: "DLZ", Lot: "D1", Counted: 14}}}))
	a, _ := u.exposures(gtinDialyzer, "D1")
	want := inventory.MassBalance{Received: 48, TransferredIn: 5, Used: 1, Wasted: 2, OnHand: 14 + 23, Held: 3, Returned: 4, Destroyed: 1, TransferredOut: 2, Unaccounted: 3}
	if a.Mass != want || a.Mass.In() != a.Mass.Out() {
		t.Errorf("mass balance %+v (%d in, %d out), want %+v", a.Mass, a.Mass.In(), a.Mass.Out(), want)
	}
	// A use of before the count, written down after it, explains one piece.
	u.ok(u.Scan(ctx, inventory.Call{Actor: "nurse", Happened: u.clock.at.Add(-30 * time.Minute)}, trace.Scan{Treatment: id, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}}))
	a, _ = u.exposures(gtinDialyzer, "D1")
	if a.Mass.Unaccounted != 2 || a.Mass.OnHand != 37 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("after a late entry: %+v", a.Mass)
	}
}

// A kind that the unit does not keep by lot never answers "no patient".
func TestKindsNotKeptByLot(t *testing.T) {
	u := newUnit(t)
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: "PCK", Name: "Access pack", Category: inventory.AccessPack}))
	u.receive("PCK", "K1", "2027-06-30", 10, "cart-a")
	id := u.open("P1", "S1")
	u.clock.pass(4 * time.Hour)
	u.close(id)
	a, xs := u.exposures("PCK", "K1")
	if len(xs) != 1 || xs[0].Grade != trace.NotExcluded || len(a.Limits) != 1 {
		t.Errorf("%+v with limits %q, want the one treatment that used a pack", xs, a.Limits)
	}
}

// A scan that met a stop and was never answered is listed, whatever else is on
// record, and though the lot was never received.
func TestUnansweredStopIsListed(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 10, "cart-a")
	id := u.open("P1", "S1")
	u.scan(id, gtinDialyzer, "D1")
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "OLD", Expires: "2025-01-01"}}))
	u.clock.pass(4 * time.Hour)
	u.close(id)
	a, xs := u.exposures(gtinDialyzer, "OLD")
	if len(xs) != 1 || xs[0].Grade != trace.Probable || !a.OnRecord {
		t.Errorf("%+v (on record %v), want one probable", xs, a.OnRecord)
	}
}

// A run longer than planned that needed another container, of which no lot is
// recorded, is a gap.
func TestLongerRunRequiresMore(t *testing.T) {
	u := newUnit(t)
	u.receive("A2K", "C1", "2027-06-30", 10, "cart-a")
	u.receive("A2K", "C2", "2027-06-30", 10, "cart-a")
	id := u.open("P1", "S1") // 4.007 L with priming: one can of 5 L
	u.scan(id, gtinAcid2K, "C1")
	u.clock.pass(6 * time.Hour) // 360 min: 5.927 L, a second can
	u.close(id)
	if _, xs := u.exposures(gtinAcid2K, "C2"); len(xs) != 1 || xs[0].Grade != trace.NotExcluded {
		t.Errorf("%+v, want the run whose second can is not on record", xs)
	}
}

// A cart that is bought after a lot was gone does not bring it back.
func TestANewPlaceReopensNothing(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 5, "cart-a")
	for range 2 {
		u.clock.pass(time.Hour)
		for _, loc := range []inventory.LocationID{"cart-a", "cart-b", "room", "quarantine"} {
			u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: loc, Complete: true}))
		}
	}
	before, _ := u.exposures(gtinDialyzer, "D1")
	u.clock.pass(24 * time.Hour)
	u.ok(u.SetLocation(ctx, u.by("admin"), inventory.Location{ID: "cart-n", Name: "New cart", Type: inventory.Cart}))
	u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: "cart-n", Complete: true}))
	id := u.open("P1", "S1")
	u.clock.pass(4 * time.Hour)
	u.close(id)
	after, xs := u.exposures(gtinDialyzer, "D1")
	if before.Last.IsZero() || !after.Last.Equal(before.Last) || len(xs) != 0 {
		t.Errorf("gone at %v, with a new cart at %v: %+v", before.Last, after.Last, xs)
	}
}

// A kind that the unit began to keep by lot later: the treatments before are
// listed all the same.
func TestKindKeptByLotSinceLater(t *testing.T) {
	u := newUnit(t)
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: "PCK", Name: "Access pack", Category: inventory.AccessPack}))
	u.receive("PCK", "K1", "2027-06-30", 10, "cart-a")
	before := u.open("P1", "S1")
	u.clock.pass(4 * time.Hour)
	u.close(before)
	set := inventory.DefaultUnit()
	for i := range set.Rules.Needs {
		set.Rules.Needs[i].Scan = true
	}
	u.ok(u.SetUnit(ctx, u.by("admin"), set))
	u.clock.pass(time.Hour)
	after := u.open("P2", "S1")
	u.clock.pass(4 * time.Hour)
	u.close(after)
	_, xs := u.exposures("PCK", "K1")
	got := grades(xs)
	if got[before] == "" || got[after] == "" || len(got) != 2 {
		t.Errorf("listed: %v, want both", got)
	}
}
