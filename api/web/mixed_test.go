package web_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// mixed adds a tank that feeds station 1 with a batch of bags, a kit with a
// component, and a home patient with dialyzers.
func (s *site) mixed() {
	s.t.Helper()
	facts := inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 2000, Calcium: 1250, IonsKnown: true}
	s.ok(s.SetProducts(
		ctx, by("stock"),
		inventory.Product{ID: "BAG", Name: "Dry acid, bag", Category: inventory.OtherCategory},
		inventory.Product{ID: "MIX", Name: "Acid 45X K 2.0, mixed", Category: inventory.AcidConcentrate, Facts: facts},
		inventory.Product{ID: "KIT", Name: "Set with needles", Category: inventory.BloodlineSet, Components: []inventory.Component{{Product: "NDL", Pieces: 2}}},
	))
	s.ok(s.SetTank(ctx, by("stock"), trace.Tank{ID: "T1", Name: "Tank 1"}))
	s.ok(s.Mix(ctx, by("nurse"), trace.Mixing{
		BatchMade: trace.BatchMade{Batch: "B-17", Product: "MIX", Tank: "T1", Poured: trace.IntoEmpty, MixedBy: "Ada", CheckedBy: "Bea", UseBy: s.clock().Add(72 * time.Hour)},
		Inputs:    []trace.MixInput{{Stock: inventory.Stock{Product: "BAG", Lot: "G-1", Quantity: 4}, From: "room"}},
	}))
	s.ok(s.Feed(ctx, by("nurse"), trace.TankFed{Tank: "T1", Stations: []trace.StationID{"S1"}}))
	s.ok(s.SetKitContents(ctx, by("stock"), inventory.Stock{Product: "KIT", Lot: "K-1"}, inventory.Stock{Product: "NDL", Lot: "N-7"}))
	s.ok(s.SetLocation(ctx, by("stock"), inventory.Location{ID: "home-1", Name: "Home store 1", Type: inventory.HomeStore, Patient: "P2"}))
	s.ok(s.Move(ctx, by("stock"), inventory.Moved{Stock: inventory.Stock{Product: "DLZ", Lot: "D-4711", Quantity: 3}, From: "cart-a", To: "home-1"}))
}

// The setup page asks for no concentrate at a fed station, says from which batch
// it comes, and stops being content when something in it is put on hold.
func TestSetupAtAFedStation(t *testing.T) {
	s := newSite(t)
	s.mixed()
	s.pass(time.Minute)
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	id := s.treatment().ID
	c := newClient(t, s, "nurse")
	a := c.get("/setup/" + string(id))
	c.says("at a fed station", a, http.StatusOK, "From the tank", "fed from Tank 1, batch", "B-17", "to be used by 2026-11-28")
	s.ok(s.Scan(ctx, by("nurse"), trace.Scan{Treatment: id, How: trace.Typed, Reason: "agreed", Stock: inventory.Stock{Product: "KIT", Lot: "K-1", Expires: "2028-01-31"}}))
	c.says("with a kit", c.get("/setup/"+string(id)), http.StatusOK, "in the kit Set with needles", "K-1")
	s.ok(s.Hold(ctx, by("quality"), inventory.Held{Product: "BAG", Lots: []string{"G-1"}, Reason: "notice of an invented maker"}))
	a = c.get("/setup/" + string(id))
	c.says("with a held bag", a, http.StatusOK, "On hold", "Lot G-1 of BAG, which is in batch B-17, is on hold")
	if strings.Contains(a.body, "From the tank") {
		t.Error("the concentrate counts as there although a bag in it is on hold")
	}
}

// The lot page says through what a lot was met, and who has it at home.
func TestLotPageThroughBatchAndKit(t *testing.T) {
	s := newSite(t)
	s.mixed()
	s.pass(time.Minute)
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	id := s.treatment().ID
	s.ok(s.Scan(ctx, by("nurse"), trace.Scan{Treatment: id, How: trace.Typed, Reason: "agreed", Stock: inventory.Stock{Product: "KIT", Lot: "K-1", Expires: "2028-01-31"}}))
	s.pass(4 * time.Hour)
	s.ok(s.Close(ctx, by("nurse"), trace.Closing{Treatment: id, Minutes: 235}))
	c := newClient(t, s, "quality")
	c.says("a bag", c.get("/lots?product=BAG&lot=G-1"), http.StatusOK, "1 patient confirmed", "Imagino Fabelmann", "through batch B-17", "station S1 was fed from tank T1", "4 in batches")
	c.says("a needle in a kit", c.get("/lots?product=NDL&lot=N-7"), http.StatusOK, "1 patient confirmed", "through kit K-1", "Kits and batches that hold it")
	c.says("a lot at home", c.get("/lots?product=DLZ&lot=D-4711"), http.StatusOK, "Home patients", "Rosalba Noxample", "Home store 1", "with a home patient")
}
