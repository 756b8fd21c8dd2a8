package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

// stockKinds are the kinds that the demonstration has no entry of, but for those
// of notices: fillStockBook plays them.
var stockKinds = []string{
	"batch.ended", "container.moved", "count.compared", "count.dropped", "count.lines", "count.opened", "counting.set", "list.imported", "scanner.profiled",
	"tank.emptied", "token.revoked", "treatment.not_recorded", "user.changed", "user.signed_in", "user.signed_out",
}

// fillStockBook plays a short day of the stockroom: sheets that are counted again
// and given up, what was received and used before the catalogue knew it, refused
// pieces, a list, a tank to its end, a scanner's profile, people who come and go.
func fillStockBook(ctx context.Context, t *testing.T, h *house, pass func(time.Duration)) {
	t.Helper()
	by := func(actor string) inventory.Call { return inventory.Call{Actor: actor} }
	ok := func(rec inventory.Receipt, err error) inventory.Event {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		pass(time.Minute)
		ev, err := h.registry.Decode(rec.Entries[0])
		if err != nil {
			t.Fatal(err)
		}
		return ev
	}
	fine := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		pass(time.Minute)
	}
	b := h.book
	const unknown = "09506000100104"
	password := "a long enough invented one"
	fine(h.accounts.Add(ctx, by("console"), account.NewUser{ID: "ada", Name: "Ada Invented", Role: account.Administrator}, password))
	fine(h.accounts.Add(ctx, by("ada"), account.NewUser{ID: "bea", Name: "Bea Invented", Role: account.Stock}, password))
	role := account.Nurse
	fine(h.accounts.Change(ctx, by("ada"), "bea", account.Change{Role: &role}))
	token, err := h.accounts.IssueToken(ctx, by("ada"), account.NewToken{User: "bea", Label: "a scale"})
	fine(token, err)
	fine(h.accounts.RevokeToken(ctx, by("ada"), token.ID))
	secret, _, err := h.accounts.SignIn(ctx, "bea", password)
	fine(nil, err)
	fine(nil, h.accounts.SignOut(ctx, secret))

	ok(b.SetProducts(ctx, by("ada"),
		inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: "09506000100012", Holds: 1}}},
		inventory.Product{ID: "MIX", Name: "Acid, mixed", Category: inventory.AcidConcentrate},
		inventory.Product{ID: "BAG", Name: "Dry acid", Category: inventory.OtherCategory}))
	for _, l := range []inventory.Location{{ID: "room", Name: "Supply room", Type: inventory.SupplyRoom}, {ID: "cart", Name: "Cart", Type: inventory.Cart}} {
		ok(b.SetLocation(ctx, by("ada"), l))
	}
	ok(b.SetCounting(ctx, by("ada"), inventory.Counting{TolerancePieces: 1, Causes: []inventory.CountCause{{Code: "cupboard", Text: "in the cupboard of the night shift"}}, Plan: inventory.DefaultCountPlan()}))
	ok(b.SetScanner(ctx, by("bea"), inventory.Scanner{ID: "Cart A", Profile: wedge.Profile{Separator: "|"}}))
	piece := func(p inventory.ProductID, lot string, n int64) inventory.Stock {
		return inventory.Stock{Product: p, Lot: lot, Quantity: n}
	}
	ok(b.Receive(ctx, by("bea"), inventory.Received{Stock: piece("DLZ", "D1", 20), To: "room"}))
	ok(b.Receive(ctx, by("bea"), inventory.Received{Stock: inventory.Stock{GTIN: unknown, Lot: "U1", Expires: "2029-01-31", Quantity: 8}, To: "room"}))
	ok(b.Deliver(ctx, by("bea"), inventory.Delivery{Supplier: "Invented Supplies", Lines: []inventory.DeliveryLine{{Stock: piece("DLZ", "D9", 5), Damaged: "wet", Answer: inventory.Refuse}}}))
	ok(b.Record(ctx, by("bea"), "list", func(inventory.Reader) ([]inventory.Event, error) {
		return []inventory.Event{&inventory.Imported{List: "receipts", File: "receipts.csv", Sum: journal.Hash{1}, Run: 1, Last: true}}, nil
	}))

	sheet := ok(b.OpenSheet(ctx, by("bea"), inventory.SheetOpened{Location: "room", Complete: true})).(*inventory.SheetOpened).Sheet
	found := func(lines ...inventory.SheetLine) {
		t.Helper()
		ok(b.NoteFound(ctx, by("bea"), inventory.SheetLines{Sheet: sheet, Lines: lines}))
	}
	found(inventory.SheetLine{Product: "DLZ", Lot: "D1", Pieces: 15}, inventory.SheetLine{Product: inventory.ProvisionalID(unknown), Lot: "U1", Pieces: 8})
	ok(b.FinishSheet(ctx, by("bea"), inventory.Finishing{Sheet: sheet}))
	found(inventory.SheetLine{Product: "DLZ", Lot: "D1", Pieces: 16})
	ok(b.FinishSheet(ctx, by("bea"), inventory.Finishing{Sheet: sheet, Causes: []inventory.LotCause{{Product: "DLZ", Lot: "D1", Cause: "cupboard"}}}))
	given := ok(b.OpenSheet(ctx, by("bea"), inventory.SheetOpened{Location: "cart"})).(*inventory.SheetOpened).Sheet
	ok(b.DropSheet(ctx, by("bea"), inventory.SheetGivenUp{Sheet: given, Reason: "a treatment began"}))
	ok(b.SetProducts(ctx, by("ada"), inventory.Product{ID: "DLN", Name: "New dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: unknown, Holds: 1}}}))
	ok(b.Move(ctx, by("bea"), inventory.Moved{Stock: inventory.Stock{GTIN: unknown, Lot: "U1", Quantity: 3}, From: "room", To: "cart"}))

	ok(b.SetTank(ctx, by("ada"), trace.Tank{ID: "T1", Name: "Tank 1"}))
	ok(b.Receive(ctx, by("bea"), inventory.Received{Stock: piece("BAG", "B1", 4), To: "room"}))
	ok(b.Mix(ctx, by("bea"), trace.Mixing{
		BatchMade: trace.BatchMade{Batch: "B-1", Product: "MIX", Tank: "T1", MixedBy: "Ada", Poured: trace.IntoEmpty},
		Inputs:    []trace.MixInput{{Stock: piece("BAG", "B1", 4), From: "room"}},
	}))
	ok(b.EmptyTank(ctx, by("bea"), trace.TankEmptied{Tank: "T1"}))
	ok(b.Receive(ctx, by("bea"), inventory.Received{Stock: piece("BAG", "B2", 1), To: "room"}))
	ok(b.Mix(ctx, by("bea"), trace.Mixing{
		BatchMade: trace.BatchMade{Batch: "B-2", Product: "MIX", MixedBy: "Ada"}, Inputs: []trace.MixInput{{Stock: piece("BAG", "B2", 1), From: "room"}},
	}))
	ok(b.EndBatch(ctx, by("bea"), trace.BatchEnded{Batch: "B-2", Note: "used up"}))
	ok(b.Receive(ctx, by("bea"), inventory.Received{Stock: piece("BAG", "V1", 1), To: "room"}))
	ok(b.OpenContainer(ctx, by("bea"), trace.ContainerOpened{Container: "V-1", Stock: piece("BAG", "V1", 1), From: "room"}))
	ok(b.MoveContainer(ctx, by("bea"), trace.ContainerMoved{Container: "V-1", Place: "cart"}))
	ok(b.SetMachine(ctx, by("ada"), trace.Machine{ID: "M1", Name: "Machine 1"}))
	ok(b.SetStation(ctx, by("ada"), trace.Station{ID: "S1", Name: "Station 1", Location: "cart", Machine: "M1"}))
	ok(b.SetPatient(ctx, by("bea"), trace.PatientSet{ID: "P1", Name: "Invented One"}))
	rx := inventory.Prescription{Access: inventory.Catheter, Minutes: 240, BloodFlow: 300, DialysateFlow: 500}
	treatment := ok(b.Open(ctx, by("bea"), trace.Opening{Patient: "P1", Station: "S1", Prescription: &rx})).(*trace.Opened).Treatment
	ok(b.NotRecorded(ctx, by("bea"), trace.Unrecorded{Treatment: treatment, Category: inventory.Dialyzer, Used: true, Cause: "packaging gone"}))
}

// TestStockBook plays the book of testdata/rows/stockroom.db.gz and holds it to
// have the kinds that it is for. With LOTBOOK_TEST_KEEP=DIR it leaves it in DIR.
func TestStockBook(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "unit")
	if keep := os.Getenv("LOTBOOK_TEST_KEEP"); keep != "" {
		dir = keep
	}
	now := scriptTime().Add(-24 * time.Hour)
	e := &env{now: func() time.Time { return now }, stderr: io.Discard}
	h, err := openHouse(t.Context(), e, dir, boltstore.Options{})
	if err != nil {
		t.Fatal(err)
	}
	fillStockBook(t.Context(), t, h, func(d time.Duration) { now = now.Add(d) })
	played := map[string]bool{}
	err = h.store.View(t.Context(), func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			played[e.Kind] = true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := h.store.Close(); err != nil {
		t.Fatal(err)
	}
	if missing := slices.DeleteFunc(slices.Clone(stockKinds), func(k string) bool { return played[k] }); len(missing) > 0 {
		t.Errorf("the book has no entry of %q", missing)
	}
}
