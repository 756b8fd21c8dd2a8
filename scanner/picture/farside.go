package picture

import "math"

// A patch is the neighbourhood of an L, made upright by the affine map of its
// two arms: s along the foot, t along the head, both 0 at the corner and 1 at
// the arms' ends, and some way beyond.
type patch struct {
	ns, nt         int     // samples
	ds, dt         float64 // samples a unit
	alongS, alongT []float32
}

const (
	patchBefore = 0.06
	patchBeyond = 0.30
	patchArea   = 9000.0 // samples of the unit square
	every       = 2      // of the samples along a far side are looked at: the activity is wider than one
)

// newPatch samples the neighbourhood of e and differentiates it along both
// axes: alternating modules show as activity along a line. The patch is good
// until the next one of the same search.
func newPatch(e ell, s *search) patch {
	a, b := dist(e.corner, e.foot), dist(e.corner, e.head)
	per := math.Sqrt(patchArea / (a * b)) // samples a picture pixel
	per = min(per, 1.5)
	p := patch{ds: a * per, dt: b * per}
	p.ns, p.nt = int(p.ds*(1+patchBefore+patchBeyond)), int(p.dt*(1+patchBefore+patchBeyond))
	smp := s.samplerFor(2.6 / per) // one level pixel a sample, or somewhat less
	ux, uy := (e.foot.X-e.corner.X)/p.ds, (e.foot.Y-e.corner.Y)/p.ds
	vx, vy := (e.head.X-e.corner.X)/p.dt, (e.head.Y-e.corner.Y)/p.dt
	ox := e.corner.X - patchBefore*(p.ds*ux+p.dt*vx)
	oy := e.corner.Y - patchBefore*(p.ds*uy+p.dt*vy)
	px := s.scratch(0, p.ns*p.nt)
	for t := range p.nt {
		x, y := ox+float64(t)*vx, oy+float64(t)*vy
		smp.walk(px[t*p.ns:(t+1)*p.ns], x, y, ux, uy)
	}
	p.alongS, p.alongT = s.scratch(1, len(px)), s.scratch(2, len(px))
	clear(p.alongS)
	clear(p.alongT)
	for t := range p.nt - 1 {
		row, below := px[t*p.ns:(t+1)*p.ns], px[(t+1)*p.ns:(t+2)*p.ns]
		s, t := p.alongS[t*p.ns:(t+1)*p.ns], p.alongT[t*p.ns:(t+1)*p.ns]
		for i := range len(row) - 1 {
			s[i] = float32(math.Abs(float64(row[i+1] - row[i])))
			t[i] = float32(math.Abs(float64(below[i] - row[i])))
		}
	}
	return p
}

// scratch returns the k-th buffer for n samples, whatever was in it before.
func (s *search) scratch(k, n int) []float32 {
	if cap(s.buffers[k]) < n {
		s.buffers[k] = make([]float32, n)
	}
	return s.buffers[k][:n]
}

// A farLine is a side opposite to an arm: where it starts, at the end of the
// other arm, and where it stands one unit further.
type farLine struct {
	near, far float64
	score     float64
}

// right finds the side that runs up from the end of the foot, top the one that
// runs right from the end of the head: the lines with the most activity just
// inside and the least just outside.
func (p *patch) right() []farLine {
	return searchFar(p.ds, p.dt, func(s0, ds float64, n int) float32 {
		return activity(p.alongT, p.ns, 1, p.ns, p.nt-int(patchBefore*p.dt), int(patchBefore*p.dt)*p.ns, s0, ds, n)
	}, float64(p.ns))
}

func (p *patch) top() []farLine {
	return searchFar(p.dt, p.ds, func(t0, dt float64, n int) float32 {
		return activity(p.alongS, 1, p.ns, p.nt, p.ns-int(patchBefore*p.ds), int(patchBefore*p.ds), t0, dt, n)
	}, float64(p.nt))
}

// activity is the mean of v along a line of n samples: the i-th lies on steps of on
// from first, and at+slope*i steps of across aside. It is -1 where that leaves the
// patch, of wide samples across and long ones on from first.
func activity(v []float32, on, across, wide, long, first int, at, slope float64, n int) float32 {
	last := (n - 1) / every * every
	if end := at + slope*float64(last); min(at, end) <= -1 || max(at, end) >= float64(wide)-1e-6 || last >= long {
		return -1
	}
	const one = 1 << 32
	x, dx := int(at*one), int(slope*every*one)
	var sum float32
	for i := first; i <= first+last*on; i += every * on {
		sum += v[i+max(0, x>>32)*across]
		x += dx
	}
	return sum * every / float32(n)
}

// searchFar tries lines across the far end of an axis of unit samples; along
// is the unit of the other axis. It returns the best two that differ.
func searchFar(unit, along float64, mean func(at, slope float64, n int) float32, limit float64) []farLine {
	n := int(along)
	if n < 4 || unit < 4 {
		return nil
	}
	base := patchBefore * unit
	var all []farLine
	nearReach, farReach := max(2, 0.09*unit), max(3, 0.24*unit)
	step := max(1, unit/96)
	// The activity along each line is used several times: by itself, as the
	// inside of one line and the outside of another. Kept by its two ends.
	cols := int((nearReach*2+8)/step) + 1
	rows := int((farReach*2+8)/step) + 1
	act := make([]float32, cols*rows)
	for i := range cols {
		s0 := base + unit - nearReach - 4 + float64(i)*step
		for j := range rows {
			s1 := base + unit - farReach - 4 + float64(j)*step
			if s1 >= limit-1 {
				act[i*rows+j] = -1
				continue
			}
			act[i*rows+j] = mean(s0, (s1-s0)/along, n)
		}
	}
	in := max(1, int(1.5/step))
	out := max(1, int(2/step))
	for i := out; i < cols-out; i++ {
		for j := out; j < rows-out; j++ {
			inside, outside := act[(i-in)*rows+j-in], act[(i+out)*rows+j+out]
			if inside < 0 || outside < 0 {
				continue
			}
			score := float64(inside - outside)
			if score <= 0.5 {
				continue
			}
			near := unit - nearReach - 4 + float64(i)*step
			far := unit - farReach - 4 + float64(j)*step
			all = append(all, farLine{near / unit, far / unit, score})
		}
	}
	return bestFar(all)
}

func bestFar(all []farLine) []farLine {
	var out []farLine
	for range 2 {
		best := -1
		for i, l := range all {
			apart := true
			for _, o := range out {
				apart = apart && math.Abs(l.near-o.near)+math.Abs(l.far-o.far) > 0.08
			}
			if apart && (best < 0 || l.score > all[best].score) {
				best = i
			}
		}
		if best < 0 || len(out) > 0 && all[best].score < 0.6*out[0].score {
			break
		}
		out = append(out, all[best])
	}
	return out
}

// quad closes the L with the two far sides: top left, top right, bottom right,
// bottom left of the symbol as it stands on its foot.
func (e ell) quad(right, top farLine) ([4]Point, bool) {
	at := func(s, t float64) Point {
		return Point{
			e.corner.X + s*(e.foot.X-e.corner.X) + t*(e.head.X-e.corner.X),
			e.corner.Y + s*(e.foot.Y-e.corner.Y) + t*(e.head.Y-e.corner.Y),
		}
	}
	d, ok := intersect(at(right.near, 0), at(right.far, 1), at(0, top.near), at(1, top.far))
	q := [4]Point{at(0, top.near), d, at(right.near, 0), e.corner}
	return q, ok && convex(q, 8)
}
