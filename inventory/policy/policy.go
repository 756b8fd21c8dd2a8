package policy

import "math"

// Quantile returns z such that a standard normal variable is below it with
// probability p: 0.975 gives 1.96. It is -Inf for 0 and +Inf for 1, NaN for
// what is no probability.
func Quantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// Exceeds returns the probability that a standard normal variable is above z:
// the chance of a stock-out with a safety stock of z standard deviations.
func Exceeds(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// A Demand is the demand of a span of days: its mean and variance, in pieces
// and pieces².
type Demand struct {
	Mean, Variance float64
}

// Steady returns the demand of n periods that each have the same mean and
// standard deviation and don't depend on each other: n·d and n·σ².
func Steady(mean, sd, n float64) Demand { return Demand{mean * n, sd * sd * n} }

// SafetyStock returns z·√(σ² + d²·σL²), where σ² is the variance of the demand
// of the span to be covered, rate (d) the mean demand of a day, and leadSD (σL)
// the standard deviation of the lead time in days. With a steady demand over a
// lead time L, σ² is L·σd², which gives the textbook's z·√(L·σd² + d²·σL²), and
// z·σ·√L where the lead time doesn't vary.
func SafetyStock(z float64, span Demand, rate, leadSD float64) float64 {
	return z * math.Sqrt(span.Variance+rate*rate*leadSD*leadSD)
}

// Level returns the stock, on hand and on order, that lasts for a span with the
// service level of z: its mean demand and the safety stock. For the lead time
// it is the reorder point, for lead time and review period the level to order
// up to.
func Level(z float64, span Demand, rate, leadSD float64) float64 {
	return span.Mean + SafetyStock(z, span, rate, leadSD)
}

// EOQ returns the economic order quantity √(2·D·K/h) (Harris, Wilson): yearly
// demand D in pieces, cost K of placing an order, cost h of holding a piece for
// a year. It is NaN unless all three are above zero.
func EOQ(yearly, order, holding float64) float64 {
	if !(yearly > 0 && order > 0 && holding > 0) {
		return math.NaN()
	}
	return math.Sqrt(2 * yearly * order / holding)
}

// WholePacks returns how many packs of so many pieces hold at least a quantity,
// 0 for nothing or less than nothing. A millionth of a piece is no piece: it
// comes from the arithmetic.
func WholePacks(quantity float64, holds int64) int64 {
	if holds < 1 || !(quantity > 0) {
		return 0
	}
	return int64(math.Ceil(quantity/float64(holds) - 1e-6))
}
