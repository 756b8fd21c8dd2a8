package control_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lotbook/trace/control"
)

// NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k = 0.3175, h = 4.1959; the
// figures, and the sums in its table, are from memory. The first sum above h is
// that of group 14.
func TestCusum(t *testing.T) {
	x := []float64{
		324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
		324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
	}
	want := map[int]float64{1: 0, 5: 0.03, 6: 0, 13: 3.01, 14: 4.94, 15: 7.45, 16: 10.63, 17: 11.99, 18: 14.44, 19: 16.00, 20: 19.04}
	c := control.Cusum{Target: 325, Slack: 0.3175, Limit: 4.1959}
	first := 0
	for i, v := range x {
		over := c.Add(v)
		if over && first == 0 {
			first = i + 1
		}
		if w, ok := want[i+1]; ok {
			near(t, "a sum", c.Sum, w, 0.011)
		}
	}
	if first != 14 || c.Since != 12 {
		t.Errorf("it signals at group %d, from group %d on", first, c.Since+1)
	}
}

// Average run lengths of a one-sided cusum with k = 0.5: 938 at h = 5 and 336 at
// h = 4 (Montgomery, Introduction to Statistical Quality Control, gives 465 and
// 168 for two sides, from memory).
func TestCusumLimit(t *testing.T) {
	near(t, "the limit", control.CusumLimit(0.5, 2*465), 5, 0.02)
	near(t, "the limit", control.CusumLimit(0.5, 2*168), 4, 0.02)
}

// events draws a Poisson count.
func events(rng *rand.Rand, mean float64) float64 {
	n, p, limit := 0, 1.0, math.Exp(-mean)
	for {
		if p *= rng.Float64(); p <= limit {
			return float64(n)
		}
		n++
	}
}

// drawn makes a series of shifts with 6 to 15 treatments: a background of pieces
// gone and found, and a loss from the shift at on.
func drawn(rng *rand.Rand, shifts, at int, loss float64) (value, size []float64) {
	for i := range shifts {
		n := float64(6 + rng.IntN(10))
		v := events(rng, 0.01*n) - events(rng, 0.01*n)
		if i >= at {
			v += events(rng, loss*n)
		}
		value, size = append(value, v), append(size, n)
	}
	return value, size
}

// Without a change a p-value below 0.05 comes up in no more than one series in
// twenty: that is what a p-value is. 400 series; three standard deviations of
// the binomial are allowed.
func TestNoiseIsCalledNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const series = 400
	low := 0
	for range series {
		value, size := drawn(rng, 90, 90, 0)
		c, err := control.FindChange(value, size, 400)
		if err != nil {
			t.Fatal(err)
		}
		if c != nil && c.P < 0.05 {
			low++
		}
	}
	if most := 0.05*series + 3*math.Sqrt(0.05*0.95*series); float64(low) > most {
		t.Errorf("%d of %d series without a change have p < 0.05, at most %.0f may", low, series, most)
	}
}

// A loss that began is found, its onset lies in the interval, and its size too,
// about as often as 95% intervals say. The interval of the size is too narrow
// by what choosing the split costs, so 80% is asked of it.
func TestALossIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const series, loss = 60, 0.08
	found, onset, size := 0, 0, 0
	for range series {
		value, n := drawn(rng, 120, 70, loss)
		c, err := control.FindChange(value, n, 400)
		if err != nil || c == nil {
			t.Fatal(c, err)
		}
		if c.P < 0.05 {
			found++
		}
		if c.From <= 70 && 70 <= c.To {
			onset++
		}
		if c.Low <= loss && loss <= c.High {
			size++
		}
	}
	if found < series*9/10 || onset < series*8/10 || size < series*8/10 {
		t.Errorf("of %d losses %d were found, %d with the onset and %d with the size in its interval", series, found, onset, size)
	}
	t.Logf("of %d losses %d were found, %d with the onset and %d with the size in its interval", series, found, onset, size)
}

func TestNoChange(t *testing.T) {
	flat := make([]float64, 40)
	ten := make([]float64, 40)
	for i := range ten {
		ten[i] = 10
	}
	if c, err := control.FindChange(flat, ten, 100); c != nil || err != nil {
		t.Errorf("figures that never differ: %+v, %v", c, err)
	}
	if c, err := control.FindChange(flat[:9], ten[:9], 100); c != nil || err != nil {
		t.Errorf("nine figures: %+v, %v", c, err)
	}
	if _, err := control.FindChange(flat, flat, 100); err == nil {
		t.Error("sizes of 0 are taken")
	}
	falls := append([]float64{}, flat...)
	for i := range 20 {
		falls[i] = 3
	}
	if c, err := control.FindChange(falls, ten, 200); err != nil || (c != nil && c.P < 0.2) {
		t.Errorf("a fall is called a rise: %+v, %v", c, err)
	}
}
