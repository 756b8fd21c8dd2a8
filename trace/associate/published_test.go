package associate_test

import (
	"math"
	"testing"

	"lotbook/trace/associate"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) && got != want {
		t.Errorf("%s is %v, not %v within %v", what, got, want, within)
	}
}

// of returns the table of a of n exposed cases and c of m exposed others.
func of(a, n, c, m int64) associate.Table { return associate.Table{A: a, B: n - a, C: c, D: m - c} }

// Published tables of outbreaks in haemodialysis, each with the p-value that
// was printed; below a bound where only "<0.001" was.
func TestPublishedPValues(t *testing.T) {
	const (
		nejm   = "New England Journal of Medicine 359:2674 (2008), table 1 (PMC3810025)"
		kidney = "Kidney International 57:1668 (2000)"
		blood  = "Blood 96:1703 (2000)"
	)
	for _, c := range []struct {
		source string
		table  associate.Table
		p      float64
		within float64 // half a unit of the last digit printed; 0: "less than"
	}{
		{nejm, of(21, 21, 1, 23), 0.001, 0},
		{nejm, of(2, 21, 20, 23), 0.001, 0},
		{nejm, of(0, 21, 2, 23), 0.49, 0.005},
		{nejm, of(9, 21, 13, 23), 0.55, 0.005},
		{nejm, of(1, 21, 3, 23), 0.61, 0.005},
		{nejm, of(10, 21, 8, 23), 0.54, 0.005},
		{nejm, of(9, 21, 14, 23), 0.37, 0.005},
		{nejm, of(15, 21, 9, 23), 0.04, 0.005},
		{nejm, of(10, 21, 12, 23), 1.00, 0.005},
		{kidney, of(13, 118, 0, 118), 0.001, 0},
		{kidney, of(12, 298, 0, 298), 0.001, 0}, // printed as 0.001; it is 0.000436
		{kidney, of(5, 62, 0, 65), 0.03, 0.005},
		{blood, of(10, 19, 1, 20), 0.00125, 0.000005},
		{blood, of(10, 29, 1, 50), 0.000115, 0.0000005},
	} {
		p, _, _ := associate.Fisher(c.table)
		if c.within == 0 {
			if p >= c.p {
				t.Errorf("%s, %+v: p %v, not below %v", c.source, c.table, p, c.p)
			}
			continue
		}
		near(t, c.source, p, c.p, c.within)
	}
}

// The same tables to more digits, worked out by another program for the
// project's notes on the trade.
func TestPublishedTablesToMoreDigits(t *testing.T) {
	for _, c := range []struct {
		table associate.Table
		p     float64
		unit  float64
	}{
		{of(21, 21, 1, 23), 2.19e-11, 1e-13},
		{of(0, 21, 2, 23), 0.4894, 1e-4},
		{of(9, 21, 13, 23), 0.5467, 1e-4},
		{of(10, 21, 8, 23), 0.5406, 1e-4},
		{of(9, 21, 14, 23), 0.3651, 1e-4},
		{of(15, 21, 9, 23), 0.0396, 1e-4},
		{of(13, 118, 0, 118), 0.000172, 1e-6},
		{of(12, 298, 0, 298), 0.000436, 1e-6},
		{of(5, 62, 0, 65), 0.0255, 1e-4},
	} {
		p, _, _ := associate.Fisher(c.table)
		near(t, "p", p, c.p, c.unit/2)
	}
	// Where no case was unexposed, or no other exposed, the odds ratio is
	// infinite, and its lower bound is finite.
	for _, c := range []struct {
		table associate.Table
		low   float64
		unit  float64
	}{
		{of(21, 21, 1, 23), 35.2, 0.1},
		{of(13, 118, 0, 118), 3.31, 0.01},
	} {
		m := associate.Measure(c.table, 0.95)
		if !m.OddsRatio.Infinite() || !m.High.Infinite() {
			t.Errorf("%+v: odds ratio %v, up to %v", c.table, m.OddsRatio, m.High)
		}
		near(t, "the lower bound", float64(m.Low), c.low, c.unit/2)
	}
}

// Blood 96:1703 (2000) prints odds ratios with exact intervals: the ratio is
// the cross product, the interval the conditional one.
func TestPublishedOddsRatios(t *testing.T) {
	for _, c := range []struct {
		table         associate.Table
		ratio         float64
		low, high     float64
		unitL, unitHi float64
	}{
		{of(10, 19, 1, 20), 21.11, 2.201, 962.8, 0.001, 0.1},
		{of(10, 29, 1, 50), 25.79, 3.151, 1141.1, 0.001, 0.1},
	} {
		near(t, "the cross product", float64(c.table.CrossProduct()), c.ratio, 0.005)
		m := associate.Measure(c.table, 0.95)
		near(t, "the lower bound", float64(m.Low), c.low, c.unitL/2)
		near(t, "the upper bound", float64(m.High), c.high, c.unitHi/2)
		if m.OddsRatio >= c.table.CrossProduct() || m.OddsRatio <= m.Low {
			t.Errorf("%+v: odds ratio %v", c.table, m.OddsRatio)
		}
	}
}

// What R's fisher.test gives, as printed in teaching pages: the tea tasting of
// R's documentation (online.stat.psu.edu, STAT 504, lesson 3, TeaLady.out), and
// matstat.org, R course, fisher_test. Its p-values are exact; its roots are good
// to one part in 10,000, upper bounds of this size to one in 100 (see
// TestRootsExactly for ours).
func TestFisherTestOfR(t *testing.T) {
	m := associate.Measure(associate.Table{A: 3, B: 1, C: 1, D: 3}, 0.95)
	near(t, "p", m.P, 0.4857, 5e-5)
	near(t, "p for more", m.Greater, 0.2429, 5e-5)
	near(t, "the odds ratio", float64(m.OddsRatio), 6.408309, 1e-4*6.4)
	near(t, "the lower bound", float64(m.Low), 0.2117329, 1e-4*0.21)
	near(t, "the upper bound", float64(m.High), 621.9337505, 1e-2*622)
	one := associate.Measure(associate.Table{A: 3, B: 1, C: 1, D: 3}, 0.90) // one-sided at 95 %
	near(t, "the one-sided bound", float64(one.Low), 0.3135693, 1e-4*0.31)

	m = associate.Measure(associate.Table{A: 2, B: 10, C: 20, D: 13}, 0.95)
	near(t, "p", m.P, 0.01655, 5e-6)
	near(t, "the odds ratio", float64(m.OddsRatio), 0.1360765, 1e-4*0.136)
	near(t, "the lower bound", float64(m.Low), 0.01256709, 1e-2*0.0126)
	near(t, "the upper bound", float64(m.High), 0.78740829, 1e-4*0.787)
}

// Figures of R 3.6.2's fisher.test that SciPy keeps to test its own
// (scipy/stats/tests/fisher_exact_results_from_r.py), with the tolerances that
// SciPy's test takes, since R's roots are rough: 1e-6 for p, 5e-4 for the odds
// ratio, 2e-2 for bounds, and 5e-2 and 1e-1 where the ratio is above 400.
func TestFiguresOfR(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		table         associate.Table
		level         float64
		p, less, more float64 // less and more are 0 where not taken over
		ratio         float64
		low, high     float64
	}{
		{associate.Table{A: 100, B: 2, C: 1000, D: 5}, 0.95, 0.1300759363430016, 0.1300759363430016, 0.979790445314723, 0.25055839934223, 0.04035202926536294, 2.662846672960251},
		{associate.Table{A: 2, B: 7, C: 8, D: 2}, 0.95, 0.02301413756522116, 0.0185217259520665, 0.9990149169715733, 0.0858623513573622, 0.004668988338943325, 0.895792956493601},
		{associate.Table{A: 5, B: 1, C: 10, D: 10}, 0.95, 0.1973244147157191, 0.9782608695652173, 0.1652173913043478, 4.725646047336587, 0.4153910882532168, 259.2593661129417},
		{associate.Table{A: 5, B: 15, C: 20, D: 20}, 0.95, 0.09580440012477633, 0.05625775074399956, 0.9849086665340765, 0.3394396617440851, 0.08056337526385809, 1.22704788545557},
		{associate.Table{A: 5, B: 16, C: 16, D: 25}, 0.99, 0.2697004098849359, 0.1808979350599346, 0.9330176609214881, 0.4937791394540491, 0.07498546954483619, 2.506969905199901},
		{associate.Table{A: 10, B: 5, C: 10, D: 1}, 0.95, 0.1973244147157192, 0.1652173913043479, 0.9782608695652174, 0.2116112781158479, 0.003857141267422399, 2.407369893767229},
		{associate.Table{A: 10, B: 5, C: 10, D: 0}, 0.95, 0.06126482213438735, 0.0565217391304348, 1, 0, 0, 1.451643573543705},
		{associate.Table{A: 10, B: 5, C: 10, D: 0}, 0.99, 0.06126482213438735, 0.0565217391304348, 1, 0, 0, 2.642491011905582},
		{associate.Table{A: 5, B: 0, C: 1, D: 4}, 0.95, 0.04761904761904762, 1, 0.02380952380952382, inf, 1.024822256141754, inf},
		{associate.Table{A: 5, B: 0, C: 1, D: 4}, 0.99, 0.04761904761904762, 1, 0.02380952380952382, inf, 0.496935393325443, inf},
		{associate.Table{A: 0, B: 5, C: 1, D: 4}, 0.95, 1, 0.5, 1, 0, 0, 39.00054996869288},
		{associate.Table{A: 0, B: 1, C: 3, D: 2}, 0.99, 1, 0.5, 1, 0, 0, 198.019801980198},
		{associate.Table{A: 200, B: 7, C: 8, D: 300}, 0.95, 2.005657880389071e-122, 1, 2.005657880388915e-122, 977.7866978606228, 349.2595113327733, 3630.382605689872},
		{associate.Table{A: 28, B: 21, C: 6, D: 1957}, 0.95, 5.728437460831947e-44, 1, 5.728437460831983e-44, 425.2403028434684, 152.4166024390096, 1425.700792178893},
		{associate.Table{A: 190, B: 800, C: 200, D: 900}, 0.95, 0.574111858126088, 0.7416227010368963, 0.2959825901308897, 1.068697577856801, 0.8520462587912048, 1.340148950273938},
	} {
		m := associate.Measure(c.table, c.level)
		near(t, "p", m.P, c.p, 1e-6*c.p)
		near(t, "p for fewer", m.Less, c.less, 1e-6*c.less)
		near(t, "p for more", m.Greater, c.more, 1e-6*c.more)
		ratio, bound := 5e-4, 2e-2
		if c.ratio > 400 && !math.IsInf(c.ratio, 1) {
			ratio, bound = 5e-2, 1e-1
		}
		if !math.IsInf(c.ratio, 1) {
			near(t, "the odds ratio", float64(m.OddsRatio), c.ratio, ratio*c.ratio)
		} else if !m.OddsRatio.Infinite() {
			t.Errorf("%+v: odds ratio %v", c.table, m.OddsRatio)
		}
		near(t, "the lower bound", float64(m.Low), c.low, bound*c.low)
		if math.IsInf(c.high, 1) != m.High.Infinite() {
			t.Errorf("%+v: upper bound %v", c.table, m.High)
		} else if !m.High.Infinite() {
			near(t, "the upper bound", float64(m.High), c.high, bound*c.high)
		}
	}
}

// Holm's own rule on four p-values: 0.01, 0.04, 0.03, 0.005 become 0.03, 0.06,
// 0.06, 0.02 (worked out by hand: 4×0.005, 3×0.01, 2×0.03, then never less). The
// others are the examples of stdlib.io's padjust, printed to three digits.
func TestCorrections(t *testing.T) {
	for _, c := range []struct {
		what    string
		correct func([]float64) []float64
		p, want []float64
		within  float64
	}{
		{"Holm by hand", associate.Holm, []float64{0.01, 0.04, 0.03, 0.005}, []float64{0.03, 0.06, 0.06, 0.02}, 1e-12},
		{"Holm", associate.Holm, []float64{0.319, 0.201, 0.4, 0.374, 0.113}, []float64{0.957, 0.804, 0.957, 0.957, 0.565}, 5e-4},
		{"Benjamini and Hochberg", associate.BenjaminiHochberg, []float64{0.319, 0.201, 0.4, 0.374, 0.113}, []float64{0.4, 0.4, 0.4, 0.4, 0.4}, 5e-4},
		{"Benjamini and Hochberg", associate.BenjaminiHochberg, []float64{0.008, 0.03, 0.123, 0.6, 0.2}, []float64{0.04, 0.075, 0.205, 0.6, 0.25}, 5e-4},
	} {
		got := c.correct(c.p)
		for i := range c.want {
			near(t, c.what, got[i], c.want[i], c.within)
		}
	}
	if one := associate.Holm([]float64{0.9, 0.8}); one[0] > 1 || one[1] > 1 {
		t.Errorf("above 1: %v", one)
	}
}
