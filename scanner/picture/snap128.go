package picture

import (
	"math"
	"strings"
)

// code128Widths are the widths in modules, a bar first, of the code words 0 to
// 105 and of the stop pattern (ISO/IEC 15417 table 1).
var code128Widths = widthsOf("" +
	"212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 " +
	"112232 122132 122231 113222 123122 123221 223211 221132 221231 213212 223112 312131 " +
	"311222 321122 321221 312212 322112 322211 212123 212321 232121 111323 131123 131321 " +
	"112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121 " +
	"313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 " +
	"314111 221411 431111 111224 111422 121124 121421 141122 141221 112214 112412 122114 " +
	"122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 114212 " +
	"124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113 " +
	"114311 411113 411311 113141 114131 311141 411131 211412 211214 211232 2331112")

func widthsOf(table string) [][]int {
	var out [][]int
	for _, p := range strings.Fields(table) {
		w := make([]int, len(p))
		for i := range p {
			w[i] = int(p[i] - '0')
		}
		out = append(out, w)
	}
	return out
}

// snap128 pulls measured runs onto whole modules, character by character, from
// a start character at run i on: gozxing's reader then finds what it expects.
//
// It compares distances between like edges (bar begin to bar begin, bar end to
// bar end) first, since ink spread and blur move both alike, and single widths
// only to break ties (ISO/IEC 15417 annex E prescribes this, too). Runs that
// fit no character end the attempt. It returns the widths up to the stop
// pattern, and how many runs fitted.
func snap128(r runs, i int) (widths []int, used int, ok bool) {
	n := r.len()
	begin := i
	var doubt float64
	chars := 0
	for i+6 < n {
		total := r.at[i+6] - r.at[i]
		if total <= 0 {
			return nil, i - begin, false
		}
		best, bestAt, second := math.Inf(1), -1, math.Inf(1)
		m := total / 11
		first, last := 0, c128StartA
		if chars == 0 {
			first, last = c128StartA, c128Stop
		}
		for c := first; c < last; c++ {
			d := misfit(r, i, m, code128Widths[c])
			if d < best {
				best, bestAt, second = d, c, best
			} else if d < second {
				second = d
			}
		}
		if chars > 1 && i+7 <= n && fitsStop(r, i, (r.at[i+7]-r.at[i])/13) {
			// Loosely, since the last bar is often blurred; so only if no character
			// fits better.
			if d := misfit(r, i, m, code128Widths[c128Stop][:6]); d < best {
				widths = append(widths, code128Widths[c128Stop]...)
				return widths, i + 7 - begin, doubt < 0.42*float64(chars)
			}
		}
		if bestAt < 0 || best > 1.1 || second-best < 0.04 {
			return nil, i - begin, false
		}
		// A character much wider than the one before is not of this symbol.
		if i > begin {
			if before := (r.at[i] - r.at[i-6]) / 11; m > 1.3*before || m < before/1.3 {
				return nil, i - begin, false
			}
		}
		doubt += best
		chars++
		widths = append(widths, code128Widths[bestAt]...)
		i += 6
	}
	return nil, i - begin, false
}

// misfit is a squared distance in modules between six runs and a pattern.
func misfit(r runs, i int, m float64, w []int) float64 {
	var d float64
	for k := range 5 {
		e := (r.at[i+k+2]-r.at[i+k])/m - float64(w[k]+w[k+1])
		d += e * e
	}
	// The bars' common widening is taken out of the single widths.
	var bars, want float64
	for k := 0; k < 6; k += 2 {
		bars += r.width(i+k) / m
		want += float64(w[k])
	}
	bias := max(-0.7, min(0.7, (bars-want)/3))
	for k := range 6 {
		e := r.width(i+k)/m - float64(w[k])
		if k%2 == 0 {
			e -= bias
		} else {
			e += bias
		}
		d += 0.35 * e * e
	}
	return d + 0.25*bias*bias
}

func fitsStop(r runs, i int, m float64) bool {
	w := code128Widths[c128Stop]
	for k := range 6 {
		if e := (r.at[i+k+2]-r.at[i+k])/m - float64(w[k]+w[k+1]); math.Abs(e) > 0.8 {
			return false
		}
	}
	return true
}

// starts128 returns the runs at which a start character may begin.
func starts128(r runs) []int {
	var out []int
	for i := 0; i+6 < r.len(); i += 2 {
		m := (r.at[i+6] - r.at[i]) / 11
		for c := c128StartA; c <= c128StartC; c++ {
			if misfit(r, i, m, code128Widths[c]) < 0.8 {
				out = append(out, i)
				break
			}
		}
	}
	return out
}
