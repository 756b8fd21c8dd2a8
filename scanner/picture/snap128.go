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
// a start character at run i on, and returns the code words.
//
// It compares distances between like edges (bar begin to bar begin, bar end to
// bar end) first, since ink spread and blur move both alike, and single widths
// only to break ties (ISO/IEC 15417 annex E prescribes this, too). Runs that
// fit no character end the attempt: ok says whether that was the stop pattern,
// used how many runs fitted.
func snap128(r runs, i int) (words []byte, used int, ok bool) {
	begin := i
	var doubt float64
	for i+6 < r.len() {
		first, last := 0, c128StartA
		if len(words) == 0 {
			first, last = c128StartA, c128Stop
		}
		w, misfit, fits := word128(r, i, first, last)
		if len(words) > 1 && i+7 <= r.len() && fitsStop(r, i) < misfit {
			return append(words, c128Stop), i + 7 - begin, doubt < 0.42*float64(len(words))
		}
		if !fits || i > begin && !alike128(r, i, i-6) {
			break
		}
		doubt += misfit
		words = append(words, w)
		i += 6
	}
	return words, i - begin, false
}

// snapBack128 is snap128 from the stop pattern at run i back: the code words
// before it, the last one first, as far as the runs fit.
func snapBack128(r runs, i int) (words []byte, used int) {
	end := i
	for i >= 6 {
		w, _, fits := word128(r, i-6, 0, c128Stop)
		if !fits || !alike128(r, i-6, i) {
			break
		}
		words = append(words, w)
		i -= 6
	}
	return words, end - i
}

// word128 is the code word, from first to before last, that six runs from i on
// are nearest to, and how far they are off. It fits if that is not much, and no
// other is as near.
func word128(r runs, i, first, last int) (w byte, off float64, fits bool) {
	m := (r.at[i+6] - r.at[i]) / 11
	if m <= 0 {
		return 0, math.Inf(1), false
	}
	best, bestAt, second := math.Inf(1), -1, math.Inf(1)
	for c := first; c < last; c++ {
		d := misfit(r, i, m, code128Widths[c])
		if d < best {
			best, bestAt, second = d, c, best
		} else if d < second {
			second = d
		}
	}
	return byte(bestAt), best, bestAt >= 0 && best <= 1.1 && second-best >= 0.04
}

// alike128 says whether the characters at runs i and j are about as wide, as
// neighbours are.
func alike128(r runs, i, j int) bool {
	a, b := r.at[i+6]-r.at[i], r.at[j+6]-r.at[j]
	return a <= 1.3*b && b <= 1.3*a
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

// fitsStop is how far seven runs are off the stop pattern; infinite if one of
// them can't be. The last bar, often blurred, counts less.
func fitsStop(r runs, i int) float64 {
	m := (r.at[i+7] - r.at[i]) / 13
	w := code128Widths[c128Stop]
	for k := range 6 {
		if e := (r.at[i+k+2]-r.at[i+k])/m - float64(w[k]+w[k+1]); math.Abs(e) > 0.8 {
			return math.Inf(1)
		}
	}
	return misfit(r, i, (r.at[i+6]-r.at[i])/11, w[:6])
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

// stops128 returns the runs at which a stop pattern may begin, with clear space
// behind it.
func stops128(r runs) []int {
	var out []int
	for i := 6; i+7 <= r.len(); i += 2 {
		if fitsStop(r, i) < 0.8 && (i+7 == r.len() || r.width(i+7) > 4*(r.at[i+6]-r.at[i])/11) {
			out = append(out, i)
		}
	}
	return out
}
