package policy_test

import (
	"math"
	"testing"

	"lotbook/inventory/policy"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// Quantiles to six decimals: Abramowitz and Stegun, Handbook of Mathematical
// Functions (1964), table 26.5, "Values of x in terms of P(x) and Q(x)", from
// memory. Φ(1.96) = 0.97500: NIST/SEMATECH e-Handbook 1.3.6.7.1, 0.47500 + ½.
func TestNormal(t *testing.T) {
	for p, z := range map[float64]float64{
		0.5: 0, 0.9: 1.281552, 0.95: 1.644854, 0.975: 1.959964, 0.98: 2.053749, 0.99: 2.326348, 0.995: 2.575829, 0.999: 3.090232, 0.025: -1.959964,
	} {
		near(t, "quantile", policy.Quantile(p), z, 5e-7)
		near(t, "and back", 1-policy.Exceeds(z), p, 5e-7)
	}
	near(t, "Φ(1.96)", 1-policy.Exceeds(1.96), 0.97500, 5e-6)
	if !math.IsInf(policy.Quantile(1), 1) || !math.IsInf(policy.Quantile(0), -1) || !math.IsNaN(policy.Quantile(1.2)) {
		t.Error("what is no chance in between has a quantile")
	}
}

// A published example of a course of inventory control: mean 5 a week, standard
// deviation 0.5, lead time 2 weeks, reorder point 12, so z = 2.828 and a
// stock-out in 0.234 % of cycles.
func TestReorderPoint(t *testing.T) {
	span := policy.Steady(5, 0.5, 2)
	near(t, "mean", span.Mean, 10, 0)
	z := (12 - span.Mean) / math.Sqrt(span.Variance)
	near(t, "z", z, 2.828, 5e-4)
	near(t, "stock-out", policy.Exceeds(z), 0.00234, 5e-6)
	near(t, "reorder point", policy.Level(z, span, 5, 0), 12, 1e-9)
	near(t, "from the service level", policy.Level(policy.Quantile(1-policy.Exceeds(z)), span, 5, 0), 12, 1e-6)
}

// A published example of a periodic review: 25,000 a month, coefficient of
// variation 10 %, review of one month and lead time of one, 95 %: order up to
// 55,815; with 22,456 on hand and 25,407 in transit the order is 7,952.
func TestOrderUpTo(t *testing.T) {
	level := policy.Level(policy.Quantile(0.95), policy.Steady(25_000, 2_500, 1+1), 25_000, 0)
	near(t, "order up to", level, 55_815, 0.5)
	near(t, "order", math.Round(level)-22_456-25_407, 7_952, 0)
}

// The published formulas of safety stock: z·σ·√L, and z·√(L·σd² + d²·σL²) where
// the lead time varies as well. The figures are set in by hand.
func TestSafetyStock(t *testing.T) {
	const z, d, sd, lead, leadSD = 1.645, 40, 9, 7, 1.5
	near(t, "z·σ·√L", policy.SafetyStock(z, policy.Steady(d, sd, lead), d, 0), z*sd*math.Sqrt(lead), 1e-9)
	// 7·81 + 1600·2.25 = 567 + 3600 = 4167; √4167 = 64.55; × 1.645 = 106.19
	near(t, "with the lead time's", policy.SafetyStock(z, policy.Steady(d, sd, lead), d, leadSD), 106.19, 0.005)
}

// A published example: 19,500 a year, 25 an order, 4 to hold one for a year.
func TestEOQ(t *testing.T) {
	near(t, "EOQ", policy.EOQ(19_500, 25, 4), 493.71, 0.005)
	for _, bad := range [][3]float64{{0, 25, 4}, {1, 0, 4}, {1, 25, 0}, {1, -1, -1}, {math.NaN(), 1, 1}} {
		if q := policy.EOQ(bad[0], bad[1], bad[2]); !math.IsNaN(q) {
			t.Errorf("EOQ of %v is %v", bad, q)
		}
	}
}

func TestWholePacks(t *testing.T) {
	for _, c := range []struct {
		quantity float64
		holds    int64
		packs    int64
	}{{0, 24, 0}, {-3, 24, 0}, {1, 24, 1}, {24, 24, 1}, {24.0000000001, 24, 1}, {24.1, 24, 2}, {7952, 500, 16}, {5, 0, 0}, {math.NaN(), 24, 0}} {
		if got := policy.WholePacks(c.quantity, c.holds); got != c.packs {
			t.Errorf("%v pieces in packs of %d: %d packs, want %d", c.quantity, c.holds, got, c.packs)
		}
	}
}
