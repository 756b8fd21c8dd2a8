package trace_test

import (
	"context"
	"os"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
)

// Invented GTINs with right check digits, in the range that GS1 keeps for
// documentation (0950…).
const (
	gtinDialyzer   = "09506000100012"
	gtinBloodline  = "09506000100029"
	gtinAcid2K     = "09506000100036"
	gtinAcid3K     = "09506000100043"
	gtinBicarb     = "09506000100050"
	gtinNeedle     = "09506000100067"
	gtinNeedleBox  = "19506000100064"
	gtinSaline     = "09506000100074"
	gtinHeparin    = "09506000100081"
	gtinStrips     = "09506000100098"
	gtinUncatalogd = "09506000100104"
)

// A clock that tests move.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

func (c *clock) pass(d time.Duration) { c.at = c.at.Add(d) }

// A unit is a small unit with a book, for tests.
type unit struct {
	*trace.Book
	t     *testing.T
	clock *clock
	dir   string
}

var ctx = context.Background()

func registry() *inventory.Registry {
	return inventory.NewRegistry(inventory.Events(), trace.Events())
}

// newUnit opens a unit with two carts, two stations, two patients and a
// catalogue, on 2 March 2026 at 06:00 UTC. When the test ends its store is
// verified: every row must follow from the journal.
func newUnit(t *testing.T) *unit {
	t.Helper()
	c := &clock{time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)}
	dir := t.TempDir()
	if keep := os.Getenv("LOTBOOK_TEST_KEEP"); keep != "" {
		dir = keep // for cmd/lotbook/testdata/rows
	}
	store, err := boltstore.Open(dir, boltstore.Options{Clock: c.now, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	reg := registry()
	u := &unit{trace.NewBook(inventory.NewBook(store, reg, c.now)), t, c, dir}
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
		{ID: "quarantine", Name: "Quarantine", Type: inventory.Quarantine},
	} {
		u.ok(u.SetLocation(ctx, u.by("admin"), l))
	}
	each := func(gtin string) []inventory.Pack {
		return []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtin, Holds: 1}}
	}
	u.ok(u.SetProducts(ctx, u.by("admin"),
		inventory.Product{ID: "DLZ", Name: "Dialyzer 1.8", Category: inventory.Dialyzer, Packs: each(gtinDialyzer)},
		inventory.Product{ID: "BLS", Name: "Bloodline set", Category: inventory.BloodlineSet, Packs: each(gtinBloodline)},
		inventory.Product{ID: "A2K", Name: "Acid 2K", Category: inventory.AcidConcentrate, Packs: each(gtinAcid2K), Facts: inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 2000, Calcium: 1250, IonsKnown: true, FillVolume: 5000}},
		inventory.Product{ID: "A3K", Name: "Acid 3K", Category: inventory.AcidConcentrate, Packs: each(gtinAcid3K), Facts: inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 3000, Calcium: 1250, IonsKnown: true, FillVolume: 5000}},
		inventory.Product{ID: "BIC", Name: "Bicarbonate cartridge", Category: inventory.Bicarbonate, Packs: each(gtinBicarb)},
		inventory.Product{ID: "NDL", Name: "Fistula needle 15G", Category: inventory.FistulaNeedle, Packs: []inventory.Pack{
			{Level: inventory.LevelEach, GTIN: gtinNeedle, Holds: 1}, {Level: inventory.LevelInner, GTIN: gtinNeedleBox, Holds: 50},
		}},
		inventory.Product{ID: "SAL", Name: "Saline 1 L", Category: inventory.Saline, Packs: each(gtinSaline)},
		inventory.Product{ID: "HEP", Name: "Heparin vial", Category: inventory.Heparin, Packs: each(gtinHeparin), Facts: inventory.Facts{FillVolume: 10, UnitsPerML: 1000}},
		inventory.Product{ID: "STR", Name: "Test strips", Category: inventory.TestStrip, Packs: each(gtinStrips)},
	))
	set := inventory.DefaultUnit()
	set.Defaults = map[inventory.Category]inventory.ProductID{
		inventory.BloodlineSet: "BLS", inventory.Bicarbonate: "BIC", inventory.FistulaNeedle: "NDL", inventory.Saline: "SAL", inventory.Heparin: "HEP",
	}
	u.ok(u.SetUnit(ctx, u.by("admin"), set))
	for _, m := range []trace.Machine{{ID: "M1", Name: "Machine 1"}, {ID: "M2", Name: "Machine 2"}} {
		u.ok(u.SetMachine(ctx, u.by("admin"), m))
	}
	u.ok(u.SetStation(ctx, u.by("admin"), trace.Station{ID: "S1", Name: "Station 1", Location: "cart-a", Machine: "M1"}))
	u.ok(u.SetStation(ctx, u.by("admin"), trace.Station{ID: "S2", Name: "Station 2", Location: "cart-b", Machine: "M2"}))
	for _, p := range []trace.PatientID{"P1", "P2"} {
		u.ok(u.SetPatient(ctx, u.by("nurse"), trace.PatientSet{ID: p, Name: "Invented " + string(p)}))
		u.ok(u.SetPrescription(ctx, u.by("nurse"), trace.PrescriptionSet{Patient: p, Prescription: prescription()}))
	}
	return u
}

// prescription is 4 h at a blood flow of 400 mL/min with a factor of 1.8.
func prescription() inventory.Prescription {
	return inventory.Prescription{
		Products: map[inventory.Category]inventory.ProductID{inventory.Dialyzer: "DLZ", inventory.AcidConcentrate: "A2K"},
		Access:   inventory.Fistula, Minutes: 240, BloodFlow: 400, FlowFactor: 1800,
		Heparin: &inventory.HeparinDose{Bolus: 2000, Rate: 1000, StopEarly: 60},
	}
}

func (u *unit) by(actor string) inventory.Call { return inventory.Call{Actor: actor} }

func (u *unit) ok(rec inventory.Receipt, err error) inventory.Receipt {
	u.t.Helper()
	if err != nil {
		u.t.Fatal(err)
	}
	return rec
}

// event decodes the last entry of a receipt.
func event[T inventory.Event](u *unit, rec inventory.Receipt) T {
	u.t.Helper()
	ev, err := u.Registry().Decode(rec.Entries[len(rec.Entries)-1])
	if err != nil {
		u.t.Fatal(err)
	}
	x, ok := ev.(T)
	if !ok {
		u.t.Fatalf("the entry is a %s", ev.Kind())
	}
	return x
}

func (u *unit) receive(p inventory.ProductID, lot string, expires inventory.Date, n int64, to inventory.LocationID) {
	u.t.Helper()
	u.ok(u.Receive(ctx, u.by("stock"), inventory.Received{Stock: inventory.Stock{Product: p, Lot: lot, Expires: expires, Quantity: n}, To: to}))
}

func (u *unit) open(p trace.PatientID, s trace.StationID) trace.TreatmentID {
	u.t.Helper()
	return event[*trace.Opened](u, u.ok(u.Open(ctx, u.by("nurse"), trace.Opening{Patient: p, Station: s}))).Treatment
}

func (u *unit) scan(t trace.TreatmentID, gtin, lot string) inventory.Receipt {
	u.t.Helper()
	return u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: t, How: trace.Scanned, Stock: inventory.Stock{GTIN: gtin, Lot: lot}}))
}

func (u *unit) close(t trace.TreatmentID) {
	u.t.Helper()
	u.ok(u.Close(ctx, u.by("nurse"), trace.Closing{Treatment: t}))
}

func (u *unit) exposures(gtin, lot string) (*trace.LotAnswer, []trace.Exposure) {
	u.t.Helper()
	a, err := u.Exposures(ctx, trace.Question{Product: gtin, Lot: lot})
	if err != nil {
		u.t.Fatal(err)
	}
	var xs []trace.Exposure
	if err := u.EachConfirmed(ctx, a, func(x *trace.Exposure) error { xs = append(xs, *x); return nil }); err != nil {
		u.t.Fatal(err)
	}
	return a, append(xs, a.Unrecorded...)
}

func codes(fs []inventory.Finding) []string {
	var cs []string
	for _, f := range fs {
		cs = append(cs, f.Code+":"+string(f.Level))
	}
	return cs
}
