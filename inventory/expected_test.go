package inventory_test

import (
	"fmt"
	"testing"

	"lotbook/inventory"
)

// The dialysate and concentrate volumes of a treatment without priming. The
// parts are those of FDA 510(k) K192017 and K212620 (45X = 1 : 1.72 : 42.28),
// K131202 (36.83X = 1 : 1.83 : 34) and 35X = 1 : 1.225 : 32.775; the litres are
// worked out from them: dialysate / total parts (× 1.72 for bicarbonate).
func TestConcentrateVolumes(t *testing.T) {
	for _, c := range []struct {
		flow, minutes           int64
		dialysate               int64 // mL
		x35, x36, x45, bicarb45 string
	}{
		{500, 240, 120_000, "3.429", "3.258", "2.667", "4.587"},
		{600, 240, 144_000, "4.114", "3.910", "3.200", "5.504"},
		{800, 240, 192_000, "5.486", "5.213", "4.267", "7.339"},
		{500, 225, 112_500, "3.214", "3.055", "2.500", "4.300"},
		// Blood flow 400 mL/min and a factor of 1.8 (common practice, no
		// source): 720 mL/min.
		{720, 240, 172_800, "4.937", "", "3.840", ""},
		// Blood flow 350 and factors of 1.2 and 1.5 (Ahrenholz 2015, doi
		// 10.5772/58878): 100.8 L and 2.240 L, 126 L and 2.800 L.
		{420, 240, 100_800, "", "", "2.240", ""},
		{525, 240, 126_000, "", "", "2.800", ""},
	} {
		d := inventory.Dialysate(c.flow, c.minutes)
		if d != c.dialysate {
			t.Errorf("%d mL/min for %d min: %d mL of dialysate, want %d", c.flow, c.minutes, d, c.dialysate)
		}
		for mix, want := range map[inventory.MixSystem]string{inventory.Mix35X: c.x35, inventory.Mix36_83X: c.x36, inventory.Mix45X: c.x45} {
			if want == "" {
				continue
			}
			ul, err := mix.AcidVolume(d)
			if got := fmt.Sprintf("%.3f", float64(ul)/1e6); err != nil || got != want {
				t.Errorf("%d mL/min for %d min at %s: %s L of acid, want %s (%v)", c.flow, c.minutes, mix, got, want, err)
			}
		}
		if c.bicarb45 != "" {
			ul, err := inventory.Mix45X.BicarbonateVolume(d, 0)
			if got := fmt.Sprintf("%.3f", float64(ul)/1e6); err != nil || got != c.bicarb45 {
				t.Errorf("%d mL/min for %d min: %s L of bicarbonate, want %s (%v)", c.flow, c.minutes, got, c.bicarb45, err)
			}
		}
	}
}

// Heparin as its label doses it, 25 to 30 units/kg and then 1,500 to 2,000
// units an hour; worked out: 2,000 + 1,000 × (4 − 1) and 2,000 + 1,500 × (4 − 0.5).
func TestHeparinUnits(t *testing.T) {
	for _, c := range []struct {
		dose    inventory.HeparinDose
		minutes int64
		want    int64
	}{
		{inventory.HeparinDose{Bolus: 2000, Rate: 1000, StopEarly: 60}, 240, 5000},
		{inventory.HeparinDose{Bolus: 2000, Rate: 1500, StopEarly: 30}, 240, 7250},
		{inventory.HeparinDose{Bolus: 2000, Rate: 1000, StopEarly: 60}, 30, 2000},
	} {
		if got := c.dose.Units(c.minutes); got != c.want {
			t.Errorf("%+v for %d min: %d units, want %d", c.dose, c.minutes, got, c.want)
		}
	}
}

func expect(t *testing.T, rx inventory.Prescription, minutes int64, rules func(*inventory.Rules), facts map[inventory.ProductID]inventory.Product) map[inventory.Category]inventory.Expectation {
	t.Helper()
	u := inventory.DefaultUnit()
	u.Rules.PrimeMinutes = 0
	if rules != nil {
		rules(&u.Rules)
	}
	xs, err := u.Expect(&rx, minutes, func(id inventory.ProductID) (*inventory.Product, error) {
		p := facts[id]
		return &p, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	m := map[inventory.Category]inventory.Expectation{}
	for _, x := range xs {
		m[x.Category] = x
	}
	return m
}

// 4 h at a blood flow of 400 mL/min with a factor of 1.8: 172.8 L of dialysate
// and 3.840 L of acid concentrate at 45X (4.937 L at 35X), which one bottle of
// 3.785 L does not last. The figures are worked out from the published parts;
// the factor is common practice, no source.
func TestATreatmentsConcentrateToItsTerms(t *testing.T) {
	rx := inventory.Prescription{
		Access: inventory.Fistula, Minutes: 240, BloodFlow: 400, FlowFactor: 1800,
		Products: map[inventory.Category]inventory.ProductID{inventory.AcidConcentrate: "A"},
	}
	bottle := func(mix inventory.MixSystem) map[inventory.ProductID]inventory.Product {
		return map[inventory.ProductID]inventory.Product{"A": {Facts: inventory.Facts{MixSystem: mix, FillVolume: 3785}}}
	}
	x := expect(t, rx, 240, nil, bottle(inventory.Mix45X))[inventory.AcidConcentrate]
	if x.Volume != 3_840_000 || x.Pieces != 2 {
		t.Errorf("45X: %d µL in %d bottles, want 3,840,000 in 2", x.Volume, x.Pieces)
	}
	want := []inventory.Term{
		{What: "dialysate flow", Value: "720 mL/min", How: "blood flow 400 mL/min × 1.8"},
		{What: "dialysate", Value: "172.800 L", How: "720 mL/min × 240 min"},
		{What: "acid concentrate", Value: "3.840 L", How: "(172.800 L + 0.0 mL) / 45 total parts of 45X"},
		{What: "pieces", Value: "2", How: "3.840 L / 3.785 L content, rounded up: the rest is thrown away"},
	}
	for i, w := range want {
		if i >= len(x.Terms) || x.Terms[i] != w {
			t.Errorf("term %d: %+v, want %+v", i, x.Terms, w)
			break
		}
	}
	x = expect(t, rx, 240, nil, bottle(inventory.Mix35X))[inventory.AcidConcentrate]
	if x.Volume != 4_937_143 {
		t.Errorf("35X: %d µL, want 4,937,143", x.Volume)
	}
	// Priming for 15 min at 500 mL/min adds 7.5 L of dialysate (common
	// practice, no source).
	x = expect(t, rx, 240, func(r *inventory.Rules) { r.PrimeMinutes, r.PrimeFlow, r.Residual = 15, 500, 100 }, bottle(inventory.Mix45X))[inventory.AcidConcentrate]
	if x.Volume != 4_006_667+100_000 {
		t.Errorf("with priming and a residual: %d µL", x.Volume)
	}
}

// What a treatment uses by access: common practice, no source.
func TestPiecesByAccess(t *testing.T) {
	rx := inventory.Prescription{Access: inventory.Fistula, Minutes: 240, DialysateFlow: 500, Heparin: &inventory.HeparinDose{Bolus: 2000, Rate: 1000, StopEarly: 60}}
	for _, c := range []struct {
		access inventory.Access
		single bool
		want   map[inventory.Category]int64
	}{
		{inventory.Fistula, false, map[inventory.Category]int64{inventory.Dialyzer: 1, inventory.BloodlineSet: 1, inventory.FistulaNeedle: 2, inventory.CatheterCap: 0, inventory.LockSolution: 0, inventory.Heparin: 1}},
		{inventory.Graft, true, map[inventory.Category]int64{inventory.FistulaNeedle: 1}},
		{inventory.Catheter, false, map[inventory.Category]int64{inventory.Dialyzer: 1, inventory.FistulaNeedle: 0, inventory.CatheterCap: 2, inventory.LockSolution: 2}},
	} {
		rx.Access, rx.SingleNeedle = c.access, c.single
		got := expect(t, rx, 240, nil, nil)
		for cat, n := range c.want {
			if got[cat].Pieces != n {
				t.Errorf("%s (single needle %v): %d of %s, want %d", c.access, c.single, got[cat].Pieces, cat, n)
			}
		}
	}
	rx.Heparin = nil
	if x, ok := expect(t, rx, 240, nil, nil)[inventory.Heparin]; ok {
		t.Errorf("heparin without a dose: %+v", x)
	}
}

// A vial of 20 mL that several patients share counts by volume: 1.1 mL/h for
// 4 h is 4.4 mL (common practice, no source).
func TestSharedVial(t *testing.T) {
	rx := inventory.Prescription{
		Access: inventory.Fistula, Minutes: 240, DialysateFlow: 500,
		Products: map[inventory.Category]inventory.ProductID{inventory.Heparin: "H"},
		Heparin:  &inventory.HeparinDose{Rate: 1100},
	}
	x := expect(t, rx, 240, nil, map[inventory.ProductID]inventory.Product{"H": {Facts: inventory.Facts{UnitsPerML: 1000, FillVolume: 20, Shared: true}}})[inventory.Heparin]
	if !x.Shared || x.Volume != 4400 || x.Pieces != 0 {
		t.Errorf("%+v, want 4,400 µL of a shared vial", x)
	}
	if n := inventory.SharedPieces(5*x.Volume, 20); n != 2 {
		t.Errorf("five such patients take %d vials of 20 mL, want 2", n)
	}
}
