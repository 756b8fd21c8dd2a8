package picture

import (
	"math"
	"slices"
)

// probes are the modules that every symbol of the size has in common: the
// solid and the alternating sides of each region, and a light border half a
// module outside. With mirrored the size lies on its side.
func (z dmSize) probes() []probe {
	var out []probe
	add := func(c, r float64, dark bool) {
		out = append(out, probe{(c + 0.5) / float64(z.cols), (r + 0.5) / float64(z.rows), dark})
	}
	for r0 := 0; r0 < z.rows; r0 += z.regionRows + 2 {
		for c0 := 0; c0 < z.cols; c0 += z.regionCols + 2 {
			h, w := z.regionRows+2, z.regionCols+2
			for i := range h {
				add(float64(c0), float64(r0+i), true)
				add(float64(c0+w-1), float64(r0+i), i%2 == 1)
			}
			for i := 1; i < w-1; i++ {
				add(float64(c0+i), float64(r0+h-1), true)
				add(float64(c0+i), float64(r0), i%2 == 0)
			}
		}
	}
	for i := range z.cols {
		add(float64(i), -0.9, false)
		add(float64(i), float64(z.rows)-0.1, false)
	}
	for i := range z.rows {
		add(-0.9, float64(i), false)
		add(float64(z.cols)-0.1, float64(i), false)
	}
	return out
}

// A sizeGuess is a size that the timing patterns of the far sides suggest.
type sizeGuess struct {
	size  dmSize
	score float64
}

// leastTiming is how well a size must fit each of the two far sides.
const leastTiming = 0.3

// guessSizes counts the alternating modules of the top and right side of q by
// laying the pattern of each possible count over them. Best first, at most
// most, and the best of the largest sizes.
func guessSizes(q [4]Point, s *search, most int) []sizeGuess {
	m, ok := newProjective(q)
	if !ok {
		return nil
	}
	top := timing(&m, s, q, true)
	if slices.Max(top[:]) < leastTiming {
		return nil
	}
	right := timing(&m, s, q, false)
	var out []sizeGuess
	for _, z := range allDMSizes {
		for _, turned := range [2]bool{false, true} {
			z := z
			if turned {
				if z.rows == z.cols {
					continue
				}
				z = z.onSide() // a mirrored rectangle stands on its short side
			}
			a, b := top[z.cols], right[z.rows]
			if a < leastTiming || b < leastTiming {
				continue
			}
			out = append(out, sizeGuess{z, a + b - aspectDoubt(q, z)})
		}
	}
	slices.SortFunc(out, func(a, b sizeGuess) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	for i, g := range out {
		if i >= most && g.size.cols >= 96 && g.score >= 0.7 {
			// A long row of modules fits badly when its end is a module off.
			return append(out[:most], g)
		}
	}
	return out[:min(most, len(out))]
}

// aspectDoubt grows as the modules of a size come out less square than a
// tilt explains.
func aspectDoubt(q [4]Point, z dmSize) float64 {
	w := (dist(q[0], q[1]) + dist(q[3], q[2])) / float64(2*z.cols)
	h := (dist(q[0], q[3]) + dist(q[1], q[2])) / float64(2*z.rows)
	r := math.Abs(math.Log(w / h))
	return 0.25 * r * r * 4
}

// mostModules is the longest side of a symbol, in modules.
const mostModules = 144

// timing returns, by module count, how well the alternating pattern of
// that count fits the top or right side: 1 is perfect.
func timing(m *projective, s *search, q [4]Point, top bool) (out [mostModules + 1]float64) {
	length := (dist(q[0], q[1]) + dist(q[3], q[2])) / 2
	across := (dist(q[0], q[3]) + dist(q[1], q[2])) / 2
	if !top {
		length, across = across, length
	}
	const lines = 7
	for k := range lines {
		// The middle of a module of this pitch lies on this line.
		pitch := length / 9 * math.Pow(0.62, float64(k))
		if pitch < 0.9 {
			break
		}
		inset := pitch / 2 / across
		if inset > 0.12 && k > 0 {
			inset = min(inset, 0.12)
		}
		smp := s.samplerFor(pitch)
		n := int(min(600, max(64, length*smp.scale*1.25)))
		line := make([]float32, n+n/4)
		for i := range line {
			t := (float64(i)+0.5)/float64(n) - 0.125
			x, y := m.to(t, inset)
			if !top {
				x, y = m.to(1-inset, 1-t)
			}
			line[i] = smp.at(x, y)
		}
		for _, c := range dmCounts {
			p := length / float64(c)
			if p > pitch*1.35 || p < pitch/1.35 {
				continue
			}
			out[c] = max(out[c], alternates(line, n, c))
		}
	}
	return out
}

// alternates correlates a line, which begins an eighth before its pattern of
// count modules and ends an eighth after, with dark, light, dark, light…, with
// some play at both ends.
func alternates(line []float32, n, count int) float64 {
	best := 0.0
	k := float64(count)
	pitch := float64(n) / float64(count)
	off := float64(n) / 8
	shade := line[len(line)/2] // taken off, so that the squares stay small
	for a := -1; a <= 1; a++ {
		for b := -1; b <= 1; b++ {
			start := off + float64(a)*0.5*pitch
			step := (float64(n) + float64(b-a)*0.5*pitch) / float64(count)
			const one = 1 << 32
			x, dx := int((start+0.5*step)*one), int(step*one)
			var dark, light, square float32
			for range count / 2 {
				v, w := line[x>>32]-shade, line[(x+dx)>>32]-shade
				dark += v
				light += w
				square += v*v + w*w
				x += 2 * dx
			}
			if count%2 == 1 {
				v := line[x>>32] - shade
				dark += v
				square += v * v
			}
			sum, alt := float64(light+dark), float64(light-dark)
			variance := float64(square)/k - sum*sum/(k*k)
			if variance > 4 {
				best = max(best, alt/k/math.Sqrt(variance))
			}
		}
	}
	return best
}
