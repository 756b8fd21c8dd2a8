package associate

import "math"

// A distribution is how many exposed cases a table's totals allow, from the
// fewest on, and how likely each number is: the hypergeometric distribution. It
// works in logarithms, relative to the likeliest number, so that nothing
// overflows, and what is very unlikely keeps its digits.
type distribution struct {
	// log has the logarithm of each number's probability, but for a factor
	// that all share. seen is the index of the table's own number.
	log  []float64
	seen int
}

// newDistribution goes outward from the likeliest number by the ratio of
// neighbours, C(n,k)·C(m,s−k) to C(n,k+1)·C(m,s−k−1). A sum of logarithms of
// ratios near 1 loses less than a difference of factorials' logarithms, which
// are large where counts are.
func newDistribution(t Table) *distribution {
	n, m, s := t.A+t.B, t.C+t.D, t.A+t.C // cases, others, exposed
	first, last := max(0, s-m), min(n, s)
	d := &distribution{log: make([]float64, last-first+1), seen: int(t.A - first)}
	// The mode is the integer part of this (the hypergeometric distribution's).
	likeliest := int64(float64(s+1) * float64(n+1) / float64(n+m+2))
	mode := int(min(max(likeliest, first), last) - first)
	step := func(i int) float64 { // of i over i-1
		k := float64(first) + float64(i)
		return math.Log((float64(n)-k+1)/k) + math.Log((float64(s)-k+1)/(float64(m-s)+k))
	}
	for i := mode + 1; i < len(d.log); i++ {
		d.log[i] = d.log[i-1] + step(i)
	}
	for i := mode; i > 0; i-- {
		d.log[i-1] = d.log[i] - step(i)
	}
	return d
}

func (d *distribution) sum() (sum float64) {
	for _, l := range d.log {
		sum += math.Exp(l)
	}
	return sum
}

// highest returns the greatest logarithm when the odds ratio's is theta.
func (d *distribution) highest(theta float64) float64 {
	top := math.Inf(-1)
	for i, l := range d.log {
		top = max(top, l+float64(i)*theta)
	}
	return top
}

// mean returns how many exposed cases, beyond the fewest possible, are expected
// when the odds ratio's logarithm is theta.
func (d *distribution) mean(theta float64) float64 {
	top := d.highest(theta)
	var sum, weighted float64
	for i, l := range d.log {
		p := math.Exp(l + float64(i)*theta - top)
		sum += p
		weighted += p * float64(i)
	}
	return weighted / sum
}

// tails returns the logarithms of the probabilities of at most, and of at least,
// as many exposed cases as were seen when the odds ratio's logarithm is theta.
func (d *distribution) tails(theta float64) (most, least float64) {
	var below, above float64
	lowTop, highTop := math.Inf(-1), math.Inf(-1)
	for i, l := range d.log {
		l += float64(i) * theta
		if i <= d.seen {
			lowTop = max(lowTop, l)
		}
		if i >= d.seen {
			highTop = max(highTop, l)
		}
	}
	top := max(lowTop, highTop)
	var sum float64
	for i, l := range d.log {
		l += float64(i) * theta
		sum += math.Exp(l - top)
		if i <= d.seen {
			below += math.Exp(l - lowTop)
		}
		if i >= d.seen {
			above += math.Exp(l - highTop)
		}
	}
	total := top + math.Log(sum)
	return lowTop + math.Log(below) - total, highTop + math.Log(above) - total
}

// rootOf returns where a rising function is zero: bracketed by doubling steps
// from 0, then found by the Illinois form of the rule of false position.
func rootOf(f func(float64) float64) float64 {
	a, fa := 0.0, f(0)
	if fa == 0 {
		return 0
	}
	step := 1.0
	if fa > 0 {
		step = -1
	}
	b, fb := a, fa
	for (fb < 0) == (fa < 0) {
		a, fa = b, fb
		b += step
		step *= 2
		if fb = f(b); fb == 0 {
			return b
		}
	}
	for range 200 {
		if math.Abs(b-a) <= 1e-13*max(1, math.Abs(b)) {
			break
		}
		c := b - fb*(b-a)/(fb-fa)
		if !(c > min(a, b) && c < max(a, b)) {
			c = (a + b) / 2
		}
		fc := f(c)
		if fc == 0 {
			return c
		}
		if (fc < 0) == (fb < 0) {
			fa /= 2
		} else {
			a, fa = b, fb
		}
		b, fb = c, fc
	}
	return b
}
