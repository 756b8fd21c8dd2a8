package control_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"lotbook/trace/control"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.6f, want %.6f", what, got, want)
	}
}

func ones(n int) []int64 { return slices.Repeat([]int64{1}, n) }

// NIST/SEMATECH e-Handbook 6.3.3.2: 30 wafers of 50 chips; mean share 0.2313,
// UCL 0.4102, LCL 0.0524. The mean is quoted from there by several textbooks'
// exercises; the wafers' figures are from memory, and their mean agrees.
func TestProportions(t *testing.T) {
	share := []float64{
		.24, .30, .16, .20, .08, .14, .32, .18, .28, .20, .10, .12, .34, .24, .44,
		.16, .20, .10, .26, .22, .40, .36, .48, .30, .18, .24, .14, .26, .18, .12,
	}
	var count, size []int64
	for _, s := range share {
		count, size = append(count, int64(math.Round(50*s))), append(size, 50)
	}
	c, err := control.PChart(count, size, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the centre", c.Center, 0.2313, 0.00005)
	near(t, "the upper limit", c.Points[0].High, 0.4102, 0.00005)
	near(t, "the lower limit", c.Points[0].Low, 0.0524, 0.0001)
	var beyond []int
	for _, s := range c.Signals {
		if s.Rule == control.Beyond {
			beyond = append(beyond, s.Point)
		}
	}
	if !slices.Equal(beyond, []int{14, 22}) { // .44 and .48
		t.Errorf("points %v are beyond the limits", beyond)
	}
}

// NIST/SEMATECH e-Handbook 6.3.3.1: 25 wafers with 400 defects; UCL 28, LCL 4.
// The counts are from memory; their sum is the handbook's.
func TestCounts(t *testing.T) {
	count := []int64{16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13}
	c, err := control.UChart(count, ones(25), true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the centre", c.Center, 16, 1e-9)
	near(t, "the upper limit", c.Points[0].High, 28, 1e-9)
	near(t, "the lower limit", c.Points[0].Low, 4, 1e-9)
	if len(c.Signals) != 1 || c.Signals[0] != (control.Signal{Point: 23, Rule: control.Beyond, Above: true}) {
		t.Errorf("signals %+v", c.Signals)
	}
}

// NIST/SEMATECH e-Handbook 6.3.2.2: ten flow rates; mean 50.81, mean moving
// range 1.8778, UCL 55.8041, LCL 45.8159, no point beyond. The four results
// were confirmed in two public repositories that test against them.
func TestIndividuals(t *testing.T) {
	c, err := control.XmR([]float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the centre", c.Center, 50.81, 1e-9)
	near(t, "the mean moving range", c.Sigma*1.128, 1.8778, 0.00005)
	near(t, "the upper limit", c.Points[0].High, 55.8041, 0.00005)
	near(t, "the lower limit", c.Points[0].Low, 45.8159, 0.00005)
	for _, s := range c.Signals {
		if s.Rule == control.Beyond {
			t.Errorf("point %d is beyond the limits", s.Point)
		}
	}
}

// Figures of unlike size: with sizes all alike the chart is the one without.
func TestIndividualsOfUnlikeSize(t *testing.T) {
	v := []float64{3, 5, 2, 8, 6, 4, 5, 7, 3, 5, 6}
	plain, err := control.XmR(v, nil)
	if err != nil {
		t.Fatal(err)
	}
	sized, err := control.XmR(v, slices.Repeat([]float64{4}, len(v)))
	if err != nil {
		t.Fatal(err)
	}
	for i := range v {
		near(t, "a limit", sized.Points[i].High, plain.Points[i].High, 1e-9)
	}
	unlike := slices.Repeat([]float64{4}, len(v))
	unlike[3] = 16
	c, err := control.XmR(v, unlike)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the width at four times the size", (c.Points[3].High-c.Center)*2, c.Points[0].High-c.Center, 1e-9)
}

// The zone rules, each on a series made for it (NIST 6.3.2 quotes the rules).
func TestZoneRules(t *testing.T) {
	quiet := slices.Repeat([]float64{1, -1}, 30)
	for _, x := range []struct {
		rule control.Rule
		add  []float64
	}{
		{control.Beyond, []float64{9}},
		{control.TwoOfThree, []float64{4.8, 0, 4.8}},
		{control.FourOfFive, []float64{2.8, 2.8, -1, 2.8, 2.8}},
		{control.EightOneSide, []float64{1.3, 1.3, 1.3, 1.3, 1.3, 1.3, 1.3, 1.3}},
	} {
		for _, side := range []float64{1, -1} {
			v := slices.Clone(quiet)
			for _, a := range x.add {
				v = append(v, side*a)
			}
			c, err := control.XmR(v, nil)
			if err != nil {
				t.Fatal(err)
			}
			found := slices.ContainsFunc(c.Signals, func(s control.Signal) bool {
				return s.Rule == x.rule && s.Above == (side > 0) && s.Point >= len(v)-2
			})
			if !found {
				t.Errorf("%s, side %v: signals %+v", x.rule, side, c.Signals)
			}
		}
	}
	c, err := control.XmR(quiet, nil)
	if err != nil || len(c.Signals) != 0 {
		t.Errorf("a quiet series: %+v (%v)", c.Signals, err)
	}
}

// Exact limits against tables: of Poisson with mean 1, P(X ≥ 5) = 0.00366 and
// P(X ≥ 6) = 0.00059; of the binomial with n = 10, p = 0.1, P(X ≥ 5) = 0.00163
// and P(X ≥ 6) = 0.00015 (tables of both distributions, from memory). The
// normal limits, 4 and 0.385, would call one shift in 52 and one in 78 a signal.
func TestExactLimits(t *testing.T) {
	if low, high := control.PoissonLimits(1); low != 0 || high != 5 {
		t.Errorf("Poisson, mean 1: %d to %d", low, high)
	}
	if low, high := control.BinomialLimits(10, 0.1); low != 0 || high != 5 {
		t.Errorf("binomial, 10 of 0.1: %d to %d", low, high)
	}
	// With many, exact and normal limits are nearly the same.
	if low, high := control.PoissonLimits(400); math.Abs(float64(low)-340) > 2 || math.Abs(float64(high)-460) > 3 {
		t.Errorf("Poisson, mean 400: %d to %d", low, high)
	}
	if low, high := control.PoissonLimits(0); low != 0 || high != 0 {
		t.Errorf("Poisson, mean 0: %d to %d", low, high)
	}
	if low, high := control.BinomialLimits(5, 1); low != 5 || high != 5 {
		t.Errorf("all of 5: %d to %d", low, high)
	}
}

// Garwood's interval: 0 events give 0 to 3.689, 10 give 4.795 to 18.390
// (published tables of exact Poisson limits, from memory).
func TestRateInterval(t *testing.T) {
	low, high := control.RateInterval(0, 1)
	near(t, "low of 0", low, 0, 1e-9)
	near(t, "high of 0", high, 3.689, 0.001)
	low, high = control.RateInterval(10, 1)
	near(t, "low of 10", low, 4.795, 0.001)
	near(t, "high of 10", high, 18.390, 0.001)
	low, _ = control.RateInterval(10, 100)
	near(t, "low of 10 in 100", low, 0.04795, 0.00001)
}

func TestWhatCannotBeCharted(t *testing.T) {
	few := ones(control.Least - 1)
	if _, err := control.PChart(few, few, false); !errors.Is(err, control.ErrTooFew) {
		t.Errorf("nine points: %v", err)
	}
	if _, err := control.XmR(make([]float64, 3), nil); !errors.Is(err, control.ErrTooFew) {
		t.Errorf("three figures: %v", err)
	}
	count, size := ones(12), ones(12)
	count[3] = 2
	if _, err := control.PChart(count, size, false); !errors.Is(err, control.ErrSize) {
		t.Errorf("2 of 1: %v", err)
	}
	size[3] = 0
	if _, err := control.UChart(count, size, false); !errors.Is(err, control.ErrSize) {
		t.Errorf("a size of 0: %v", err)
	}
	if _, err := control.UChart(count, size[1:], false); err == nil {
		t.Error("counts without sizes are charted")
	}
}
