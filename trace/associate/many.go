package associate

import (
	"cmp"
	"math"
	"slices"
)

// Holm corrects p-values for how many were looked at: each is what it would
// have to be if only the one question had been asked (Holm, Scandinavian
// Journal of Statistics 6, 1979). It holds whatever depends on what. The order
// stays.
func Holm(p []float64) []float64 {
	out := make([]float64, len(p))
	least := 0.0
	for rank, i := range byValue(p) {
		least = math.Min(1, math.Max(least, p[i]*float64(len(p)-rank)))
		out[i] = least
	}
	return out
}

// BenjaminiHochberg returns for each p-value the share of false ones among those
// that are called if it is called too, and all below it (Benjamini and Hochberg,
// Journal of the Royal Statistical Society B 57, 1995). It holds where the tests
// are independent, or pull the same way. The order stays.
func BenjaminiHochberg(p []float64) []float64 {
	out := make([]float64, len(p))
	most := 1.0
	for rank, i := range slices.Backward(byValue(p)) {
		most = math.Min(most, p[i]*float64(len(p))/float64(rank+1))
		out[i] = most
	}
	return out
}

// byValue returns the indexes of values, the least first.
func byValue(p []float64) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	return order
}
