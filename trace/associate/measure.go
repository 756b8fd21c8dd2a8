package associate

import "math"

// A Measured is what a table says of an exposure and an outcome.
type Measured struct {
	// P is Fisher's exact p-value, two-sided: the probability, if the
	// exposure made no difference, of all tables no likelier than this one.
	P float64 `json:"p"`
	// Greater is the one-sided p-value, of at least so many exposed cases;
	// Less of at most so many.
	Greater float64 `json:"p_greater"`
	Less    float64 `json:"p_less"`
	// OddsRatio is the conditional maximum likelihood estimate, Low and High
	// its exact interval. A table that is not defined has an odds ratio that
	// is not defined, from 0 to infinity, and p-values of 1.
	OddsRatio Ratio `json:"odds_ratio"`
	Low       Ratio `json:"low"`
	High      Ratio `json:"high"`
}

// Measure returns all of it, the interval of a level such as 0.95. It takes time
// and memory in proportion to the smallest of the table's four totals.
func Measure(t Table, level float64) Measured {
	m := Measured{P: 1, Greater: 1, Less: 1, OddsRatio: Ratio(math.NaN()), High: Ratio(math.Inf(1))}
	if !t.Defined() {
		return m
	}
	d := newDistribution(t)
	m.P, m.Greater, m.Less = d.fisher()
	m.OddsRatio, m.Low, m.High = d.estimate(), d.low((1-level)/2), d.high((1-level)/2)
	return m
}

// Fisher returns the p-values of Fisher's exact test: two-sided, and one-sided
// for more and for fewer exposed cases.
func Fisher(t Table) (two, greater, less float64) {
	if !t.Defined() {
		return 1, 1, 1
	}
	return newDistribution(t).fisher()
}

// alike is by how much a table may be likelier than the one seen and still
// count as no likelier: rounding must not part tables of the same probability.
// It is the one that R's fisher.test takes.
const alike = 1e-7

func (d *distribution) fisher() (two, greater, less float64) {
	limit := d.log[d.seen] + math.Log1p(alike)
	for i, l := range d.log {
		p := math.Exp(l)
		if l <= limit {
			two += p
		}
		if i >= d.seen {
			greater += p
		}
		if i <= d.seen {
			less += p
		}
	}
	sum := d.sum()
	return min(1, two/sum), min(1, greater/sum), min(1, less/sum)
}

// estimate returns the odds ratio at which as many exposed cases are expected as
// were seen (Cornfield, Proceedings of the Third Berkeley Symposium 4, 1956).
func (d *distribution) estimate() Ratio {
	switch d.seen {
	case 0:
		return 0
	case len(d.log) - 1:
		return Ratio(math.Inf(1))
	}
	return ratioOf(func(theta float64) float64 { return d.mean(theta) - float64(d.seen) })
}

// low returns the odds ratio at which as many exposed cases or more have a
// probability of tail.
func (d *distribution) low(tail float64) Ratio {
	if d.seen == 0 {
		return 0
	}
	return ratioOf(func(theta float64) float64 {
		_, least := d.tails(theta)
		return least - math.Log(tail)
	})
}

// high returns the odds ratio at which as many exposed cases or fewer have a
// probability of tail.
func (d *distribution) high(tail float64) Ratio {
	if d.seen == len(d.log)-1 {
		return Ratio(math.Inf(1))
	}
	return ratioOf(func(theta float64) float64 {
		most, _ := d.tails(theta)
		return math.Log(tail) - most
	})
}

// ratioOf returns the odds ratio at whose logarithm a rising function is zero.
func ratioOf(f func(theta float64) float64) Ratio { return Ratio(math.Exp(rootOf(f))) }
