package trace_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
)

// bulk makes a journal of many treatments that each use one dialyzer, 100 of a
// lot; nothing else is required of them.
func bulk(b *testing.B, dir string, treatments int) {
	b.Helper()
	c := &clock{time.Date(2000, 1, 3, 6, 0, 0, 0, time.UTC)}
	store, err := boltstore.Open(dir, boltstore.Options{Clock: c.now, NoSync: true, Bulk: 2000})
	if err != nil {
		b.Fatal(err)
	}
	u := trace.NewBook(inventory.NewBook(store, registry(), c.now))
	by := inventory.Call{Actor: "nurse"}
	ok := func(rec inventory.Receipt, err error) inventory.Receipt {
		if err != nil {
			b.Fatal(err)
		}
		return rec
	}
	ok(u.SetLocation(ctx, by, inventory.Location{ID: "cart", Name: "Cart", Type: inventory.Cart}))
	ok(u.SetProducts(ctx, by, inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinDialyzer, Holds: 1}}}))
	set := inventory.DefaultUnit()
	set.Rules.Needs = []inventory.Need{{Category: inventory.Dialyzer, By: inventory.NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true}}
	ok(u.SetUnit(ctx, by, set))
	rx := inventory.Prescription{Access: inventory.Fistula, Minutes: 240, DialysateFlow: 500}
	for i := range 18 {
		id := fmt.Sprint(i)
		ok(u.SetMachine(ctx, by, trace.Machine{ID: trace.MachineID("M" + id), Name: "Machine " + id}))
		ok(u.SetStation(ctx, by, trace.Station{ID: trace.StationID("S" + id), Name: "Station " + id, Location: "cart", Machine: trace.MachineID("M" + id)}))
	}
	for i := range 200 {
		id := trace.PatientID(fmt.Sprintf("P%03d", i))
		ok(u.Enrol(ctx, by, trace.Enrolment{PatientSet: trace.PatientSet{ID: id, Name: "Invented " + string(id)}, Prescription: &rx}))
	}
	for i := range treatments {
		lot := fmt.Sprintf("D%07d", i/100)
		if i%100 == 0 {
			ok(u.Receive(ctx, by, inventory.Received{Stock: inventory.Stock{Product: "DLZ", Lot: lot, Expires: "2099-12-31", Quantity: 100}, To: "cart"}))
		}
		rec := ok(u.Open(ctx, by, trace.Opening{Patient: trace.PatientID(fmt.Sprintf("P%03d", i*7%200)), Station: trace.StationID(fmt.Sprint("S", i%18))}))
		id := trace.TreatmentID(fmt.Sprint("T", rec.Entries[0].Seq))
		ok(u.Scan(ctx, by, trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: lot}}))
		c.pass(4 * time.Minute)
		ok(u.Close(ctx, by, trace.Closing{Treatment: id, Minutes: 240}))
	}
	if err := store.Close(); err != nil {
		b.Fatal(err)
	}
}

// BenchmarkExposures asks for a lot of 100 uses in journals of growing size.
// The largest takes minutes to make: -bench Exposures/treatments=10_*0*$ leaves
// it out.
func BenchmarkExposures(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("treatments=%d", n), func(b *testing.B) {
			dir := filepath.Join(benchDir(b), fmt.Sprint(n))
			if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err != nil {
				bulk(b, dir, n)
			}
			c := &clock{time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)}
			store, err := boltstore.Open(dir, boltstore.Options{Clock: c.now, ReadOnly: true})
			if err != nil {
				b.Fatal(err)
			}
			defer store.Close()
			u := trace.NewBook(inventory.NewBook(store, registry(), c.now))
			q := trace.Question{Product: gtinDialyzer, Lot: fmt.Sprintf("D%07d", n/200)}
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				a, err := u.Exposures(ctx, q)
				if err != nil {
					b.Fatal(err)
				}
				hits := 0
				if err := u.EachConfirmed(ctx, a, func(*trace.Exposure) error { hits++; return nil }); err != nil {
					b.Fatal(err)
				}
				if hits != 100 || len(a.Unrecorded) != 0 {
					b.Fatalf("%d hits, %d without a record", hits, len(a.Unrecorded))
				}
			}
		})
	}
}

var benchFolder string

// benchDir is one folder for all runs of a benchmark, since making a million
// treatments takes long.
func benchDir(b *testing.B) string {
	b.Helper()
	if benchFolder == "" {
		dir, err := os.MkdirTemp("", "lotbook-bench-")
		if err != nil {
			b.Fatal(err)
		}
		benchFolder = dir
	}
	return benchFolder
}

func TestMain(m *testing.M) {
	code := m.Run()
	if benchFolder != "" {
		_ = os.RemoveAll(benchFolder)
	}
	os.Exit(code)
}
