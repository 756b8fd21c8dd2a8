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

// mixing adds a tank, a loop over both stations, dry acid in bags and what is
// mixed of it, and receives two lots of bags.
func (u *unit) mixing() {
	u.t.Helper()
	u.ok(u.SetProducts(ctx, u.by("stock"),
		inventory.Product{ID: "BAG", Name: "Dry acid 2K, bag", Category: inventory.OtherCategory},
		inventory.Product{ID: "MIX", Name: "Acid 2K, mixed", Category: inventory.AcidConcentrate, Facts: inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 2000, Calcium: 1250, IonsKnown: true}},
		inventory.Product{ID: "MIX3", Name: "Acid 3K, mixed", Category: inventory.AcidConcentrate, Facts: inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 3000, Calcium: 1250, IonsKnown: true}},
	))
	for _, t := range []trace.TankID{"TA", "TB"} {
		u.ok(u.SetTank(ctx, u.by("stock"), trace.Tank{ID: t, Name: "Tank " + string(t)}))
	}
	u.ok(u.SetLoop(ctx, u.by("stock"), trace.Loop{ID: "L1", Name: "Loop 1", Stations: []trace.StationID{"S1", "S2"}}))
	u.receive("BAG", "G1", "2027-06-30", 8, "room")
	u.receive("BAG", "G2", "2027-06-30", 8, "room")
}

// mix makes a batch of four bags of a lot.
func (u *unit) mix(id trace.BatchID, tank trace.TankID, into trace.Poured, lots ...string) inventory.Receipt {
	u.t.Helper()
	return u.ok(u.Mix(ctx, u.by("tech"), mixture(id, "MIX", tank, into, lots...)))
}

func mixture(id trace.BatchID, product inventory.ProductID, tank trace.TankID, into trace.Poured, lots ...string) trace.Mixing {
	m := trace.Mixing{BatchMade: trace.BatchMade{Batch: id, Product: product, Tank: tank, Poured: into, Volume: 375_000, MixedBy: "Ada", CheckedBy: "Bea"}}
	for _, l := range lots {
		m.Inputs = append(m.Inputs, trace.MixInput{Stock: inventory.Stock{Product: "BAG", Lot: l, Quantity: 4 / int64(len(lots))}, From: "room"})
	}
	return m
}

func (u *unit) feed(tank trace.TankID) uint64 {
	u.t.Helper()
	return u.ok(u.Feed(ctx, u.by("tech"), trace.TankFed{Tank: tank, Loop: "L1"})).Entries[0].Seq
}

// bag returns the grades of an answer about a lot of bags, or about a batch.
func (u *unit) grades(product, lot string) map[trace.TreatmentID]trace.Grade {
	u.t.Helper()
	_, xs := u.exposures(product, lot)
	return grades(xs)
}

// TestALotIsTracedThroughItsBatch: bag to batch to treatments, and back.
func TestALotIsTracedThroughItsBatch(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	before := u.treated("P1", "S1", gtinAcid2K, "C1") // nothing feeds yet
	rec := u.mix("B1", "TA", trace.IntoEmpty, "G1")
	if len(rec.Entries) != 2 {
		t.Errorf("%d entries for a batch of one input", len(rec.Entries))
	}
	u.feed("TA")
	id := u.open("P1", "S1")
	u.view(func(r inventory.Reader) error {
		tr, err := trace.TreatmentByID(r, id)
		if err != nil {
			return err
		}
		missing, sup, err := u.Lacks(r, tr, u.clock.at)
		if len(sup) != 1 || sup[0].Tank != "TA" || sup[0].Batches[0].Batch != "B1" || len(sup[0].Findings) != 0 {
			t.Errorf("supplied by %+v", sup)
		}
		if slices.ContainsFunc(missing, func(m trace.Missing) bool { return m.Category == inventory.AcidConcentrate }) {
			t.Errorf("the acid concentrate is missing although the station is fed: %+v", missing)
		}
		return err
	})
	u.clock.pass(4 * time.Hour)
	u.close(id)
	u.clock.pass(time.Hour)
	container := u.treated("P2", "S2", gtinAcid2K, "C1")
	for _, ask := range [][2]string{{"BAG", "G1"}, {"MIX", "B1"}} {
		got := u.grades(ask[0], ask[1])
		if got[id] != trace.Confirmed || got[container] != "" || got[before] != "" || len(got) != 1 {
			t.Errorf("%s %s: %v", ask[0], ask[1], got)
		}
	}
	a, xs := u.exposures("BAG", "G1")
	if x := xs[0]; x.Via == nil || x.Via.Lot != "B1" || x.How != trace.Fed || !strings.Contains(x.Why, "tank TA") {
		t.Errorf("an exposure through a batch: %+v", x)
	}
	if a.Mixed != 4 || a.Outside != 0 || a.Mass.Used != 4 || a.Mass.OnHand != 4 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("mass %+v, %d mixed, %d outside", a.Mass, a.Mixed, a.Outside)
	}
	if got := u.grades("BAG", "G2"); len(got) != 0 {
		t.Errorf("the other lot: %v", got)
	}
	// A container that may have been on a cart: the fed one took none of it.
	u.receive("A2K", "C9", "2027-06-30", 5, "cart-a")
	gap := u.treated("P1", "S1")
	a, _ = u.exposures(gtinAcid2K, "C9")
	if u.grades("A2K", "C9")[gap] != "" || len(a.Excluded) != 1 || !strings.Contains(a.Excluded[0].Reason, "fed from a tank") {
		t.Errorf("a container's lot: excluded %+v", a.Excluded)
	}
}

func (u *unit) view(fn func(inventory.Reader) error) {
	u.t.Helper()
	if err := u.View(ctx, fn); err != nil {
		u.t.Fatal(err)
	}
}

// What was poured onto a rest does not end the older batch, and where nobody
// said whether the tank was empty, the older one is left open.
func TestToppedUpAndEmptied(t *testing.T) {
	for _, c := range []struct {
		into     trace.Poured
		old, new trace.Grade
	}{
		{trace.IntoEmpty, "", trace.Confirmed},
		{trace.OntoRest, trace.Confirmed, trace.Confirmed},
		{"", trace.Probable, trace.Confirmed},
	} {
		t.Run(string(c.into), func(t *testing.T) {
			u := newUnit(t)
			u.mixing()
			u.mix("B1", "TA", trace.IntoEmpty, "G1")
			u.feed("TA")
			u.clock.pass(time.Hour)
			first := u.treated("P1", "S1")
			u.mix("B2", "TA", c.into, "G2")
			u.clock.pass(time.Minute)
			second := u.treated("P1", "S1")
			old, young := u.grades("BAG", "G1"), u.grades("BAG", "G2")
			if old[first] != trace.Confirmed || old[second] != c.old || young[first] != "" || young[second] != c.new {
				t.Errorf("the older batch %v, the newer %v; treatments %s, %s", old, young, first, second)
			}
			// In mid-treatment: both may have been drawn from.
			during := u.open("P2", "S2")
			u.clock.pass(2 * time.Hour)
			u.ok(u.EmptyTank(ctx, u.by("tech"), trace.TankEmptied{Tank: "TA"}))
			u.mix("B3", "TA", trace.IntoEmpty, "G1")
			u.clock.pass(2 * time.Hour)
			u.close(during)
			if g2, g3 := u.grades("MIX", "B2")[during], u.grades("MIX", "B3")[during]; g2 != trace.Probable || g3 != trace.Probable {
				t.Errorf("changed in mid-treatment: %q and %q", g2, g3)
			}
		})
	}
}

// A treatment at a fed station whose record, or its prescription, leaves the
// source open is listed and not confirmed.
func TestWhatLeavesTheSourceOpen(t *testing.T) {
	for name, c := range map[string]struct {
		play func(u *unit, id trace.TreatmentID)
		want trace.Grade
	}{
		"nothing":   {func(*unit, trace.TreatmentID) {}, trace.Confirmed},
		"container": {func(u *unit, id trace.TreatmentID) { u.scan(id, gtinAcid2K, "C1") }, ""},
		"container later on": {func(u *unit, id trace.TreatmentID) {
			u.clock.pass(2 * time.Hour)
			u.scan(id, gtinAcid2K, "C1")
		}, trace.Probable},
		"container without a lot": {func(u *unit, id trace.TreatmentID) { u.scan(id, gtinAcid2K, "") }, trace.NotExcluded},
		"said to be used and not recorded": {func(u *unit, id trace.TreatmentID) {
			u.ok(u.NotRecorded(ctx, u.by("nurse"), trace.Unrecorded{Treatment: id, Category: inventory.AcidConcentrate, Used: true, Cause: "label torn"}))
		}, trace.Probable},
		"said to be done without": {func(u *unit, id trace.TreatmentID) {
			u.ok(u.NotRecorded(ctx, u.by("nurse"), trace.Unrecorded{Treatment: id, Category: inventory.AcidConcentrate, Cause: "from the tank"}))
		}, trace.Probable},
		"another tank too": {func(u *unit, _ trace.TreatmentID) {
			u.mix("B2", "TB", trace.IntoEmpty, "G2")
			ev := event[*trace.TankFed](u, u.ok(u.Feed(ctx, u.by("tech"), trace.TankFed{Tank: "TB", Stations: []trace.StationID{"S1"}})))
			if !slices.Contains(codes(ev.Findings), inventory.FindingFedTwice+":caution") {
				u.t.Errorf("a station fed twice: %v", ev.Findings)
			}
		}, trace.Probable},
		"a tank without a batch": {func(u *unit, _ trace.TreatmentID) {
			u.ok(u.Feed(ctx, u.by("tech"), trace.TankFed{Tank: "TB", Stations: []trace.StationID{"S1"}}))
		}, trace.Probable},
	} {
		t.Run(name, func(t *testing.T) {
			u := newUnit(t)
			u.mixing()
			u.receive("A2K", "C1", "2027-06-30", 5, "cart-a")
			u.mix("B1", "TA", trace.IntoEmpty, "G1")
			u.feed("TA")
			u.clock.pass(time.Minute)
			id := u.open("P1", "S1")
			c.play(u, id)
			u.clock.pass(2 * time.Hour)
			u.close(id)
			if got := u.grades("BAG", "G1")[id]; got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}

// Findings apply to what feeds a station as to a pack, and a stop leaves the
// concentrate missing.
func TestFindingsOfAFeed(t *testing.T) {
	for name, c := range map[string]struct {
		play func(u *unit)
		code string
	}{
		"a held input": {func(u *unit) {
			u.mix("B1", "TA", trace.IntoEmpty, "G1")
			u.ok(u.Hold(ctx, u.by("quality"), inventory.Held{Product: "BAG", Lots: []string{"G1"}, Reason: "notice"}))
		}, inventory.FindingHeld},
		"a held batch": {func(u *unit) {
			u.mix("B1", "TA", trace.IntoEmpty, "G1")
			u.ok(u.Hold(ctx, u.by("quality"), inventory.Held{Product: "MIX", Lots: []string{"B1"}, Reason: "conductivity"}))
		}, inventory.FindingHeld},
		"past its time": {func(u *unit) {
			m := mixture("B1", "MIX", "TA", trace.IntoEmpty, "G1")
			m.UseBy = u.clock.at.Add(30 * time.Minute)
			u.ok(u.Mix(ctx, u.by("tech"), m))
		}, inventory.FindingExpired},
		"another concentrate": {func(u *unit) { u.ok(u.Mix(ctx, u.by("tech"), mixture("B1", "MIX3", "TA", trace.IntoEmpty, "G1"))) }, inventory.FindingNotPrescribed},
	} {
		t.Run(name, func(t *testing.T) {
			u := newUnit(t)
			u.mixing()
			c.play(u)
			u.feed("TA")
			u.clock.pass(time.Hour)
			rec := u.ok(u.Open(ctx, u.by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
			ev := event[*trace.Opened](u, rec)
			if len(ev.Supplied) != 1 || !slices.Contains(codes(ev.Supplied[0].Findings), c.code+":stop") {
				t.Fatalf("the nurse is told %+v", ev.Supplied)
			}
			u.view(func(r inventory.Reader) error {
				tr, err := trace.TreatmentByID(r, ev.Treatment)
				if err != nil {
					return err
				}
				missing, _, err := u.Lacks(r, tr, u.clock.at)
				if !slices.ContainsFunc(missing, func(m trace.Missing) bool { return m.Category == inventory.AcidConcentrate }) {
					t.Error("the acid concentrate is not missing")
				}
				return err
			})
			u.clock.pass(4 * time.Hour)
			u.close(ev.Treatment)
			// It may have been used all the same.
			if got := u.grades("BAG", "G1")[ev.Treatment]; got == "" || got == trace.Confirmed {
				t.Errorf("graded %q", got)
			}
		})
	}
}

// A batch that is filled into jugs is used as packs of it.
func TestJugs(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	u.mix("J1", "", "", "G1")
	id := u.open("P1", "S1")
	ev := event[*trace.Used](u, u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Typed, Stock: inventory.Stock{Product: "MIX", Lot: "J1"}})))
	if ev.Quantity != 0 || len(ev.Findings) != 1 || ev.Findings[0].Code != inventory.FindingWrongProduct { // of the composition prescribed
		t.Errorf("a jug: %d pieces, %v", ev.Quantity, ev.Findings)
	}
	u.clock.pass(4 * time.Hour)
	u.close(id)
	silent := u.treated("P2", "S1")
	u.ok(u.EndBatch(ctx, u.by("tech"), trace.BatchEnded{Batch: "J1"}))
	u.clock.pass(time.Hour)
	later := u.treated("P2", "S1")
	got := u.grades("BAG", "G1")
	if got[id] != trace.Confirmed || got[silent] == "" || got[silent] == trace.Confirmed || got[later] != "" {
		t.Errorf("through jugs: %v (used %s, silent %s, later %s)", got, id, silent, later)
	}
}

// Which lot went in is not known: no treatment can be excluded for a lot that
// was here.
func TestABatchOfAnUnknownLot(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	ev := u.mix("B1", "TA", trace.IntoEmpty, "")
	in, err := u.Registry().Decode(ev.Entries[1])
	if err != nil || !slices.Contains(codes(in.(*trace.BatchInput).Stock.Findings), inventory.FindingNoLot+":caution") {
		t.Errorf("the entry of an input without a lot: %+v %v", in, err)
	}
	u.feed("TA")
	u.clock.pass(time.Minute)
	id := u.treated("P1", "S1")
	for _, lot := range []string{"G1", "G2"} {
		if got := u.grades("BAG", lot)[id]; got != trace.NotExcluded {
			t.Errorf("%s: %q", lot, got)
		}
	}
	if got := u.grades("MIX", "B1")[id]; got != trace.Confirmed {
		t.Errorf("the batch itself: %q", got)
	}
}

// A batch is corrected after it fed: what went in, when the feed ended, the
// batch itself. Answers follow.
func TestCorrectionsOfABatch(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	rec := u.mix("B1", "TA", trace.IntoEmpty, "G1")
	feed := u.feed("TA")
	u.clock.pass(time.Minute)
	id := u.treated("P1", "S1")
	fix := func(seq uint64) { u.t.Helper(); u.ok(u.Correct(ctx, u.by("tech"), seq, "wrong")) }
	// The wrong lot was written down.
	fix(rec.Entries[1].Seq)
	u.ok(u.AddInput(ctx, u.by("tech"), "B1", trace.MixInput{Stock: inventory.Stock{Product: "BAG", Lot: "G2", Quantity: 4}, From: "room"}))
	if a, b := u.grades("BAG", "G1")[id], u.grades("BAG", "G2")[id]; a != "" || b != trace.Confirmed {
		t.Errorf("after the lot was put right: %q, %q", a, b)
	}
	// The feed had ended before, and that too is struck out again.
	ended := u.ok(u.EndFeed(ctx, inventory.Call{Actor: "tech", Happened: u.clock.at.Add(-5*time.Hour - 30*time.Second)}, "TA", feed))
	if got := u.grades("BAG", "G2"); len(got) != 0 {
		t.Errorf("the feed ended before: %v", got)
	}
	fix(ended.Entries[0].Seq)
	if got := u.grades("BAG", "G2")[id]; got != trace.Confirmed {
		t.Errorf("the end was wrong: %q", got)
	}
	emptied := u.ok(u.EmptyTank(ctx, inventory.Call{Actor: "tech", Happened: u.clock.at.Add(-5*time.Hour - 30*time.Second)}, trace.TankEmptied{Tank: "TA"}))
	if got := u.grades("BAG", "G2"); len(got) != 0 {
		t.Errorf("the tank had been emptied: %v", got)
	}
	fix(emptied.Entries[0].Seq)
	// The batch never was: its inputs go back, and the treatment has no record.
	fix(rec.Entries[0].Seq)
	a, xs := u.exposures("BAG", "G2")
	if len(xs) != 0 || a.Mass.OnHand != 8 || a.Mass.Used != 0 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("after the batch was struck out: %+v %+v", xs, a.Mass)
	}
	if _, err := u.AddInput(ctx, u.by("tech"), "B1", trace.MixInput{Stock: inventory.Stock{Product: "BAG", Lot: "G2", Quantity: 4}, From: "room"}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("an input into a batch that was struck out: %v", err)
	}
	u.receive("A2K", "C9", "2026-12-31", 1, "cart-a") // for the gap that is left
	if got := u.grades("A2K", "C9")[id]; got == "" {
		t.Errorf("the treatment's concentrate is not known: %v", got)
	}
}

// More is taken than the book has: recorded, with a finding.
func TestABatchOfMoreThanThereIs(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	m := mixture("B1", "MIX", "TA", trace.IntoEmpty, "G1")
	m.Inputs[0].Quantity = 9
	m.CheckedBy = "ada"
	rec := u.ok(u.Mix(ctx, u.by("tech"), m))
	made, in := event2[*trace.BatchMade](u, rec, 0), event2[*trace.BatchInput](u, rec, 1)
	if !slices.Contains(codes(made.Findings), inventory.FindingNotChecked+":caution") || !slices.Contains(codes(in.Stock.Findings), inventory.FindingBelowZero+":caution") {
		t.Errorf("findings %v, %v", made.Findings, in.Stock.Findings)
	}
	a, _ := u.exposures("BAG", "G1")
	if a.Mass.Used != 9 || a.Mass.OnHand != -1 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("mass %+v", a.Mass)
	}
	// Bags of another concentrate are pointed out.
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: "BG3", Name: "Dry acid 3K", Category: inventory.OtherCategory, Facts: inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 3000, Calcium: 1250, IonsKnown: true}}))
	add := event[*trace.BatchInput](u, u.ok(u.AddInput(ctx, u.by("tech"), "B1", trace.MixInput{Stock: inventory.Stock{Product: "BG3", Lot: "X", Quantity: 1}, From: "room"})))
	if !slices.Contains(codes(add.Stock.Findings), inventory.FindingNotPrescribed+":caution") {
		t.Errorf("a bag of another composition: %v", add.Stock.Findings)
	}
}

func event2[T inventory.Event](u *unit, rec inventory.Receipt, i int) T {
	u.t.Helper()
	rec.Entries = rec.Entries[:i+1]
	return event[T](u, rec)
}

// Readings are kept as they were taken and judged by nobody.
func TestReadings(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	u.mix("B1", "TA", trace.IntoEmpty, "G1")
	temp := int64(-5)
	for _, x := range []trace.BatchReading{{Batch: "B1", Conductivity: 999_999, PH: 1}, {Batch: "B1", Temperature: &temp}} {
		u.clock.pass(time.Minute)
		u.ok(u.ReadBatch(ctx, u.by("tech"), x))
	}
	for name, x := range map[string]trace.BatchReading{"nothing": {Batch: "B1"}, "a pH of 15": {Batch: "B1", PH: 1500}, "no batch": {Batch: "B9", PH: 700}} {
		if _, err := u.ReadBatch(ctx, u.by("tech"), x); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	u.view(func(r inventory.Reader) error {
		list, err := trace.ReadingsOf(r, "B1")
		if len(list) != 2 || list[0].Conductivity != 999_999 || *list[1].Temperature != -5 || list[1].By != "tech" {
			t.Errorf("readings %+v", list)
		}
		return err
	})
}
