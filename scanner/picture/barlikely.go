package picture

import (
	"math"
	"slices"
)

// blurred reads the region as blurred bars; it reports whether something was
// believed. Lines of some thickness are taken at several heights, as the noise of
// single ones would hide what blur has left.
func (b *barReader) blurred(smp *sampler) bool {
	r := b.reg
	thick := b.thick(smp)
	if !b.alongBars(smp) {
		return false
	}
	for i, h := range [...]float64{0.05, -0.3, 0.35, -0.6, 0.6} {
		p := b.line(smp, h*r.height, thick, 0)
		got, ok := p.likeliest(b.s.stopped, b.s.budget())
		if ok {
			place := func(x float64) Point { return lerp(p.from, p.to, x/float64(len(p.v))) }
			b.vote(got.symbology, got.text, place(got.from), place(got.to), blurredStrip+i, got.votes)
		}
		if b.elect() {
			return true
		}
		again := i == 0 && *b.s.budget() > barBudget-secondLook
		if !ok && !again && len(b.votes) == 0 || b.s.stopped() {
			return false
		}
	}
	return false
}

// thick is how thick, in pixels of the picture, the lines are whose noise matters.
func (b *barReader) thick(smp *sampler) float64 {
	return max(2/smp.scale, min(12/smp.scale, 0.25*b.reg.height))
}

// secondLook is how much of the budget may be spent with a second line where the
// first was not read. Of 37 symbols that were read so in test pictures none needed
// one, but glare may lie on the first. In scenes such lines cost two fifths of the budget.
const secondLook = barBudget / 6

// blurredStrip is the number of the first line of blurred, behind those of strips.
const blurredStrip = 1000

// alongBars says whether the shades are the same at two heights, as those of bars
// are and those of print and textures are not: piece by piece along the line,
// each moved a little, since bars may lean.
func (b *barReader) alongBars(smp *sampler) bool {
	if b.alike == 0 {
		b.alike = 2 + b.likeness(smp)
	}
	// Of 430 lines that were read in pictures of one symbol, 1 in 100 had less
	// than 0.2 and 1 in 20 less than 0.67.
	return b.alike-2 > 0.4
}

func (b *barReader) likeness(smp *sampler) float64 {
	thick := b.thick(smp)
	one, two := b.line(smp, -0.3*b.reg.height, thick, 0), b.line(smp, 0.3*b.reg.height, thick, 0)
	const piece, reach = 96, 10
	var sum float64
	n := 0
	for at := reach; at+piece+reach <= len(one.v); at += piece {
		v := one.v[at : at+piece]
		if slices.Max(v)-slices.Min(v) < 12 {
			continue // clear space
		}
		best := -1.0
		for move := -reach; move <= reach; move += 2 {
			best = max(best, correlation(v, two.v[at+move:at+move+piece]))
		}
		sum += best
		n++
	}
	return sum / float64(max(1, n))
}

// correlation is that of two lines of equal length: 1 where they are the same but
// for contrast and level.
func correlation(a, b []float32) float64 {
	var sa, sb, saa, sbb, sab float32
	for i, x := range a {
		y := b[i]
		sa += x
		sb += y
		saa += x * x
		sbb += y * y
		sab += x * y
	}
	n := float32(len(a))
	return float64(sab-sa*sb/n) / math.Sqrt(float64(max(1, (saa-sa*sa/n)*(sbb-sb*sb/n))))
}

// likeliest is the likeliest symbol along a line, of any kind and in either
// direction, if it can be believed. Budget is counted down by the words tried.
func (p profile) likeliest(stopped func() bool, budget *int) (first barReading, ok bool) {
	e := p.edges(0.25)
	if e.len() < leastEdges {
		return barReading{}, false
	}
	contrast := 0.6 * float64(slices.Max(p.v)-slices.Min(p.v))
	back := slices.Clone(p.v)
	slices.Reverse(back)
	for dir, v := range [2][]float32{p.v, back} {
		n := float64(len(v))
		if dir == 1 {
			at := make([]float64, len(e.at))
			for i, x := range e.at {
				at[len(at)-1-i] = n - x
			}
			e = runs{at}
		}
		s := barSearch{line: ribbonOf(v), samples: len(v), stopped: stopped, budget: budget}
		begins, ends := e.borders()
		for _, k := range barKinds {
			got, good := s.read(s.starts(k, begins, ends, contrast))
			if !good || ok && got.misfit >= first.misfit {
				continue
			}
			first, ok = got, true
			if dir == 1 {
				first.from, first.to = n-got.from, n-got.to
			}
		}
	}
	return first, ok
}

// leastEdges is how many edges are to be seen at least in what may be a symbol;
// the shortest that is read here has 40 and more.
const leastEdges = 15

// borders are the edges that a symbol may begin and end at: those at a space that
// is wider than the nearest ones within it.
func (r runs) borders() (begins, ends []float64) {
	n := r.len()
	space := func(i int) float64 {
		if i < 0 || i >= n {
			return math.Inf(1)
		}
		return r.width(i)
	}
	const most = 4
	for i := 0; i+6 < n && len(begins) < most; i += 2 {
		if space(i-1) > 1.1*max(space(i+1), space(i+3), space(i+5)) {
			begins = append(begins, r.at[i])
		}
	}
	for i := n; i-6 > 0 && len(ends) < most; i -= 2 {
		if space(i) > 1.1*max(space(i-2), space(i-4), space(i-6)) {
			ends = append(ends, r.at[i])
		}
	}
	return begins, ends
}
