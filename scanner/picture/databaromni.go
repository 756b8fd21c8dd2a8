package picture

import (
	"fmt"
	"math"

	"github.com/makiuchi-d/gozxing/oned/rss"
)

// omniOutside are the values 0 to 2840 of the outer character of a half, 16
// modules in 8 elements (ISO/IEC 24724 table for DataBar Omnidirectional).
var omniOutside = []charGroup{
	{12, 0, 1, 8, 1}, {10, 161, 10, 6, 3}, {8, 961, 34, 4, 5}, {6, 2015, 70, 3, 6}, {4, 2715, 126, 1, 8},
}

// omniInside are the values 0 to 1596 of the inner character, 15 modules in 8
// elements; here the odd elements count first, evens holds how many they are.
var omniInside = []charGroup{{5, 0, 4, 2, 7}, {7, 336, 20, 4, 5}, {9, 1036, 48, 6, 3}, {11, 1516, 81, 8, 1}}

// omniFinders are the first four of the five elements of the finder patterns.
var omniFinders = [9][4]int{
	{3, 8, 2, 1}, {3, 5, 5, 1}, {3, 3, 7, 1}, {3, 1, 9, 1}, {2, 7, 4, 1}, {2, 5, 6, 1}, {2, 3, 8, 1}, {1, 5, 7, 1}, {1, 3, 9, 1},
}

const (
	omniHalf = 4537077            // values of a half
	omniMost = 10_000_000_000_000 // above: a composite component follows
)

// An omniPart is one half of the symbol, read from outside inwards: the left
// one from the left, the right one from the right. The outer character of the
// right one begins with a bar, that of the left one with a space; were that not
// seen, one symbol in some eighty would read as another one upside down, too.
type omniPart struct {
	value, finder, sum int
	right              bool
}

// omniAt reads the half whose finder begins at run p.
func omniAt(r runs, p int) (omniPart, bool) {
	if p < 8 || p+13 > r.len() {
		return omniPart{}, false
	}
	m := (r.at[p+4] - r.at[p]) / 14
	if !alike(m, (r.at[p]-r.at[p-8])/16) || !alike(m, (r.at[p+13]-r.at[p+5])/15) {
		return omniPart{}, false
	}
	best, at := 0.7, -1
	for f, w := range omniFinders {
		e := [4]int{w[0] + w[1], w[1] + w[2], w[2] + w[3], w[3] + 1}
		worst := 0.0
		for i := range e {
			worst = max(worst, math.Abs((r.at[p+i+2]-r.at[p+i])/m-float64(e[i])))
		}
		if worst < best {
			best, at = worst, f
		}
	}
	if at < 0 {
		return omniPart{}, false
	}
	out, okOut := similarEdges(r, p-8, 8, 16, 1, false)
	in, okIn := similarEdges(r, p+5, 8, 15, 0, true)
	if !okOut || !okIn {
		return omniPart{}, false
	}
	a, okOut := charValue(out, omniOutside, 1)
	b, okIn := insideValue(in)
	power, sum := 1, 0
	for _, w := range append(out, in...) {
		sum += w * power
		power = power * 3 % 79
	}
	return omniPart{1597*a + b, at, sum % 79, p%2 == 0}, okOut && okIn
}

func insideValue(w []int) (int, bool) {
	odd, even, oddSum, _ := oddEven(w)
	for _, g := range omniInside {
		if g.oddModules != oddSum {
			continue
		}
		for i := range odd {
			if odd[i] > g.oddWidest || even[i] > g.evenMost {
				return 0, false
			}
		}
		v := rss.RSSUtils_getRSSvalue(even, g.evenMost, false)*g.evens + rss.RSSUtils_getRSSvalue(odd, g.oddWidest, true)
		return g.first + v, true
	}
	return 0, false
}

// omniText joins two halves, if their check value is what their finders say.
func omniText(left, right omniPart) (string, bool) {
	want := 9*left.finder + right.finder
	if want > 72 {
		want--
	}
	if want > 8 {
		want--
	}
	v := omniHalf*left.value + right.value
	// The right half's weights go on where the left's 16 end: 3^16 is 16.
	if (left.sum+16*right.sum)%79 != want || v >= 2*omniMost {
		return "", false
	}
	return "01" + withCheckDigit(fmt.Sprintf("%013d", v%omniMost)), true
}

// omni looks for halves in one line of runs. They are joined over lines, since
// in a stacked symbol no line crosses both.
func (b *barReader) omni(r runs, place func(float64) Point, strip, dir int) {
	for p := 8; p+13 <= r.len(); p++ {
		part, ok := omniAt(r, p)
		if !ok {
			continue
		}
		b.hope++
		if b.halves[dir] == nil {
			b.halves[dir] = map[omniPart]*ballot{}
		}
		v := b.halves[dir][part]
		if v == nil {
			v = &ballot{strips: map[int]bool{}}
			b.halves[dir][part] = v
		}
		if !v.strips[strip] {
			v.strips[strip] = true
			v.ends = append(v.ends, [2]Point{place(r.at[p-8]), place(r.at[p+13])})
		}
		p += 12
	}
	b.join(dir)
	b.join(1 - dir)
}

// join makes votes of the halves that fit, the left ones read in one direction
// and the right ones in the other.
func (b *barReader) join(dir int) {
	for left, v := range b.halves[dir] {
		for right, w := range b.halves[1-dir] {
			text, ok := omniText(left, right)
			if left.right || !right.right || !ok {
				continue
			}
			all := &ballot{strips: v.strips, need: 3}
			if len(w.strips) < len(v.strips) {
				all.strips = w.strips
			}
			for i := range min(len(v.ends), len(w.ends)) {
				all.ends = append(all.ends, [2]Point{v.ends[i][0], w.ends[i][0]})
			}
			b.votes[[2]string{"]e0", text}] = all
		}
	}
}
