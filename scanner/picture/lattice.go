package picture

import "math"

// A probe is one module whose shade is known beforehand: finder, timing and
// alignment patterns, and the light border. U and V are the centre of the
// module in the unit square.
type probe struct {
	u, v float64
	dark bool
}

// A lattice is a symbol of cols×rows modules laid into the picture: a
// projective map of its corners and a bow of each side, for labels that are
// not flat.
type lattice struct {
	corners [4]Point   // top left, top right, bottom right, bottom left
	bow     [4]float64 // sagitta of the top, right, bottom, left side, in pixels, outwards
	m       projective
	bent    bool
	u, v    Point // unit vectors along the rows and the columns, if bent
}

// settle derives the map from the corners and bows.
func (l *lattice) settle() (ok bool) {
	c := &l.corners
	l.m, ok = newProjective(l.corners)
	if l.bent = l.bow != [4]float64{}; l.bent {
		l.u.X, l.u.Y = unit(c[1].X+c[2].X-c[0].X-c[3].X, c[1].Y+c[2].Y-c[0].Y-c[3].Y)
		l.v.X, l.v.Y = unit(c[3].X+c[2].X-c[0].X-c[1].X, c[3].Y+c[2].Y-c[0].Y-c[1].Y)
	}
	return ok
}

func newLattice(corners [4]Point) (l lattice, ok bool) {
	l.corners = corners
	ok = l.settle()
	return l, ok
}

// to returns where (u, v) lies in the picture.
func (l *lattice) to(u, v float64) (x, y float64) {
	x, y = l.m.to(u, v)
	if !l.bent {
		return x, y
	}
	// Each side's bow fades linearly to the opposite side.
	bu, bv := 4*u*(1-u), 4*v*(1-v)
	if u < 0 || u > 1 {
		bu = 0
	}
	if v < 0 || v > 1 {
		bv = 0
	}
	vert := bu * (l.bow[2]*v - l.bow[0]*(1-v))  // along the v direction
	horiz := bv * (l.bow[1]*u - l.bow[3]*(1-u)) // along the u direction
	return x + vert*l.v.X + horiz*l.u.X, y + vert*l.v.Y + horiz*l.u.Y
}

func unit(x, y float64) (float64, float64) {
	n := math.Hypot(x, y)
	if n == 0 {
		return 0, 0
	}
	return x / n, y / n
}

// A sampler reads shades at points of the whole picture from one level of its
// pyramid.
type sampler struct {
	g     *gray
	scale float64 // level pixels per picture pixel
	buf   []float32
}

// shades returns a buffer for n shades, whatever was in it before.
func (s *sampler) shades(n int) []float32 {
	if cap(s.buf) < n {
		s.buf = make([]float32, n)
	}
	return s.buf[:n]
}

func (s *sampler) at(x, y float64) float32 { return s.g.at(x*s.scale, y*s.scale) }

// walk fills out with the shades along a line: at (x, y), and then each so far on.
func (s *sampler) walk(out []float32, x, y, dx, dy float64) {
	s.g.walk(out, x*s.scale, y*s.scale, dx*s.scale, dy*s.scale)
}

// samplerFor picks the level on which a module of that many picture pixels is
// some two to four pixels wide: small enough to sample in one place, large
// enough to average the noise.
func (s *search) samplerFor(module float64) sampler {
	k := 0
	for k+1 < len(s.levels) && module >= 5 {
		module /= 2
		k++
	}
	return sampler{g: s.levels[k], scale: 1 / float64(int(1)<<k)}
}

// match is how well the probes agree: mean of the light ones less mean of the
// dark ones.
func (l *lattice) match(s *sampler, probes []probe) float64 {
	var sum [2]float64
	var n [2]float64
	for _, p := range probes {
		x, y := l.to(p.u, p.v)
		i := 0
		if p.dark {
			i = 1
		}
		sum[i] += float64(s.at(x, y))
		n[i]++
	}
	return sum[0]/max(1, n[0]) - sum[1]/max(1, n[1])
}

// agree is the share of the probes that lie on their side of the middle
// between the mean light and the mean dark one: 0.5 for noise. Those under glare
// don't count, if they are less than half. Where most that should be light are
// saturated, the label is white, and that is no glare.
func (l *lattice) agree(s *sampler, probes []probe) float64 {
	v := s.shades(len(probes))
	var sum, n [2]float32
	white := 0
	for i, p := range probes {
		x, y := l.to(p.u, p.v)
		v[i] = s.at(x, y)
		k := btoi(p.dark)
		sum[k] += v[i]
		n[k]++
		white += btoi(v[i] >= saturated && !p.dark)
	}
	mid := (sum[0]/max(1, n[0]) + sum[1]/max(1, n[1])) / 2
	glare := 2*float32(white) < n[0]
	good, all := 0, 0
	for i, p := range probes {
		if glare && v[i] >= saturated {
			continue
		}
		all++
		good += btoi((v[i] < mid) == p.dark)
	}
	return float64(good) / float64(max(1, all, len(probes)/2))
}

// refine moves the corners, and with bend the bows, to where the probes agree
// best: coordinate ascent from steps of one module down to a sixth.
func (l *lattice) refine(s *sampler, probes []probe, module float64, fixed int, bend bool) float64 {
	best := l.match(s, probes)
	try := func(n lattice) bool {
		if !n.settle() {
			return false
		}
		if v := n.match(s, probes); v > best {
			best = v
			*l = n
			return true
		}
		return false
	}
	for _, step := range []float64{module, module / 2, module / 4, module / 8} {
		for range 3 {
			moved := false
			for i := range 4 {
				if i == fixed && step > module/2 {
					continue
				}
				for _, d := range [4]Point{{step, 0}, {-step, 0}, {0, step}, {0, -step}} {
					n := *l
					// Along the symbol's own sides.
					ux, uy := unit(l.corners[1].X-l.corners[0].X, l.corners[1].Y-l.corners[0].Y)
					vx, vy := unit(l.corners[3].X-l.corners[0].X, l.corners[3].Y-l.corners[0].Y)
					n.corners[i].X += d.X*ux + d.Y*vx
					n.corners[i].Y += d.X*uy + d.Y*vy
					moved = try(n) || moved
				}
			}
			if bend {
				for i := range 4 {
					for _, d := range [2]float64{step, -step} {
						n := *l
						n.bow[i] += d
						moved = try(n) || moved
					}
				}
				// A label around a cylinder bows opposite sides together.
				for i := range 2 {
					for _, d := range [2]float64{step, -step} {
						n := *l
						n.bow[i] += d
						n.bow[i+2] -= d
						moved = try(n) || moved
					}
				}
			}
			if !moved {
				break
			}
		}
	}
	return best
}
