package control_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lotbook/trace/control"
)

// The tail of the negative binomial of shape 1 is a geometric one: with size 1
// before and size 1 after, P(X ≥ x) = (1/2)^x.
func TestExcessByHand(t *testing.T) {
	// Seven points: the only end looked at is that of the last six.
	count := []int64{0, 0, 0, 0, 0, 0, 4}
	size := []float64{0, 0.25, 0.25, 0.125, 0.125, 0.125, 0.125}
	p, from := control.Excess(count, size, control.Usual{Shape: 1, Size: 1})
	near(t, "p", p, 1.0/16, 1e-12)
	if from != 1 {
		t.Errorf("it begins at %d", from)
	}
	far, _ := control.Excess([]int64{0, 60, 0, 0, 0, 0, 0}, size, control.Usual{Shape: 1, Size: 1})
	near(t, "a far tail, as a power of 2", math.Log2(far), -60, 1e-6)
	if none, _ := control.Excess(make([]int64, 7), size, control.Usual{Shape: 1, Size: 1}); none != 1 {
		t.Errorf("nothing at all is rare: %v", none)
	}
}

// Of 40 series whose rates differ as a gamma distribution says, none with a
// change, p < 0.05 comes up in no more than one of twenty.
func TestUsualIsCalledUsual(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const series, rounds = 40, 20
	low, all := 0, 0
	for range rounds {
		counts, sums, totals := make([][]int64, series), make([]int64, series), make([]float64, series)
		size := make([]float64, 150)
		for i := range size {
			size[i] = float64(5 + rng.IntN(10))
		}
		for s := range series {
			rate := 0.003 * rng.ExpFloat64() // shape 1
			for _, n := range size {
				c := int64(events(rng, rate*n))
				counts[s] = append(counts[s], c)
				sums[s] += c
				totals[s] += n
			}
		}
		usual := control.FitUsual(sums, totals)
		for s := range series {
			all++
			if p, _ := control.Excess(counts[s], size, usual); p < 0.05 {
				low++
			}
		}
	}
	if most := 0.05*float64(all) + 3*math.Sqrt(0.05*0.95*float64(all)); float64(low) > most {
		t.Errorf("%d of %d series without a change have p < 0.05, at most %.0f may", low, all, most)
	}
}

func TestFitUsual(t *testing.T) {
	// Counts of 50 in 1000 each, spread no more than by chance: the mean is
	// 0.05 and the shape as great as it may be.
	u := control.FitUsual([]int64{50, 50, 50}, []float64{1000, 1000, 1000})
	near(t, "the mean", u.Shape/u.Size, 0.05, 1e-12)
	near(t, "the shape", u.Shape, 10, 1e-12)
	// Rates of 0 and 0.1: a spread of 0.05 about 0.05 is a shape of 1, less
	// what chance does.
	u = control.FitUsual([]int64{0, 1000}, []float64{10_000, 10_000})
	near(t, "the shape", u.Shape, 1, 0.01)
	if u = control.FitUsual(nil, nil); !(u.Shape > 0 && u.Size > 0) {
		t.Errorf("of nothing: %+v", u)
	}
	if u = control.FitUsual([]int64{0, 0}, []float64{10, 10}); !(u.Shape > 0 && u.Size > 0) {
		t.Errorf("of no events: %+v", u)
	}
}

// The sign test by hand: 3 of 3 is 1/8, 9 of 10 is 11/1024.
func TestSigns(t *testing.T) {
	near(t, "3 of 3", control.SignTest(3, 0), 1.0/8, 1e-12)
	near(t, "9 of 10", control.SignTest(9, 1), 11.0/1024, 1e-12)
	near(t, "none", control.SignTest(0, 0), 1, 1e-12)
}
