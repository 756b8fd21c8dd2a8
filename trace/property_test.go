package trace_test

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
)

// A failer is a *testing.T or a *rapid.T.
type failer interface {
	Helper()
	Errorf(string, ...any)
	Fatal(...any)
	Fatalf(string, ...any)
}

// A smallBook is a book of the small world, with the treatment that is open in
// it.
type smallBook struct {
	*trace.Book
	treatment trace.TreatmentID
}

// smallClock stands after all that can happen.
func smallClock() time.Time { return inventorytest.Start().Add(24 * time.Hour) }

// newSmallBook makes a book of the small world, or opens one: all is written
// under keys.
func newSmallBook(t failer, s inventory.Store) *smallBook {
	t.Helper()
	b := &smallBook{Book: trace.NewBook(inventory.NewBook(s, registry(), smallClock))}
	var errs []error
	step := func(_ inventory.Receipt, err error) { errs = append(errs, err) }
	n := 0
	call := func() inventory.Call {
		n++
		return inventory.Call{Actor: "admin", Key: fmt.Sprint("world ", n), Happened: inventorytest.Start().Add(-time.Hour)}
	}
	step(b.SetPatient(ctx, call(), trace.PatientSet{ID: "P1", Name: "Invented One"}))
	step(b.SetProducts(ctx, call(), append(
		smallProducts(""),
		inventory.Product{ID: "MIX", Name: "Acid, mixed", Category: inventory.AcidConcentrate},
		inventory.Product{ID: "KIT", Name: "Kit", Category: inventory.AccessPack, Components: []inventory.Component{{Product: "NDL", Pieces: 2}}})...))
	for _, p := range smallPlaces {
		step(b.SetLocation(ctx, call(), inventory.Location{ID: p, Name: string(p), Type: smallKind(p), Patient: map[inventory.LocationID]string{"home": "P1"}[p]}))
	}
	step(b.SetLocation(ctx, call(), inventory.Location{ID: "north", Name: "Unit North", Type: inventory.OtherUnit}))
	step(b.SetTank(ctx, call(), trace.Tank{ID: "T1", Name: "Tank 1"}))
	step(b.Receive(ctx, call(), inventory.Received{Stock: inventory.Stock{Product: "KIT", Lot: "K0", Quantity: 1}, To: "room"}))
	step(b.Mix(ctx, call(), trace.Mixing{
		BatchMade: trace.BatchMade{Batch: "B-first", Product: "MIX", Tank: "T1", MixedBy: "Ada"},
		Inputs:    []trace.MixInput{{Stock: inventory.Stock{Product: "KIT", Lot: "K0", Quantity: 1}, From: "room"}},
	}))
	step(b.SetMachine(ctx, call(), trace.Machine{ID: "M1", Name: "Machine 1"}))
	step(b.SetStation(ctx, call(), trace.Station{ID: "S1", Name: "Station 1", Location: "cart", Machine: "M1"}))
	rx := inventory.Prescription{Access: inventory.Catheter, Minutes: 240, BloodFlow: 300, DialysateFlow: 500}
	rec, err := b.Open(ctx, call(), trace.Opening{Patient: "P1", Station: "S1", Prescription: &rx})
	if err := errors.Join(append(errs, err)...); err != nil {
		t.Fatal(err)
	}
	ev, err := b.Registry().Decode(rec.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	b.treatment = ev.(*trace.Opened).Treatment
	return b
}

func smallKind(p inventory.LocationID) inventory.PlaceKind {
	switch p {
	case "quarantine":
		return inventory.Quarantine
	case "home":
		return inventory.HomeStore
	case "north":
		return inventory.OtherUnit
	}
	return inventory.SupplyRoom
}

// An outcome is what a book says in the end, without the numbers of entries.
type outcome struct {
	Balances map[inventory.LocationID]map[inventory.Lot]int64
	Mass     map[inventory.Lot]inventory.MassBalance
	Diffs    map[inventory.Lot][]inventory.Difference
	Orders   map[inventory.OrderID]string
}

// conclude reads a book's outcome and holds it to itself and to a model: each
// balance is what a walk over the lot's ledger leaves there and what the model
// has, the mass balance closes and is the model's, and what is on hand is what is
// not zero.
func conclude(t failer, b *smallBook, m *pieces) outcome {
	t.Helper()
	out := outcome{map[inventory.LocationID]map[inventory.Lot]int64{}, map[inventory.Lot]inventory.MassBalance{}, map[inventory.Lot][]inventory.Difference{}, map[inventory.OrderID]string{}}
	for _, p := range smallPlaces {
		out.Balances[p] = map[inventory.Lot]int64{}
	}
	err := b.View(ctx, func(r inventory.Reader) error {
		for _, l := range smallLots {
			if err := out.lot(t, r, l, m); err != nil {
				return err
			}
		}
		for _, p := range smallPlaces {
			there, err := inventory.OnHand(r, p, "")
			if err != nil {
				return err
			}
			onHand := map[inventory.Lot]int64{}
			for _, bal := range there {
				onHand[bal.Lot] = bal.Quantity
			}
			if !maps.Equal(onHand, out.Balances[p]) {
				t.Errorf("on hand at %s are %v, and not zero are %v", p, onHand, out.Balances[p])
			}
			if !maps.Equal(onHand, m.at[p]) {
				t.Errorf("on hand at %s are %v, and what happened leaves %v", p, onHand, m.at[p])
			}
		}
		return inventory.ScanOrders(r, "", func(h *inventory.OrderHead) error {
			s, err := inventory.OrderByID(r, h.ID)
			if err == nil {
				out.Orders[h.ID] = fmt.Sprintf("%s %+v %+v", s.Status, s.Progress, s.Other)
				if h.Status != s.Status {
					t.Errorf("order %s is listed as %s and is %s", h.ID, h.Status, s.Status)
				}
			}
			return err
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func (o *outcome) lot(t failer, r inventory.Reader, l inventory.Lot, m *pieces) error {
	var tally inventory.Tally
	if err := inventory.ScanLedger(r, l, func(m *inventory.Movement) error { tally.Add(m); return nil }); err != nil {
		return err
	}
	left := map[inventory.LocationID]int64{}
	for _, bal := range tally.Lent(l, smallKind) {
		have, err := inventory.BalanceAt(r, bal.Location, l)
		if err != nil {
			return err
		}
		if have.Quantity != bal.Quantity {
			t.Errorf("the balance of %v at %s is %d, and a walk over its ledger lends %d", l, bal.Location, have.Quantity, bal.Quantity)
		}
	}
	for _, bal := range tally.Close(l, false, smallKind) {
		left[bal.Location] = bal.Quantity
	}
	for _, p := range smallPlaces {
		bal, err := inventory.BalanceAt(r, p, l)
		if err != nil {
			return err
		}
		if bal.Quantity != left[p] {
			t.Errorf("the balance of %v at %s is %d, and a walk over its ledger leaves %d", l, p, bal.Quantity, left[p])
		}
		if bal.Quantity != 0 {
			o.Balances[p][l] = bal.Quantity
		}
	}
	if in, out := tally.Mass.In(), tally.Mass.Out(); in != out {
		t.Errorf("the mass balance of %v does not close: %d in, %d out", l, in, out)
	}
	if tally.Mass != *m.mass[l] {
		t.Errorf("the mass balance of %v is %+v, and what happened makes it %+v", l, tally.Mass, *m.mass[l])
	}
	for i := range tally.Diffs {
		tally.Diffs[i].Entry = 0
	}
	o.Mass[l], o.Diffs[l] = tally.Mass, tally.Diffs
	return nil
}

// recordAll records happenings in an order, each under its own key.
func recordAll(t failer, b *smallBook, hs []happening, order []int, told func(i int)) {
	t.Helper()
	seqs := map[int]uint64{}
	for _, i := range order {
		call := inventory.Call{Actor: "user-1", Key: fmt.Sprint("happening ", i), Happened: hs[i].at}
		rec, err := hs[i].op.record(b, call, &hs[i], seqs)
		if err != nil {
			t.Fatalf("%s: %v", hs[i].op.name, err)
		}
		seqs[i] = rec.Entries[0].Seq
		if told != nil {
			told(i)
		}
	}
}

func inTurn(hs []happening) []int {
	order := make([]int, len(hs))
	for i := range order {
		order[i] = i
	}
	return order
}

// drawOrder draws an order of recording in which what is about another comes
// after it.
func drawOrder(t *rapid.T, hs []happening) []int {
	order := rapid.Permutation(inTurn(hs)).Draw(t, "order")
	for changed := true; changed; {
		changed = false
		for at, i := range order {
			if of := slices.Index(order, hs[i].before); of > at {
				order[at], order[of] = order[of], order[at]
				changed = true
			}
		}
	}
	return order
}

// TestNoPieceAppearsOrVanishes: whatever happens, and in whatever order it is
// written down, the book says what a model of plain maps says, agrees with
// itself, and says the same as if all had been recorded in time. Where a number
// went from one product to another it says what the model says of that order: a
// piece recorded while a product had the number stays that product's.
func TestNoPieceAppearsOrVanishes(t *testing.T) {
	draw := happenings(25)
	rapid.Check(t, func(t *rapid.T) {
		hs := draw(t)
		model := happened(hs, inTurn(hs))
		straight := newSmallBook(t, inventorytest.NewMemory(smallClock))
		recordAll(t, straight, hs, inTurn(hs), nil)
		want := conclude(t, straight, model)

		dir, err := os.MkdirTemp("", "lotbook-property-")
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		s, err := boltstore.Open(dir, boltstore.Options{Clock: smallClock, NoSync: true})
		if err != nil {
			t.Fatal(err)
		}
		late := newSmallBook(t, s)
		order := drawOrder(t, hs)
		recordAll(t, late, hs, order, nil)
		got := conclude(t, late, happened(hs, order))
		if catalogued(hs) < 2 && !reflect.DeepEqual(got, want) {
			t.Errorf("recorded late:\n%+v\nin order:\n%+v", got, want)
		}
		if err := errors.Join(s.Close(), inventorytest.CheckBolt(dir, late.Registry().Project)); err != nil {
			t.Error(err)
		}
	})
}
