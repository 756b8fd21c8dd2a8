package control

import "math"

// tail is what lies beyond three standard deviations of a normal distribution,
// on one side.
const tail = 0.00134989803163

// poissonAtMost returns the probability of at most k events when mean are
// expected.
func poissonAtMost(k int64, mean float64) float64 {
	if k < 0 {
		return 0
	}
	if mean <= 0 {
		return 1
	}
	var p float64
	for i := int64(0); i <= k; i++ {
		p += math.Exp(-mean + float64(i)*math.Log(mean) - lnFactorial(i))
	}
	return math.Min(p, 1)
}

// binomialAtMost returns the probability of at most k of n, each with
// probability p.
func binomialAtMost(k, n int64, p float64) float64 {
	switch {
	case k < 0:
		return 0
	case k >= n || p <= 0:
		return 1
	case p >= 1:
		return 0
	}
	var sum float64
	for i := int64(0); i <= k; i++ {
		sum += math.Exp(lnFactorial(n) - lnFactorial(i) - lnFactorial(n-i) + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return math.Min(sum, 1)
}

func lnFactorial(n int64) float64 {
	v, _ := math.Lgamma(float64(n) + 1)
	return v
}

// limits returns the least and the greatest count that lie within the limits of
// a distribution: no more than tail lies below low, and no more than tail above
// high.
func limits(most int64, atMost func(int64) float64) (low, high int64) {
	for low < most && atMost(low) <= tail {
		low++
	}
	high = low
	for high < most && 1-atMost(high) > tail {
		high++
	}
	return low, high
}

// PoissonLimits returns the least and the greatest count within the limits when
// mean are expected.
func PoissonLimits(mean float64) (low, high int64) {
	most := int64(mean+12*math.Sqrt(mean)) + 20
	return limits(most, func(k int64) float64 { return poissonAtMost(k, mean) })
}

// BinomialLimits returns the least and the greatest count within the limits of
// n, each with probability p.
func BinomialLimits(n int64, p float64) (low, high int64) {
	return limits(n, func(k int64) float64 { return binomialAtMost(k, n, p) })
}

// RateInterval returns the 95% interval of a rate of which count events were
// seen in size units: Garwood's exact interval for a Poisson mean.
func RateInterval(count int64, size float64) (low, high float64) {
	if size <= 0 {
		return math.NaN(), math.NaN()
	}
	const half = 0.025
	solve := func(above func(mean float64) bool, lo, hi float64) float64 {
		for range 80 {
			if mid := (lo + hi) / 2; above(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		return (lo + hi) / 2
	}
	most := float64(count) + 10*math.Sqrt(float64(count)+1) + 20
	if count > 0 {
		low = solve(func(m float64) bool { return 1-poissonAtMost(count-1, m) > half }, 0, most)
	}
	high = solve(func(m float64) bool { return poissonAtMost(count, m) < half }, 0, most)
	return low / size, high / size
}

// SignTest returns the probability of at least so many signs being plus, of
// more + fewer, if plus and minus were as likely: the one-sided sign test,
// exact.
func SignTest(more, fewer int) float64 {
	n := int64(more + fewer)
	return 1 - binomialAtMost(int64(more)-1, n, 0.5)
}
