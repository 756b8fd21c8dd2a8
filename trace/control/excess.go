package control

import "math"

// A Usual is how rates usually are, over many series of a kind: a gamma
// distribution with mean Shape/Size. It says what to expect of a series before
// much of it was seen.
type Usual struct{ Shape, Size float64 }

// FitUsual fits how rates usually are to the counts of many series, each of a
// size, by moments: the spread of the rates less what Poisson counts of these
// sizes would spread by themselves. Few series say little about the spread, so
// that the shape stays between 0.3 and 10.
func FitUsual(count []int64, size []float64) Usual {
	var sum, total, spread float64
	k := 0
	for i, n := range size {
		if n > 0 {
			sum += float64(count[i])
			total += n
			k++
		}
	}
	if total == 0 {
		return Usual{Shape: 0.3, Size: 1}
	}
	mean := math.Max(sum, 0.5) / total
	for i, n := range size {
		if n > 0 {
			d := float64(count[i])/n - mean
			spread += n * d * d
		}
	}
	variance := (spread - mean*float64(k-1)) / total
	shape := 10.0
	if variance > 0 {
		shape = math.Min(10, math.Max(0.3, mean*mean/variance))
	}
	return Usual{Shape: shape, Size: shape / mean}
}

// nbAtLeast returns the probability of at least x events in size units, when
// the rate is gamma distributed with a shape and a size of its own: a negative
// binomial tail.
func nbAtLeast(x int64, shape, own, size float64) float64 {
	if x <= 0 {
		return 1
	}
	lnGamma := func(v float64) float64 { g, _ := math.Lgamma(v); return g }
	q := math.Log(size / (own + size))
	base := shape * math.Log(own/(own+size))
	var below float64
	for i := int64(0); i < x; i++ {
		below += math.Exp(base + lnGamma(shape+float64(i)) - lnGamma(shape) - lnFactorial(i) + float64(i)*q)
	}
	if below < 0.999999 {
		return 1 - below
	}
	// Far out the sum from x on keeps its digits.
	var above float64
	for i := x; ; i++ {
		term := math.Exp(base + lnGamma(shape+float64(i)) - lnGamma(shape) - lnFactorial(i) + float64(i)*q)
		above += term
		if term < above*1e-12 || i > x+100_000 {
			return above
		}
	}
}

// Excess says how rare the end of a series is: count[i] events in size[i] units,
// after what came before in the same series and by what is usual. It looks at
// the last 6 points, the last 18, 54 and so on, and corrects for how many such
// ends it looked at (Bonferroni). from is the index at which the rarest one
// begins.
func Excess(count []int64, size []float64, usual Usual) (p float64, from int) {
	p, looked := 1.0, 0
	for last := 6; last < len(count); last *= 3 {
		looked++
		at := len(count) - last
		before, after := usual.Shape, int64(0)
		own, ahead := usual.Size, 0.0
		for i := range count {
			if i < at {
				before += float64(count[i])
				own += size[i]
			} else {
				after += count[i]
				ahead += size[i]
			}
		}
		if rare := nbAtLeast(after, before, own, ahead); rare < p {
			p, from = rare, at
		}
	}
	return math.Min(1, p*float64(looked)), from
}
