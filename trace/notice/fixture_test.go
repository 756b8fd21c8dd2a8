package notice_test

import (
	"context"
	"os"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// Invented GTINs with right check digits, in the range that GS1 keeps for
// documentation (0950…).
const (
	gtinDialyzer  = "09506000100012"
	gtinBloodline = "09506000100029"
	gtinUnknown   = "09506000100104"
)

var ctx = context.Background()

// A unit is a small unit with a book, for tests.
type unit struct {
	*notice.Book
	t  *testing.T
	at time.Time
}

// newUnit opens a unit with a room and two carts, two stations and three
// patients, on 2 March 2026 at 06:00 UTC. When the test ends its store is
// verified: every row must follow from the journal.
func newUnit(t *testing.T) *unit {
	t.Helper()
	u := &unit{t: t, at: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)}
	dir := t.TempDir()
	if keep := os.Getenv("LOTBOOK_TEST_KEEP"); keep != "" {
		dir = keep // for cmd/lotbook/testdata/rows
	}
	now := func() time.Time { return u.at }
	store, err := boltstore.Open(dir, boltstore.Options{Clock: now, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	reg := inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events())
	u.Book = notice.NewBook(trace.NewBook(inventory.NewBook(store, reg, now)))
	inventorytest.VerifyBolt(t, dir, reg.Project)
	t.Cleanup(func() {
		if err := store.Close(); err != nil {
			t.Error(err)
		}
	})
	for _, l := range []inventory.Location{
		{ID: "room", Name: "Supply room", Type: inventory.SupplyRoom},
		{ID: "cart-a", Name: "Cart A", Type: inventory.Cart},
		{ID: "cart-b", Name: "Cart B", Type: inventory.Cart},
	} {
		u.ok(u.SetLocation(ctx, by("admin"), l))
	}
	each := func(gtin string) []inventory.Pack {
		return []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtin, Holds: 1}}
	}
	u.ok(u.SetProducts(ctx, by("admin"),
		inventory.Product{ID: "DLZ", Name: "Dialyzer 1.8", Category: inventory.Dialyzer, Packs: each(gtinDialyzer)},
		inventory.Product{ID: "BLS", Name: "Bloodline set", Category: inventory.BloodlineSet, Packs: each(gtinBloodline)},
	))
	set := inventory.DefaultUnit()
	set.Defaults = map[inventory.Category]inventory.ProductID{inventory.BloodlineSet: "BLS"}
	u.ok(u.SetUnit(ctx, by("admin"), set))
	for _, n := range []string{"1", "2"} {
		u.ok(u.SetMachine(ctx, by("admin"), trace.Machine{ID: trace.MachineID("M" + n), Name: "Machine " + n}))
	}
	u.ok(u.SetStation(ctx, by("admin"), trace.Station{ID: "S1", Name: "Station 1", Location: "cart-a", Machine: "M1"}))
	u.ok(u.SetStation(ctx, by("admin"), trace.Station{ID: "S2", Name: "Station 2", Location: "cart-b", Machine: "M2"}))
	for _, p := range []trace.PatientID{"P1", "P2", "P3"} {
		u.ok(u.SetPatient(ctx, by("nurse"), trace.PatientSet{ID: p, Name: "Invented " + string(p)}))
		u.ok(u.SetPrescription(ctx, by("nurse"), trace.PrescriptionSet{Patient: p, Prescription: inventory.Prescription{
			Products: map[inventory.Category]inventory.ProductID{inventory.Dialyzer: "DLZ"},
			Access:   inventory.Fistula, Minutes: 240, BloodFlow: 300, DialysateFlow: 500,
		}}))
	}
	return u
}

func by(actor string) inventory.Call { return inventory.Call{Actor: actor} }

func (u *unit) ok(rec inventory.Receipt, err error) inventory.Receipt {
	u.t.Helper()
	if err != nil {
		u.t.Fatal(err)
	}
	return rec
}

func (u *unit) pass(d time.Duration) { u.at = u.at.Add(d) }

func (u *unit) event(rec inventory.Receipt, i int) inventory.Event {
	u.t.Helper()
	ev, err := u.Registry().Decode(rec.Entries[i])
	if err != nil {
		u.t.Fatal(err)
	}
	return ev
}

func (u *unit) receive(p inventory.ProductID, lot string, n int64) inventory.Receipt {
	u.t.Helper()
	return u.ok(u.Receive(ctx, by("stock"), inventory.Received{Stock: inventory.Stock{Product: p, Lot: lot, Expires: "2028-06-30", Quantity: n}, To: "cart-a"}))
}

// treat runs a treatment that uses a lot of dialyzers, or records none.
func (u *unit) treat(p trace.PatientID, s trace.StationID, stocks ...inventory.Stock) trace.TreatmentID {
	u.t.Helper()
	id := u.event(u.ok(u.Open(ctx, by("nurse"), trace.Opening{Patient: p, Station: s})), 0).(*trace.Opened).Treatment
	for _, k := range stocks {
		k.GTIN = gtinDialyzer
		u.ok(u.Scan(ctx, by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, Stock: k}))
	}
	u.pass(4 * time.Hour)
	u.ok(u.Close(ctx, by("nurse"), trace.Closing{Treatment: id}))
	u.pass(time.Hour)
	return id
}

func lot(n string) inventory.Stock { return inventory.Stock{Lot: n} }

// write records a notice on the dialyzer.
func (u *unit) write(id notice.ID, ref string, lines ...inventory.ScopeLine) notice.ID {
	u.t.Helper()
	rec := u.ok(u.Write(ctx, by("officer"), notice.Writing{Notice: id, Version: notice.Version{
		Reference: ref, Issuer: "Invented Maker", Class: "II", Received: "2026-03-20", Deadline: "2026-04-03",
		Lines: []notice.Line{{Printed: "Dialyzer 1.8 m²", Product: gtinDialyzer, Scope: lines}},
	}}))
	return u.event(rec, 0).(*notice.VersionWritten).Notice
}

func listed(lots ...string) inventory.ScopeLine {
	return inventory.ScopeLine{Kind: inventory.ScopeLots, Lots: lots}
}

func (u *unit) answer(id notice.ID, version int) *notice.Answer {
	u.t.Helper()
	a, err := u.Answer(ctx, id, version)
	if err != nil {
		u.t.Fatal(err)
	}
	return a
}

// graded returns the grade of each treatment.
func graded(a *notice.Answer) map[trace.TreatmentID]trace.Grade {
	g := map[trace.TreatmentID]trace.Grade{}
	for _, t := range a.Treatments {
		g[t.Treatment] = t.Grade
	}
	return g
}
