package trace_test

import (
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A component is met through its kit; where nobody said what a kit holds, or it
// may be either of two lots, it isn't known.
func TestSharedThroughAKit(t *testing.T) {
	u := newUnit(t)
	u.kits()
	u.receive("KIT", "K3", "2027-06-30", 10, "cart-a")
	u.contents("K1", inventory.Stock{Product: "BLS", Lot: "B-1"}, inventory.Stock{Product: "NDL", Lot: "N-1"})
	u.contents("K2", inventory.Stock{Product: "BLS", Lot: "B-2"}, inventory.Stock{Product: "NDL", Lot: "N-1", Quantity: 3}, inventory.Stock{Product: "NDL", Lot: "N-2", Quantity: 3})
	ps := u.everyone(4)
	one, two := u.treated(ps[0], "S1", gtinUncatalogd, "K1"), u.treated(ps[1], "S1", gtinUncatalogd, "K2")
	u.treated(ps[2], "S1", gtinUncatalogd, "K3")                    // nobody said what it holds
	u.treated(ps[3], "S1", gtinBloodline, "B-1", gtinNeedle, "N-2") // packs of their own
	c := u.compare(trace.Comparing{Cases: casesOf(one, two)})
	u.splits("the kit", u.shared(c, trace.FactorLot, "KIT", "K1").Treatments, trace.Split{Met: 1, NotMet: 1}, trace.Split{NotMet: 1, Unknown: 1})
	b := u.shared(c, trace.FactorLot, "BLS", "B-1")
	u.splits("its bloodline set", b.Treatments, trace.Split{Met: 1, NotMet: 1}, trace.Split{Met: 1, Unknown: 1})
	if !slices.Equal(b.Via, []string{"kit", "pack"}) {
		t.Errorf("met through %v", b.Via)
	}
	n := u.shared(c, trace.FactorLot, "NDL", "N-1")
	u.splits("its needles", n.Treatments, trace.Split{Met: 1, Unknown: 1}, trace.Split{Unknown: 2})
}

// A bag is met through the batch that fed the station, and a batch as surely as
// the feed.
func TestSharedThroughABatch(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	ps := u.everyone(4)
	u.treated(ps[0], "S1", gtinAcid2K, "C1") // before anything feeds
	u.mix("B1", "TA", trace.IntoEmpty, "G1")
	u.feed("TA")
	one := u.treated(ps[1], "S1")
	two := u.treated(ps[2], "S2")
	u.mix("B2", "TA", "", "G2") // nobody said whether the tank was empty
	u.treated(ps[3], "S1")
	c := u.compare(trace.Comparing{Cases: casesOf(one, two)})
	for _, x := range []*trace.SharedFactor{u.shared(c, trace.FactorBatch, "MIX", "B1"), u.shared(c, trace.FactorLot, "BAG", "G1")} {
		u.splits(x.ID, x.Treatments, trace.Split{Met: 2}, trace.Split{NotMet: 1, Unknown: 1})
	}
	if x := u.shared(c, trace.FactorLot, "BAG", "G1"); !slices.Equal(x.Via, []string{"batch"}) {
		t.Errorf("met through %v", x.Via)
	}
	// What fed the stations leaves no gap of the kind.
	u.splits("the container", u.shared(c, trace.FactorLot, "A2K", "C1").Treatments, trace.Split{NotMet: 2}, trace.Split{Met: 1, NotMet: 1})
}

// A vial that several patients share is looked at by itself and by its lot.
func TestSharedContainer(t *testing.T) {
	u := newUnit(t)
	u.receive("HEP", "H1", "2027-06-30", 4, "cart-a")
	ps := u.everyone(3)
	u.vial("V1", "H1")
	var ids []trace.TreatmentID
	for i, p := range ps {
		id := u.open(p, "S1")
		if i == 2 {
			u.vial("V2", "H1")
			u.drawn(id, "V2")
		} else {
			u.drawn(id, "V1")
		}
		u.clock.pass(4 * time.Hour)
		u.close(id)
		ids = append(ids, id)
	}
	c := u.compare(trace.Comparing{Cases: casesOf(ids[:2]...)})
	u.splits("the vial", u.shared(c, trace.FactorContainer, "HEP", "V1").Treatments, trace.Split{Met: 2}, trace.Split{NotMet: 1})
	u.splits("its lot", u.shared(c, trace.FactorLot, "HEP", "H1").Treatments, trace.Split{Met: 2}, trace.Split{Met: 1})
}
