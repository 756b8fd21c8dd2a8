package associate_test

import (
	"fmt"

	"lotbook/trace/associate"
)

// Of 29 patients with a reaction 10 had been exposed, of 50 without one 1 (Blood
// 96:1703, 2000).
func Example() {
	m := associate.Measure(associate.Table{A: 10, B: 19, C: 1, D: 49}, 0.95)
	fmt.Printf("p %.6f, odds ratio %s, from %s to %s\n", m.P, m.OddsRatio, m.Low, m.High)
	// Output: p 0.000115, odds ratio 24.7, from 3.15 to 1141
}

// A cell of zero needs no correction (Kidney International 57:1668, 2000).
func Example_zero() {
	m := associate.Measure(associate.Table{A: 13, B: 105, C: 0, D: 118}, 0.95)
	fmt.Printf("odds ratio %s, from %s to %s\n", m.OddsRatio, m.Low, m.High)
	// Output: odds ratio infinite, from 3.31 to infinite
}

// Four exposures were looked at: what is left of the smallest p.
func ExampleHolm() {
	for _, p := range associate.Holm([]float64{0.01, 0.04, 0.03, 0.005}) {
		fmt.Printf("%.2f ", p)
	}
	// Output: 0.03 0.06 0.06 0.02
}
