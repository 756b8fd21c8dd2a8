package control

import (
	"errors"
	"fmt"
	"math"
)

// Errors of what can't be charted.
var (
	// ErrTooFew says that there are not points enough to know what is usual.
	ErrTooFew = errors.New("too few points to know what is usual")
	// ErrSize says that a point has no size, or less of them than counted.
	ErrSize = errors.New("a point counts more than its size, or its size is not above zero")
)

// Least is how many points a chart must have. Limits from fewer say little; the
// handbook's examples have 10 to 30. Common practice, no source.
const Least = 10

// A Kind says which chart it is.
type Kind string

// The charts, with the handbook's section.
const (
	P           Kind = "p"           // share of a number of units, 6.3.3.2
	U           Kind = "u"           // events for each unit of size, 6.3.3.1
	Individuals Kind = "individuals" // single figures, 6.3.2.2
)

// A Chart is figures in order with the limits between which noise stays.
type Chart struct {
	Kind   Kind    `json:"kind"`
	Center float64 `json:"center"`
	// Sigma is the standard deviation of a single figure, of an Individuals
	// chart; others have one for each size.
	Sigma float64 `json:"sigma,omitempty"`
	// Exact tells that the limits are of the binomial or the Poisson
	// distribution.
	Exact   bool     `json:"exact"`
	Points  []Point  `json:"points"`
	Signals []Signal `json:"signals"`
}

// A Point is one figure of a chart. A value outside [Low, High] is beyond the
// limits.
type Point struct {
	Value float64 `json:"value"`
	// Size is how many units or of what size: what Value is for each of.
	Size float64 `json:"size,omitempty"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// A Rule names what a signal was given by. They are four of the rules that
// NIST 6.3.2 quotes; the other two look at zones that small counts don't have.
type Rule string

// The rules.
const (
	Beyond       Rule = "beyond_limits"  // one point beyond the limits
	TwoOfThree   Rule = "two_of_three"   // two of three beyond two sigma, on the same side
	FourOfFive   Rule = "four_of_five"   // four of five beyond one sigma, on the same side
	EightOneSide Rule = "eight_one_side" // eight in a row on one side of the centre
)

var ruleTitles = map[Rule]string{
	Beyond: "one point beyond the limits", TwoOfThree: "two of three points beyond two sigma on one side",
	FourOfFive: "four of five points beyond one sigma on one side", EightOneSide: "eight points in a row on one side of the centre",
}

// Title returns the rule in words.
func (r Rule) Title() string { return ruleTitles[r] }

// A Signal is a place in a chart that noise rarely makes.
type Signal struct {
	// Point is the index of the point at which the rule was met.
	Point int  `json:"point"`
	Rule  Rule `json:"rule"`
	// Above tells the side.
	Above bool `json:"above"`
}

// PChart charts count[i] of size[i] units: NIST 6.3.3.2. Limits are exact
// unless normal is set, which gives the handbook's p̄ ± 3√(p̄(1−p̄)/n), never
// below 0.
func PChart(count, size []int64, normal bool) (*Chart, error) {
	total, sum, err := totals(count, size)
	if err != nil {
		return nil, err
	}
	for i := range count {
		if count[i] > size[i] {
			return nil, ErrSize
		}
	}
	p := float64(sum) / float64(total)
	c := &Chart{Kind: P, Center: p, Exact: !normal}
	for i := range count {
		n := float64(size[i])
		pt := Point{Value: float64(count[i]) / n, Size: n}
		if normal {
			s := 3 * math.Sqrt(p*(1-p)/n)
			pt.Low, pt.High = math.Max(0, p-s), math.Min(1, p+s)
		} else {
			low, high := BinomialLimits(size[i], p)
			pt.Low, pt.High = float64(low)/n, float64(high)/n
		}
		c.Points = append(c.Points, pt)
	}
	c.countSignals()
	return c, nil
}

// UChart charts count[i] events in size[i] units; where all sizes are 1 it is
// the c-chart: NIST 6.3.3.1. Limits are exact unless normal is set, which gives
// the handbook's c̄ ± 3√c̄, never below 0.
func UChart(count, size []int64, normal bool) (*Chart, error) {
	total, sum, err := totals(count, size)
	if err != nil {
		return nil, err
	}
	u := float64(sum) / float64(total)
	c := &Chart{Kind: U, Center: u, Exact: !normal}
	for i := range count {
		n := float64(size[i])
		pt := Point{Value: float64(count[i]) / n, Size: n}
		if normal {
			s := 3 * math.Sqrt(u/n)
			pt.Low, pt.High = math.Max(0, u-s), u+s
		} else {
			low, high := PoissonLimits(u * n)
			pt.Low, pt.High = float64(low)/n, float64(high)/n
		}
		c.Points = append(c.Points, pt)
	}
	c.countSignals()
	return c, nil
}

func totals(count, size []int64) (total, sum int64, err error) {
	if len(count) != len(size) {
		return 0, 0, fmt.Errorf("%d counts and %d sizes", len(count), len(size))
	}
	if len(count) < Least {
		return 0, 0, ErrTooFew
	}
	for i := range count {
		if size[i] < 1 || count[i] < 0 {
			return 0, 0, ErrSize
		}
		total += size[i]
		sum += count[i]
	}
	return total, sum, nil
}

// perMovingRange is 1/d2 for ranges of two: NIST 6.3.2.2 divides the mean
// moving range by 1.128.
const perMovingRange = 1 / 1.128

// XmR charts single figures, with limits from their mean moving range: NIST
// 6.3.2.2. Points may differ in size: a figure for each of size[i] treatments
// then spreads as 1/√size[i]. A nil size means that all are alike.
func XmR(value []float64, size []float64) (*Chart, error) {
	if len(value) < Least {
		return nil, ErrTooFew
	}
	if size != nil && len(size) != len(value) {
		return nil, fmt.Errorf("%d figures and %d sizes", len(value), len(size))
	}
	weight := func(i int) float64 {
		if size == nil {
			return 1
		}
		return size[i]
	}
	var sum, total float64
	for i, v := range value {
		if weight(i) <= 0 {
			return nil, ErrSize
		}
		sum += v * weight(i)
		total += weight(i)
	}
	c := &Chart{Kind: Individuals, Center: sum / total}
	var ranges float64
	for i := 1; i < len(value); i++ {
		// The range of two figures of these sizes, brought to size 1.
		ranges += math.Abs(value[i]-value[i-1]) / math.Sqrt((1/weight(i)+1/weight(i-1))/2)
	}
	c.Sigma = ranges / float64(len(value)-1) * perMovingRange
	for i, v := range value {
		s := 3 * c.Sigma / math.Sqrt(weight(i))
		pt := Point{Value: v, Low: c.Center - s, High: c.Center + s}
		if size != nil {
			pt.Size = size[i]
		}
		c.Points = append(c.Points, pt)
	}
	c.zoneSignals()
	return c, nil
}
