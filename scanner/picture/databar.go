package picture

import (
	"math"

	"github.com/makiuchi-d/gozxing/oned/rss"
)

// GS1 DataBar (ISO/IEC 24724) other than Omnidirectional, which gozxing reads:
// Limited (databarlimited.go) and Expanded (databarexpanded.go). The tables are
// from memory and held against an independent encoder by the tests.

// similarEdges measures n elements of altogether so many modules from run from
// on, and returns their widths.
//
// It goes by the distances between like edges, over an element and the next one,
// which ink spread and blur leave alone. They leave one number open: how wide
// the odd elements are against the even ones. That is settled by the
// construction of the symbol: the elements of one parity always hold one that
// is a single module wide; narrow says which (0 the first and every second).
//
// Backwards, the elements are taken from the last to the first.
func similarEdges(r runs, from, n, modules, narrow int, backwards bool) (w []int, ok bool) {
	if from < 0 || from+n > r.len() {
		return nil, false
	}
	m := (r.at[from+n] - r.at[from]) / float64(modules)
	if m <= 0 {
		return nil, false
	}
	w = make([]int, n)
	total, lowest := 0, math.MaxInt
	var sum float64
	for i := range n - 1 {
		k := from + i
		if backwards {
			k = from + n - 2 - i
		}
		v := (r.at[k+2] - r.at[k]) / m
		e := int(math.Round(v))
		d := v - float64(e)
		sum += d * d
		if math.Abs(d) > 0.48 {
			return nil, false
		}
		w[i+1] = e - w[i]
		if i%2 == 0 {
			total += e
		}
		if i%2 == narrow {
			lowest = min(lowest, w[i])
		}
	}
	if narrow == (n-1)%2 {
		lowest = min(lowest, w[n-1])
	}
	if total != modules || sum/float64(n-1) > 0.31*0.31 {
		return nil, false
	}
	for i := range w {
		if i%2 == narrow {
			w[i] += 1 - lowest
		} else {
			w[i] -= 1 - lowest
		}
		if w[i] < 1 {
			return nil, false
		}
	}
	return w, true
}

// oddEven parts the widths of a character; sums are in modules.
func oddEven(w []int) (odd, even []int, oddSum, evenSum int) {
	for i, v := range w {
		if i%2 == 0 {
			odd, oddSum = append(odd, v), oddSum+v
		} else {
			even, evenSum = append(even, v), evenSum+v
		}
	}
	return odd, even, oddSum, evenSum
}

// A charGroup is a part of the values of a character, by how many modules its
// odd elements have together.
type charGroup struct {
	oddModules          int
	first               int // the lowest value
	evens               int // how many patterns the even elements have
	oddWidest, evenMost int
}

// charValue is the number that a character's widths stand for, by its groups.
func charValue(w []int, groups []charGroup, narrow int) (int, bool) {
	odd, even, oddSum, _ := oddEven(w)
	for _, g := range groups {
		if g.oddModules != oddSum {
			continue
		}
		for i := range odd {
			if odd[i] > g.oddWidest || even[i] > g.evenMost {
				return 0, false
			}
		}
		v := rss.RSSUtils_getRSSvalue(odd, g.oddWidest, narrow == 0)*g.evens + rss.RSSUtils_getRSSvalue(even, g.evenMost, narrow == 1)
		return g.first + v, true
	}
	return 0, false
}

// withCheckDigit adds the GS1 check digit to 13 digits.
func withCheckDigit(d string) string {
	for c := '0'; c <= '9'; c++ {
		if s := d + string(c); mod10(s) {
			return s
		}
	}
	return d
}

// alike says whether two module widths are of one symbol.
func alike(a, b float64) bool { return a < 1.12*b && b < 1.12*a }
