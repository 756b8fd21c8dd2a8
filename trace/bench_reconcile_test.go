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

// years makes a journal of a unit with three carts, 18 stations and some 45
// treatments a day, each with five things scanned. counted has each cart counted
// after each shift; otherwise nobody ever counts.
func years(b *testing.B, dir string, treatments int, counted bool) {
	b.Helper()
	c := &clock{time.Date(2020, 1, 1, 6, 0, 0, 0, time.UTC)}
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
	goods := []struct {
		id  inventory.ProductID
		cat inventory.Category
	}{{"DLZ", inventory.Dialyzer}, {"BLS", inventory.BloodlineSet}, {"ACD", inventory.AcidConcentrate}, {"BIC", inventory.Bicarbonate}, {"SAL", inventory.Saline}}
	set := inventory.DefaultUnit()
	set.Rules.Needs, set.Defaults = nil, map[inventory.Category]inventory.ProductID{}
	for _, g := range goods {
		ok(u.SetProducts(ctx, by, inventory.Product{ID: g.id, Name: string(g.id), Category: g.cat}))
		set.Rules.Needs = append(set.Rules.Needs, inventory.Need{Category: g.cat, By: inventory.NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true})
		set.Defaults[g.cat] = g.id
	}
	ok(u.SetUnit(ctx, by, set))
	carts := []inventory.LocationID{"cart-0", "cart-1", "cart-2"}
	for _, cart := range carts {
		ok(u.SetLocation(ctx, by, inventory.Location{ID: cart, Name: string(cart), Type: inventory.Cart}))
	}
	for i := range 18 {
		id := fmt.Sprint(i)
		ok(u.SetMachine(ctx, by, trace.Machine{ID: trace.MachineID("M" + id), Name: "Machine " + id}))
		ok(u.SetStation(ctx, by, trace.Station{ID: trace.StationID("S" + id), Name: "Station " + id, Location: carts[i/6], Machine: trace.MachineID("M" + id)}))
	}
	rx := inventory.Prescription{Access: inventory.Fistula, Minutes: 240, DialysateFlow: 500}
	for i := range 90 {
		id := trace.PatientID(fmt.Sprintf("P%03d", i))
		ok(u.Enrol(ctx, by, trace.Enrolment{PatientSet: trace.PatientSet{ID: id, Name: "Invented " + string(id)}, Prescription: &rx}))
	}
	number := func(n int) string { return fmt.Sprintf("L%06d", n/600) }
	stands := map[inventory.LocationID]int64{}
	for n := range treatments {
		day, slot := n/45, n%45
		shift, place := slot/15+1, slot%15
		from, _, err := set.Window(inventory.Shift{Date: inventory.Date("2020-01-01").AddDays(day), Number: shift})
		if err != nil {
			b.Fatal(err)
		}
		if n%600 == 0 {
			for _, cart := range carts {
				stands[cart] = 600
				for _, g := range goods {
					ok(u.Receive(ctx, by, inventory.Received{Stock: inventory.Stock{Product: g.id, Lot: number(n), Expires: "2099-12-31", Quantity: 600}, To: cart}))
				}
			}
		}
		c.at = from.Add(time.Duration(5+place) * time.Minute)
		rec := ok(u.Open(ctx, by, trace.Opening{Patient: trace.PatientID(fmt.Sprintf("P%03d", n%90)), Station: trace.StationID(fmt.Sprint("S", place%3*6+place/3))}))
		id := trace.TreatmentID(fmt.Sprint("T", rec.Entries[0].Seq))
		for _, g := range goods {
			ok(u.Scan(ctx, by, trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{Product: g.id, Lot: number(n), Quantity: 1}}))
		}
		ok(u.Close(ctx, by, trace.Closing{Treatment: id, Minutes: 240}))
		stands[carts[place%3]]--
		if counted && place == 14 {
			c.at = from.Add(5 * time.Hour)
			for _, cart := range carts {
				cmd := inventory.Counted{Location: cart, Complete: true, Shift: &inventory.Shift{Date: inventory.Date("2020-01-01").AddDays(day), Number: shift}}
				for _, g := range goods {
					cmd.Lines = append(cmd.Lines, inventory.CountLine{Product: g.id, Lot: number(n), Counted: stands[cart]})
				}
				ok(u.Count(ctx, by, cmd))
			}
		}
	}
	if err := store.Close(); err != nil {
		b.Fatal(err)
	}
}

// openYears opens a journal of years for reading, made on the first call.
func openYears(b *testing.B, treatments int, counted bool) *trace.Book {
	b.Helper()
	dir := filepath.Join(benchDir(b), fmt.Sprintf("years-%d-%v", treatments, counted))
	if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err != nil {
		years(b, dir, treatments, counted)
	}
	c := &clock{time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)}
	store, err := boltstore.Open(dir, boltstore.Options{Clock: c.now, ReadOnly: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { store.Close() })
	return trace.NewBook(inventory.NewBook(store, registry(), c.now))
}

// BenchmarkReconcile compares a shift in the middle of journals of growing
// size, where each shift was counted and where nobody ever counted. It must cost
// what the shift holds, not what the journal does.
func BenchmarkReconcile(b *testing.B) {
	for _, counted := range []bool{true, false} {
		for _, n := range []int{7_000, 70_000, 140_000} {
			b.Run(fmt.Sprintf("counted=%v/treatments=%d", counted, n), func(b *testing.B) {
				u := openYears(b, n, counted)
				s := inventory.Shift{Date: inventory.Date("2020-01-01").AddDays(n / 90), Number: 2}
				b.ReportAllocs()
				b.ResetTimer()
				for b.Loop() {
					rec, err := u.Reconcile(ctx, s)
					if err != nil {
						b.Fatal(err)
					}
					if rec.Treatments != 15 || len(rec.Lines) != 15 || (rec.Lines[0].Counted != nil) != counted {
						b.Fatalf("%d treatments, %d lines, %+v", rec.Treatments, len(rec.Lines), rec.Lines[0])
					}
				}
			})
		}
	}
}

// BenchmarkWatch looks at a year of 14,000 treatments, 936 counted shifts at
// three places: reading it, each shift in a snapshot of its own, and judging it.
func BenchmarkWatch(b *testing.B) {
	u := openYears(b, 14_040, true)
	for b.Loop() {
		w, err := u.Watch(ctx, trace.Watching{From: "2020-01-01", To: "2020-12-31"})
		if err != nil {
			b.Fatal(err)
		}
		if w.Shifts != 936 || w.Looked != 20 || len(w.Alarms()) != 0 {
			b.Fatalf("%d shifts, %d series, alarms %v", w.Shifts, w.Looked, w.Alarms())
		}
	}
}
