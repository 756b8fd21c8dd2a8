package trace_test

import (
	"testing"

	"lotbook/inventory"
)

// What was refused at delivery is named beside the balance, and is no part of it;
// also of a lot of which nothing else is on record, and of one that was in no
// catalogue then. Struck out, it is gone.
func TestRefusedStandsBesideTheBalance(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "room")
	refuse := func(s inventory.Stock) uint64 {
		t.Helper()
		rec := u.ok(u.Deliver(ctx, u.by("stock"), inventory.Delivery{Supplier: "Invented Supplies", Confirm: []string{inventory.AskUnknown, inventory.AskLineAgain}, Lines: []inventory.DeliveryLine{
			{Stock: s, Damaged: "wet", Answer: inventory.Refuse},
		}}))
		return rec.Entries[0].Seq
	}
	refuse(inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 6})
	only := refuse(inventory.Stock{Product: "DLZ", Lot: "D9", Quantity: 12})
	refuse(inventory.Stock{GTIN: gtinUncatalogd, Lot: "U1", Quantity: 3})
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{
		ID: "DLN", Name: "New dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinUncatalogd, Holds: 1}},
	}))
	for _, x := range []struct {
		product, lot string
		refused      int64
		mass         inventory.MassBalance
	}{
		{"DLZ", "D1", 6, inventory.MassBalance{Received: 20, OnHand: 20}},
		{"DLZ", "D9", 12, inventory.MassBalance{}},
		{"DLN", "U1", 3, inventory.MassBalance{}},
	} {
		a, xs := u.exposures(x.product, x.lot)
		if len(a.Refused) != 1 || a.Refused[0].Quantity != x.refused || a.Refused[0].Supplier != "Invented Supplies" || a.Refused[0].Cause == "" || a.Refused[0].By != "stock" {
			t.Errorf("%s %s: refused %+v", x.product, x.lot, a.Refused)
		}
		if a.Mass != x.mass || len(xs) != 0 || !a.OnRecord {
			t.Errorf("%s %s: mass balance %+v, %d exposures, on record %v", x.product, x.lot, a.Mass, len(xs), a.OnRecord)
		}
	}
	u.ok(u.Correct(ctx, u.by("stock"), only, "it was taken in after all"))
	if a, _ := u.exposures("DLZ", "D9"); a.OnRecord || len(a.Refused) != 0 {
		t.Errorf("struck out: %+v, on record %v", a.Refused, a.OnRecord)
	}
}
