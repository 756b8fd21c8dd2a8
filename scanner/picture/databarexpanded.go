package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// expandedGroups are the values 0 to 4191 of a character of 17 modules in 8
// elements (ISO/IEC 24724 table for DataBar Expanded).
var expandedGroups = []charGroup{
	{12, 0, 4, 7, 2}, {10, 348, 20, 5, 4}, {8, 1388, 52, 4, 5}, {6, 2948, 104, 3, 6}, {4, 3988, 204, 1, 8},
}

// expandedFinders are the first four of the five elements of the finder
// patterns A to F; the fifth is one module. 15 modules together.
var expandedFinders = [6][4]int{{1, 8, 4, 1}, {3, 6, 4, 1}, {3, 4, 6, 1}, {3, 2, 8, 1}, {2, 6, 5, 1}, {2, 2, 9, 1}}

// expandedSequences are the finder patterns of a symbol, by their number. Every
// second one is drawn backwards.
var expandedSequences = []string{
	"AA", "ABB", "ACBD", "AEBDC", "AEBDDF", "AEBDEFF", "AABBCCDD", "AABBCCDEE", "AABBCCDEFF", "AABBCDDEEFF",
}

// An expandedPair is a finder pattern and the characters at its left and right,
// read along the symbol. The last pair may lack its right one.
type expandedPair struct {
	finder      byte // A to F
	back        bool // the finder is drawn backwards
	left, right int  // values; right is -1 if there is none
	sum         [2]int
}

// finderAt matches five elements from run p on with the finder patterns.
func finderAt(r runs, p int) (finder byte, back, ok bool) {
	if p < 0 || p+5 > r.len() {
		return 0, false, false
	}
	for _, back := range [2]bool{false, true} {
		lo := p
		if back {
			lo = p + 1
		}
		m := (r.at[lo+4] - r.at[lo]) / 14
		best, at := math.Inf(1), -1
		for f, w := range expandedFinders {
			e := [4]int{w[0] + w[1], w[1] + w[2], w[2] + w[3], w[3] + 1}
			worst := 0.0
			for i := range e {
				k := p + i
				if back {
					k = p + 3 - i
				}
				worst = max(worst, math.Abs((r.at[k+2]-r.at[k])/m-float64(e[i])))
			}
			if worst < best {
				best, at = worst, f
			}
		}
		if best < 0.7 {
			return byte('A' + at), back, true
		}
	}
	return 0, false, false
}

// expandedPairAt reads the pair whose finder begins at run p.
func expandedPairAt(r runs, p int) (expandedPair, bool) {
	f, back, ok := finderAt(r, p)
	if !ok || p < 8 {
		return expandedPair{}, false
	}
	out := expandedPair{finder: f, back: back, right: -1}
	m := (r.at[p+5] - r.at[p]) / 15
	if !alike(m, (r.at[p]-r.at[p-8])/17) {
		return expandedPair{}, false
	}
	w, ok := similarEdges(r, p-8, 8, 17, 0, false)
	if !ok {
		return expandedPair{}, false
	}
	if out.left, ok = charValue(w, expandedGroups, 0); !ok {
		return expandedPair{}, false
	}
	out.sum[0] = out.weighed(w, 0)
	if p+13 > r.len() || !alike(m, (r.at[p+13]-r.at[p+5])/17) {
		return out, true
	}
	if w, ok = similarEdges(r, p+5, 8, 17, 0, true); ok {
		if v, ok := charValue(w, expandedGroups, 0); ok {
			out.right, out.sum[1] = v, out.weighed(w, 1)
		}
	}
	return out, true
}

// weighed is a character's part of the check sum: its widths by powers of 3
// modulo 211, which go on from one character to the next.
func (p expandedPair) weighed(w []int, side int) int {
	row := 4*int(p.finder-'A') + side - 1
	if p.back {
		row += 2
	}
	if row < 0 {
		return 0 // the check character itself
	}
	power, sum := 1, 0
	for range 8 * row {
		power = power * 3 % 211
	}
	for _, v := range w {
		sum += v * power
		power = power * 3 % 211
	}
	return sum % 211
}

// expandedRow reads the pairs that follow each other from run p on.
func expandedRow(r runs, p int) []expandedPair {
	var out []expandedPair
	for ; p+5 <= r.len(); p += 21 {
		pair, ok := expandedPairAt(r, p)
		if !ok {
			break
		}
		out = append(out, pair)
		if pair.right < 0 {
			break
		}
	}
	return out
}

// A stackedRow is one row as several strips agree on it.
type stackedRow struct {
	pairs  []expandedPair
	finder string // like "A1B2", to compare with a sequence
	dir    int
	seen   *ballot
}

func finderNames(pairs []expandedPair) string {
	var b strings.Builder
	for _, p := range pairs {
		b.WriteByte(p.finder)
		b.WriteByte("12"[btoi(p.back)])
	}
	return b.String()
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// expanded looks for rows of DataBar Expanded in one line of runs, and puts the
// symbol together when its rows are there.
func (b *barReader) expanded(r runs, place func(float64) Point, strip, dir int) {
	news := false
	for p := 8; p+5 <= r.len(); p++ {
		pairs := expandedRow(r, p)
		if len(pairs) == 0 {
			continue
		}
		b.hope++
		end := p - 8 + 21*len(pairs)
		if pairs[len(pairs)-1].right < 0 {
			end -= 8
		}
		key := fmt.Sprint(dir, pairs)
		row := b.rows[key]
		if row == nil {
			row = &stackedRow{pairs, finderNames(pairs), dir, &ballot{strips: map[int]bool{}}}
			b.rows[key] = row
		}
		if !row.seen.strips[strip] {
			row.seen.strips[strip] = true
			row.seen.ends = append(row.seen.ends, [2]Point{place(r.at[p-8]), place(r.at[min(end, r.len())])})
			news = news || len(row.seen.strips) > 1
		}
		p = end
	}
	if news {
		b.stack()
	}
}

// stack puts rows together to a symbol. The rows of a stacked symbol are of
// equal length but the last; if it is an even number of pairs, every second row
// is drawn backwards, but for the last one if that is of an odd number.
func (b *barReader) stack() {
	var rows []*stackedRow
	for _, r := range b.rows {
		if len(r.seen.strips) < 2 {
			continue
		}
		rival := 0
		for _, o := range b.rows {
			if o != r && o.dir == r.dir && o.finder == r.finder {
				rival = max(rival, len(o.seen.strips))
			}
		}
		if rival == 0 || len(r.seen.strips) > 3*rival {
			rows = append(rows, r)
		}
	}
	slices.SortFunc(rows, func(a, b *stackedRow) int { return len(b.pairs) - len(a.pairs) })
	texts := map[string][]*stackedRow{}
	for _, seq := range expandedSequences {
		var want strings.Builder
		for k := range seq {
			want.WriteByte(seq[k])
			want.WriteByte("12"[k%2])
		}
		stackFrom(rows, want.String(), nil, texts)
	}
	if len(texts) != 1 {
		return
	}
	for text, used := range texts {
		all := &ballot{strips: used[0].seen.strips, need: 2}
		for _, r := range used {
			if len(r.seen.strips) < len(all.strips) {
				all.strips = r.seen.strips
			}
			for _, e := range r.seen.ends {
				if r.dir != used[0].dir {
					e[0], e[1] = e[1], e[0]
				}
				if len(r.pairs) == len(used[0].pairs) {
					all.ends = append(all.ends, e)
				}
			}
		}
		b.votes[[2]string{"]e0", text}] = all
	}
}

// stackFrom tries every row that goes on with the finder patterns still wanted.
func stackFrom(rows []*stackedRow, rest string, used []*stackedRow, texts map[string][]*stackedRow) {
	if rest == "" {
		var all []expandedPair
		for _, r := range used {
			all = append(all, r.pairs...)
		}
		if text, ok := expandedSymbol(all); ok {
			texts[text] = slices.Clone(used)
		}
		return
	}
	for _, r := range rows {
		left, fits := strings.CutPrefix(rest, r.finder)
		if !fits {
			continue
		}
		if len(used) > 0 {
			first, n := used[0], len(used[0].pairs)
			turned := n%2 == 0 && len(used)%2 == 1 && (left != "" || len(r.pairs)%2 == 0)
			if len(r.pairs) > n || left != "" && len(r.pairs) != n || (r.dir != first.dir) != turned {
				continue
			}
		}
		stackFrom(rows, left, append(used, r), texts)
	}
}

// expandedSymbol checks the pairs of a whole symbol and decodes them.
func expandedSymbol(pairs []expandedPair) (string, bool) {
	sum := pairs[0].sum[1]
	var bits expandedBits
	chars := 1
	for i, p := range pairs {
		values := []int{p.left, p.right}
		if i == 0 {
			values = values[1:]
		} else {
			sum += p.sum[0] + p.sum[1]
		}
		for _, v := range values {
			if v < 0 && i == len(pairs)-1 {
				continue
			}
			if v < 0 || v >= 4096 {
				return "", false
			}
			chars++
			bits.add(v, 12)
		}
	}
	if chars < 4 || pairs[0].left != 211*(chars-4)+sum%211 {
		return "", false
	}
	return bits.text(chars)
}
