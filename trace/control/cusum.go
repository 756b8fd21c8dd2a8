package control

import "math"

// A Cusum adds up what lies above a target and an allowance, and forgets what
// lies below: NIST 6.3.2.3, the upper side.
type Cusum struct {
	// Target is the mean aimed at, Slack (k) half of the smallest change
	// that matters, Limit (h) the sum at which it signals. All three are in
	// the units of the figures.
	Target, Slack, Limit float64
	// Sum is where it stands; Since is the index of the first figure of the
	// run that the sum comes from; seen counts figures.
	Sum   float64
	Since int
	seen  int
}

// Add takes the next figure, and says whether the sum is above the limit:
// Shi(i) = max(0, Shi(i−1) + x(i) − target − k).
func (c *Cusum) Add(x float64) bool {
	if c.Sum <= 0 {
		c.Since = c.seen
	}
	c.seen++
	c.Sum = math.Max(0, c.Sum+x-c.Target-c.Slack)
	return c.Sum > c.Limit
}

// CusumLimit returns the limit h, in standard deviations, at which a one-sided
// cusum with slack k (in standard deviations) signals by chance once in so many
// figures: Siegmund's approximation of the average run length (Sequential
// Analysis, 1985), (e^(2kb) − 2kb − 1) / 2k² with b = h + 1.166, solved for h.
func CusumLimit(k, runLength float64) float64 {
	low, high := 0.0, 60.0
	for range 80 {
		h := (low + high) / 2
		b := 2 * k * (h + 1.166)
		if (math.Exp(b)-b-1)/(2*k*k) < runLength {
			low = h
		} else {
			high = h
		}
	}
	return (low + high) / 2
}
