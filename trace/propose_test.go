package trace_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// weekly plans treatments of P1 at S1 and P2 at S2 on each of so many days from
// a date on, but for Sundays.
func (u *unit) weekly(from inventory.Date, days int) {
	u.t.Helper()
	var slots []trace.Slot
	for i := range days {
		date := from.AddDays(i)
		if day, _ := date.Time(time.UTC); day.Weekday() == time.Sunday {
			continue
		}
		for p, s := range map[trace.PatientID]trace.StationID{"P1": "S1", "P2": "S2"} {
			slots = append(slots, trace.Slot{Shift: inventory.Shift{Date: date, Number: 1}, Station: s, Patient: p})
		}
	}
	u.ok(u.Schedule(ctx, u.by("nurse"), slots...))
}

func (u *unit) ordering(unit *inventory.Ordering, products ...inventory.ProductOrdering) {
	u.t.Helper()
	u.ok(u.SetOrdering(ctx, u.by("stock"), inventory.OrderingChange{Unit: unit, Products: products}))
}

func (u *unit) proposal(q trace.OrderQuestion) *trace.Proposal {
	u.t.Helper()
	p, err := u.Propose(ctx, q)
	if err != nil {
		u.t.Fatal(err)
	}
	return p
}

func weekOfLead() *inventory.Ordering {
	o := inventory.DefaultOrdering()
	o.LeadTime = &inventory.LeadTime{Hours: 7 * 24, SDHours: 36}
	return &o
}

// The figures of a proposal by hand. From Monday 2 March to Saturday the 14th two
// treatments a day are planned, but for Sunday; after it the week repeats. Each
// uses a dialyzer and two needles. Lead time 7 ± 1.5 days, review 7 days, 98 %:
// z = 2.0537. Nothing is on record, so use is a Poisson process of treatments.
//
// It is 06:00. The 14 days from now on are those from the 2nd to the 15th, with 24
// treatments, and a quarter of the 16th, which repeats the 9th: 24.5. The 7 days
// from now on have 12.5. A day has 12/7 = 1.714 on average.
//
//	dialyzers  14 days: 24.5, variance 24.5; safety 2.0537·√(24.5 + 1.714²·1.5²) = 11.46; up to ⌈35.96⌉ = 36
//	           7 days: 12.5; safety 2.0537·√(12.5 + 6.61) = 8.98; reorder point ⌈21.48⌉ = 22
//	needles    49, in twos: variance 2·49 = 98; safety 2.0537·√(98 + 3.429²·1.5²) = 22.91; up to ⌈71.91⌉ = 72
func TestProposalByHand(t *testing.T) {
	u := newUnit(t)
	u.weekly("2026-03-02", 13)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	u.receive("NDL", "N1", "2027-06-30", 70, "room")
	u.ordering(weekOfLead())
	p := u.proposal(trace.OrderQuestion{})
	if p.Plan.Until != "2026-03-14" || p.Plan.Repeated != "2026-03-08" || p.Plan.Rest != 2 {
		t.Errorf("planned until %s, repeated from %s, %d to come today", p.Plan.Until, p.Plan.Repeated, p.Plan.Rest)
	}
	for _, c := range []struct {
		product                inventory.ProductID
		safety, upTo, quantity int64
		now                    bool
	}{{"DLZ", 12, 36, 16, true}, {"NDL", 23, 72, 50, false}} {
		l := p.Of(c.product)
		if l.Quantity == nil {
			t.Fatalf("%s: %v", c.product, l.NotKnown)
		}
		if *l.Safety != c.safety || *l.OrderUpTo != c.upTo || *l.Quantity != c.quantity || l.Now != c.now {
			t.Errorf("%s: safety %d, up to %d, order %d, now %v; want %+v\n%v", c.product, *l.Safety, *l.OrderUpTo, *l.Quantity, l.Now, c, l.Terms)
		}
	}
	l := p.Of("DLZ")
	if *l.ReorderPoint != 22 {
		t.Errorf("reorder point %d, want 22", *l.ReorderPoint)
	}
	// 20 dialyzers: 12 in the first week, 8 by the end of Thursday the 12th.
	if math.Abs(*l.CoverDays-10.75) > 0.001 || l.ShortOn != "2026-03-13" {
		t.Errorf("%v days of cover, short on %s; want 10.75, and the 13th", *l.CoverDays, l.ShortOn)
	}
	for _, want := range []string{"z", "lead time", "order up to", "reorder point", "stock position", "packs"} {
		if !slices.ContainsFunc(l.Terms, func(x inventory.Term) bool { return x.What == want && x.How != "" }) {
			t.Errorf("the terms lack %q", want)
		}
	}
	// The pack is the largest: a box of 50 needles.
	if n := p.Of("NDL"); *n.Packs != 1 || n.Pack.Level != inventory.LevelInner {
		t.Errorf("packs %d of %+v", *n.Packs, n.Pack)
	}
}

// What is not known is said, and never a zero.
func TestProposalNotKnown(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	check := func(product inventory.ProductID, want ...string) {
		t.Helper()
		l := u.proposal(trace.OrderQuestion{}).Of(product)
		if l.Quantity != nil || l.Packs != nil || l.OrderUpTo != nil || l.ReorderPoint != nil || l.Safety != nil {
			t.Errorf("%s has figures: %+v", product, l)
		}
		said := strings.Join(l.NotKnown, "\n")
		for _, w := range want {
			if !strings.Contains(said, w) {
				t.Errorf("%s: %q does not say %q", product, said, w)
			}
		}
	}
	check("DLZ", "no treatments are planned", "lead time: none")
	check("STR", "no rule of the unit", "lead time: none")
	u.weekly("2026-03-02", 13)
	check("DLZ", "lead time: none")
	check("A3K", "no planned treatment uses it")
	u.ordering(weekOfLead())
	check("STR", "no rule of the unit")
	check("A3K", "no planned treatment uses it")
	if l := u.proposal(trace.OrderQuestion{}).Of("DLZ"); l.Quantity == nil || len(l.NotKnown) != 0 {
		t.Errorf("with plan and lead time: %+v", l)
	}
	// A product that is used outside treatments is forecast by the record.
	u.receive("STR", "T1", "2027-06-30", 200, "cart-a")
	for range 14 {
		u.clock.pass(24 * time.Hour)
		u.ok(u.Consume(ctx, u.by("nurse"), inventory.Consumed{Stock: inventory.Stock{Product: "STR", Lot: "T1", Quantity: 4}, From: "cart-a"}))
	}
	u.clock.pass(24 * time.Hour)
	l := u.proposal(trace.OrderQuestion{}).Of("STR")
	if l.Forecast == nil || l.Forecast.Basis != trace.BasisRecord || math.Abs(l.Forecast.Ratio-1) > 1e-9 || l.Quantity == nil {
		t.Errorf("by the record of 56 pieces in 56 days: %+v", l)
	}
	// Treatments of a patient without a prescription are counted.
	u.ok(u.SetPatient(ctx, u.by("nurse"), trace.PatientSet{ID: "P3", Name: "Invented P3"}))
	u.ok(u.Schedule(ctx, u.by("nurse"), trace.Slot{Shift: inventory.Shift{Date: "2026-03-17", Number: 2}, Station: "S1", Patient: "P3"},
		trace.Slot{Shift: inventory.Shift{Date: "2026-03-17", Number: 1}, Station: "S1", Patient: "P1"}))
	if p := u.proposal(trace.OrderQuestion{}); p.Plan.Unprescribed != 1 {
		t.Errorf("%d planned treatments without a prescription, want 1", p.Plan.Unprescribed)
	}
	for _, q := range []trace.OrderQuestion{{ServiceLevel: 1000}, {ServiceLevel: 49}, {ReviewDays: -1}, {ReviewDays: 1000}} {
		if _, err := u.Propose(ctx, q); err == nil {
			t.Errorf("%+v is answered", q)
		}
	}
}

// One patient entered for a day far ahead does not empty the weeks until then,
// and a day of rest does not end the plan.
func TestPlanEndsWhereTheScheduleDoes(t *testing.T) {
	u := newUnit(t)
	u.weekly("2026-03-02", 13)
	u.ok(u.Schedule(ctx, u.by("nurse"), trace.Slot{Shift: inventory.Shift{Date: "2026-03-30", Number: 1}, Station: "S1", Patient: "P1"}))
	u.ordering(weekOfLead())
	p := u.proposal(trace.OrderQuestion{ReviewDays: 28})
	if p.Plan.Until != "2026-03-14" {
		t.Errorf("planned until %s, want 2026-03-14", p.Plan.Until)
	}
	for _, d := range p.Of("DLZ").Days {
		day, _ := d.Date.Time(time.UTC)
		want := int64(2)
		if day.Weekday() == time.Sunday {
			want = 0
		}
		if d.Planned != want || (d.Repeats != "") != (d.Date > "2026-03-14") {
			t.Errorf("%s: %d planned, repeats %q", d.Date, d.Planned, d.Repeats)
		}
	}
	// What was treated today is behind.
	id := u.open("P1", "S1")
	u.clock.pass(4 * time.Hour)
	u.close(id)
	if p := u.proposal(trace.OrderQuestion{}); p.Plan.Rest != 1 || p.Of("DLZ").Days[0].Planned != 1 {
		t.Errorf("%d to come today, %d dialyzers planned for it", p.Plan.Rest, p.Of("DLZ").Days[0].Planned)
	}
}

func TestProposalLimits(t *testing.T) {
	u := newUnit(t)
	u.weekly("2026-03-02", 13)
	u.ordering(weekOfLead(),
		inventory.ProductOrdering{Product: "DLZ", MostPieces: 20},
		inventory.ProductOrdering{Product: "BLS", ShelfDays: 6, OrderCost: 50_000, HoldingCost: 100},
		inventory.ProductOrdering{Product: "NDL", MostPieces: 49},
		inventory.ProductOrdering{Product: "SAL", OrderCost: 50_000, HoldingCost: 400},
	)
	u.receive("DLZ", "D1", "2027-06-30", 10, "cart-a")
	u.receive("SAL", "S1", "2027-06-30", 1, "room")
	u.receive("HEP", "H1", "2026-03-03", 30, "cart-a") // used up to 3 March: one a day by cart A alone
	p := u.proposal(trace.OrderQuestion{})
	// Room for 20, and of 10 none is left when the order comes.
	if l := p.Of("DLZ"); *l.Quantity != 20 || len(l.Notes) < 1 {
		t.Errorf("storage: %d, %v", *l.Quantity, l.Notes)
	}
	// 6 days from the delivery, from Monday the 9th 06:00 to Sunday the 15th: 1.5 + 5·2.
	if l := p.Of("BLS"); *l.Quantity != 11 || l.EOQ == nil {
		t.Errorf("shelf life: %d\n%v", *l.Quantity, l.Terms)
	}
	// No box of 50 needles fits into 49: none is proposed, and it is said.
	if l := p.Of("NDL"); *l.Quantity != 0 || !strings.Contains(fmt.Sprint(l.Notes), "service level is not reached") {
		t.Errorf("a pack too large: %d, %v", *l.Quantity, l.Notes)
	}
	// EOQ = √(2 · 365 · 12/7 · 50 / 0.4) = 395.5: ordered are 396.
	if l := p.Of("SAL"); math.Abs(*l.EOQ-395.5) > 0.1 || *l.Quantity != 396 {
		t.Errorf("EOQ %v, order %d", *l.EOQ, *l.Quantity)
	}
	// Of 30 vials cart A uses 2 by the 3rd: 28 expire and don't count.
	if l := p.Of("HEP"); l.Stock.Usable != 30 || l.Stock.Expiring != 28 || l.Stock.Position() != 2 {
		t.Errorf("expiring: %+v", l.Stock)
	}
}

// How the record changes the forecast, by hand: of 40 planned treatments 4 did
// not take place; 3 dialyzers were replaced and one was thrown away. β = 1 −
// 4/40 + 3/40 + 1/40 = 1; φ = 0.1·0.9 + 3/40 + 1/40 = 0.19.
func TestForecastFromTheRecord(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 500, "cart-a")
	u.receive("DLZ", "D1", "2027-06-30", 500, "cart-b")
	u.weekly("2026-03-02", 37)
	done, replaced := 0, 0
	for range 23 { // from Monday 2 March: 20 days of treatments
		if u.clock.at.Weekday() != time.Sunday {
			for p, s := range map[trace.PatientID]trace.StationID{"P1": "S1", "P2": "S2"} {
				if done++; done <= 4 {
					continue
				}
				id := u.open(p, s)
				first := u.scan(id, gtinDialyzer, "D1").Entries[0].Seq
				if replaced < 3 {
					replaced++
					u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D1"}, Replaces: first, Cause: "clotted"}))
				}
				u.ok(u.Close(ctx, u.by("nurse"), trace.Closing{Treatment: id, Minutes: 240}))
			}
		}
		u.clock.pass(24 * time.Hour)
	}
	u.ok(u.Waste(ctx, inventory.Call{Actor: "nurse", Happened: u.clock.at.Add(-24 * time.Hour)}, inventory.Wasted{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 1}, From: "cart-a", Cause: "dropped"}))
	u.ordering(weekOfLead())
	p := u.proposal(trace.OrderQuestion{})
	f := p.Of("DLZ").Forecast
	if p.Record.Planned != 40 || p.Record.NotDone != 4 || p.Record.Unplanned != 0 {
		t.Errorf("record: %+v", p.Record)
	}
	if math.Abs(f.Ratio-1) > 1e-9 || math.Abs(f.Dispersion-0.19) > 1e-9 {
		t.Errorf("β = %v, φ = %v; want 1 and 0.19\n%v", f.Ratio, f.Dispersion, f.Terms)
	}
	// From Wednesday 25 March 06:00 to the same time of 1 April 12.5 are planned:
	// variance 0.19·12.5·(1 + 12.5/40). The weeks of the record are alike.
	if d := f.Demand(7); math.Abs(d.Mean-12.5) > 1e-9 || math.Abs(d.Variance-0.19*12.5*(1+12.5/40)) > 1e-9 {
		t.Errorf("demand of 7 days: %+v", d)
	}
}

// Beyond the days planned the schedule may move on from week to week: by hand,
// with weeks of 12, 12, 6, 12, 12 dialyzers the mean square change is (0 + 36 +
// 36 + 0)/4 = 18, and two weeks beyond the plan, to the end of 25 April, add 18·(1 + 4).
func TestForecastBeyondTheSchedule(t *testing.T) {
	u := newUnit(t)
	u.weekly("2026-03-02", 42) // six weeks; the first is taken for the one in which it began
	var away []trace.Slot
	for i := range 6 {
		away = append(away, trace.Slot{Shift: inventory.Shift{Date: inventory.Date("2026-03-23").AddDays(i), Number: 1}, Station: "S2"})
	}
	u.ok(u.Schedule(ctx, u.by("nurse"), away...))
	u.clock.pass(42 * 24 * time.Hour) // Monday 13 April: nothing is planned ahead
	u.ordering(weekOfLead())
	p := u.proposal(trace.OrderQuestion{})
	f := p.Of("DLZ").Forecast
	if p.Plan.Until != "2026-04-11" || math.Abs(f.WeekChange-18) > 1e-9 {
		t.Fatalf("planned until %s, week change %v, want 18", p.Plan.Until, f.WeekChange)
	}
	// No treatment is on record at all, which is taken for a missing record and
	// not for no use: by the plan alone, 24 pieces and a Poisson's 24.
	if d := f.Demand(12.75); d.Mean != 24 || math.Abs(d.Variance-24-18*5) > 1e-9 {
		t.Errorf("demand of two weeks beyond the plan: %+v", d)
	}
}

// What is on order counts, and how long orders took is measured: 6, 7 and 8 days
// from the order to its first pieces are 7 ± 1.
func TestProposalFromOrders(t *testing.T) {
	u := newUnit(t)
	u.weekly("2026-03-02", 60)
	for i, took := range []int{6, 7, 8} {
		id := inventory.OrderID(fmt.Sprint("PO-", i+1))
		u.ok(u.PlaceOrder(ctx, u.by("stock"), inventory.Order{ID: id, Supplier: "Invented Supplier", Lines: []inventory.OrderLine{{Product: "DLZ", Quantity: 30}}}))
		u.clock.pass(time.Duration(took) * 24 * time.Hour)
		came := func(n int64) {
			t.Helper()
			u.ok(u.Receive(ctx, u.by("stock"), inventory.Received{
				Stock: inventory.Stock{Product: "DLZ", Lot: string(id), Expires: inventory.DateOf(u.clock.at, time.UTC).AddDays(400 + i), Quantity: n}, To: "room", Supplier: "Invented Supplier", Order: string(id),
			}))
		}
		came(20)
		if i < 2 {
			u.clock.pass(time.Hour)
			came(10) // the rest came later: it is no other order
		}
		l := u.proposal(trace.OrderQuestion{}).Of("DLZ")
		if i < 2 && (l.LeadTime != nil || len(l.NotKnown) != 1) {
			t.Errorf("after %d orders: %+v, %v", i+1, l.LeadTime, l.NotKnown)
		}
	}
	u.clock.pass(time.Hour)
	l := u.proposal(trace.OrderQuestion{}).Of("DLZ")
	if l.Stock.OnOrder != 10 || l.Stock.Position() != 90 {
		t.Errorf("on order %d, position %d; want 10 and 90", l.Stock.OnOrder, l.Stock.Position())
	}
	if m := l.LeadTime; m == nil || m.Measured == nil || m.Measured.Orders != 3 || math.Abs(m.Days-7) > 1e-9 || math.Abs(m.SDDays-1) > 1e-9 {
		t.Errorf("lead time %+v", m)
	}
	if !slices.ContainsFunc(l.Terms, func(x inventory.Term) bool {
		return x.What == "used before it expires" && strings.Contains(x.How, "in 400 days from the delivery (the shortest of the last 5 deliveries)")
	}) {
		t.Errorf("shelf life is not measured: %v", l.Terms)
	}
	// What is set goes before what is measured, which stays in sight.
	u.ordering(nil, inventory.ProductOrdering{Product: "DLZ", LeadTime: &inventory.LeadTime{Hours: 48}})
	if m := u.proposal(trace.OrderQuestion{}).Of("DLZ").LeadTime; m.Days != 2 || m.Measured == nil {
		t.Errorf("set: %+v", m)
	}
}

// What comes in a kit that is prescribed is not planned a second time.
func TestPlanOfAKit(t *testing.T) {
	u := newUnit(t)
	u.ok(u.SetProducts(ctx, u.by("admin"), inventory.Product{
		ID: "KIT", Name: "Kit", Category: inventory.BloodlineSet, Components: []inventory.Component{{Product: "BLS", Pieces: 1}, {Product: "NDL", Pieces: 2}},
	}))
	rx := prescription()
	rx.Products[inventory.BloodlineSet] = "KIT"
	u.ok(u.SetPrescription(ctx, u.by("nurse"), trace.PrescriptionSet{Patient: "P1", Prescription: rx}))
	u.weekly("2026-03-02", 13)
	u.ordering(weekOfLead())
	p := u.proposal(trace.OrderQuestion{})
	for id, want := range map[inventory.ProductID]int64{"KIT": 1, "BLS": 1, "NDL": 2, "DLZ": 2} {
		if l := p.Of(id); len(l.Days) == 0 || l.Days[1].Planned != want {
			t.Errorf("%s: %+v a day, want %d", id, l.Days, want)
		}
	}
}
