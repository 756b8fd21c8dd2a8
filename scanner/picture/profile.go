package picture

import "math"

// A profile is the shade along a line across the bars, the mean over a strip
// along them.
type profile struct {
	from, to Point // in pixels of the picture
	v        []float32
}

// profileOf samples the line from a to b, averaged over a strip of the given
// height in picture pixels along a unit vector, about two samples a pixel of the
// level.
func profileOf(s *sampler, a, b, along Point, height float64) profile {
	length := dist(a, b)
	n := int(length*s.scale*2) + 1
	p := profile{from: a, to: b, v: make([]float32, n)}
	dx, dy := (b.X-a.X)/float64(n), (b.Y-a.Y)/float64(n)
	lines := max(1, int(height*s.scale+0.5))
	line := s.shades(n)
	for l := range lines {
		o := ((float64(l)+0.5)/float64(lines) - 0.5) * height
		x, y := a.X+o*along.X+dx/2, a.Y+o*along.Y+dy/2
		s.walk(line, x, y, dx, dy)
		for i, v := range line[:len(p.v)] {
			p.v[i] += v
		}
	}
	for i := range p.v {
		p.v[i] /= float32(lines)
	}
	return p
}

// sharpen subtracts a share of the second difference at a distance of so many
// samples: bars that the blur ran together come apart.
func (p profile) sharpen(k float32, distance int) profile {
	out := profile{p.from, p.to, make([]float32, len(p.v))}
	for i, v := range p.v {
		l, r := p.v[max(0, i-distance)], p.v[min(len(p.v)-1, i+distance)]
		out.v[i] = v + k*(v-(l+r)/2)
	}
	return out
}

// runs are the widths of the bars and spaces that a line crosses, in samples,
// a bar first; at holds the place of each edge.
type runs struct {
	at []float64 // at[i] to at[i+1] is run i; even runs are dark
}

func (r runs) len() int            { return max(0, len(r.at)-1) }
func (r runs) width(i int) float64 { return r.at[i+1] - r.at[i] }

// edges finds where the line crosses between dark and light. A crossing lies
// half way between a local darkest and a local lightest place, so that narrow
// bars, which blur keeps from getting as dark as wide ones, keep their width.
// swing is the least difference that counts, as a share of the local contrast.
func (p profile) edges(swing float32) runs {
	ext := p.extremes(swing)
	var at []float64
	first := true
	for k := 0; k+1 < len(ext); k++ {
		i, j := ext[k], ext[k+1]
		falling := p.v[j] < p.v[i]
		if first && !falling {
			continue // begin with the edge into a bar
		}
		first = false
		mid := (p.v[i] + p.v[j]) / 2
		for x := i; x < j; x++ {
			a, b := p.v[x], p.v[x+1]
			if a != b && (a >= mid) != (b >= mid) {
				at = append(at, float64(x)+0.5+float64((a-mid)/(a-b)))
				break
			}
		}
	}
	if len(at)%2 == 1 {
		at = at[:len(at)-1] // end with the edge out of a bar
	}
	return runs{at}
}

// extremes returns the alternating darkest and lightest places.
func (p profile) extremes(swing float32) []int {
	n := len(p.v)
	if n < 8 {
		return nil
	}
	need := p.localContrast(96)
	var ext []int
	lo, hi := 0, 0
	state := 0 // 1: last confirmed was light, looking for dark; -1: the reverse
	for i := 1; i < n; i++ {
		v := p.v[i]
		d := max(3, swing*need[i/32])
		if v < p.v[lo] {
			lo = i
		}
		if v > p.v[hi] {
			hi = i
		}
		switch {
		case state >= 0 && v > p.v[lo]+d:
			// lo is a dark extreme
			if state == 0 && hi < lo {
				ext = append(ext, hi)
			}
			ext = append(ext, lo)
			state, hi = -1, i
		case state <= 0 && v < p.v[hi]-d:
			ext = append(ext, hi)
			state, lo = 1, i
		}
	}
	switch state {
	case 1:
		ext = append(ext, lo)
	case -1:
		ext = append(ext, hi)
	}
	return ext
}

// localContrast returns, for each 32 samples, lightest less darkest within so
// many samples.
func (p profile) localContrast(window int) []float32 {
	n := (len(p.v) + 31) / 32
	lo, hi := make([]float32, n), make([]float32, n)
	for b := range n {
		lo[b], hi[b] = float32(math.Inf(1)), float32(math.Inf(-1))
		for _, v := range p.v[b*32 : min(len(p.v), b*32+32)] {
			lo[b], hi[b] = min(lo[b], v), max(hi[b], v)
		}
	}
	out := make([]float32, n)
	w := window / 32
	for b := range n {
		l, h := lo[b], hi[b]
		for k := max(0, b-w); k <= min(n-1, b+w); k++ {
			l, h = min(l, lo[k]), max(h, hi[k])
		}
		out[b] = h - l
	}
	return out
}

// pieces cuts the runs at spaces so wide that no symbol has them inside:
// quiet zones. Each piece begins and ends with a bar.
func (r runs) pieces() []runs {
	n := r.len()
	if n < 9 {
		return nil
	}
	var out []runs
	start := 0
	narrow := 0.0
	for i := 1; i < n; i += 2 {
		if i%8 == 1 {
			narrow = r.narrow(min(i+3, n-1)) // near enough for its neighbours
		}
		if r.width(i) > 5.2*narrow {
			out = append(out, runs{r.at[start : i+1]})
			start = i + 1
		}
	}
	return append(out, runs{r.at[start:]})
}

// narrow estimates the width of a module near run i: the lower quartile of the
// mean of each bar with its space, halved twice over, is robust to blur's
// widening of either.
func (r runs) narrow(i int) float64 {
	lo, hi := max(0, i-16), min(r.len(), i+17)
	var buf [33]float64
	w := buf[:0]
	for k := lo; k+1 < hi; k++ {
		if k == i || k+1 == i {
			continue
		}
		w = append(w, (r.width(k)+r.width(k+1))/2)
	}
	if len(w) == 0 {
		return 1
	}
	// Insertion sort: short, and no allocation.
	for a := 1; a < len(w); a++ {
		for b := a; b > 0 && w[b] < w[b-1]; b-- {
			w[b], w[b-1] = w[b-1], w[b]
		}
	}
	return w[len(w)/5]
}

// reversed reads the runs from the other end; places are kept as distances
// from there.
func (r runs) reversed() runs {
	n := len(r.at)
	out := runs{make([]float64, n)}
	for i := range r.at {
		out.at[i] = r.at[n-1] - r.at[n-1-i] + r.at[0]
	}
	return out
}
