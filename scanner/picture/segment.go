package picture

import (
	"math"
	"slices"
)

// A segment is a straight edge, in pixels of its level, run from a to b so
// that the dark side is on the right hand.
type segment struct {
	a, b   Point
	length float64
}

func newSegment(a, b Point) segment { return segment{a, b, dist(a, b)} }

func (s segment) dir() Point { return Point{(s.b.X - s.a.X) / s.length, (s.b.Y - s.a.Y) / s.length} }

// turns is the cosine and sine of each of the 256 directions.
var turns = unitCircle()

func unitCircle() (t [256][2]float32) {
	for i := range t {
		s, c := math.Sincos(float64(i) * math.Pi / 128)
		t[i] = [2]float32{float32(c), float32(s)}
	}
	return t
}

const (
	segmentTolerance = 16 // of 256: how far a pixel's gradient may turn off its segment's
	maxSegments      = 6000
)

// segments finds the straight edges of a level that are at least least pixels
// long, by growing regions of pixels whose gradients agree (the idea of von
// Gioi et al., LSD: a Line Segment Detector, 2012, without its statistics: what
// is no edge of a symbol is refused later, by its module pattern). Longest
// first.
func (f *field) segments(least float64, stopped func() bool) []segment {
	var out []segment
	g := grower{f: f, left: slices.Clone(f.mag)}
	for i, seed := range f.seeds() {
		if i%4096 == 0 && stopped() {
			break
		}
		if g.left[seed] == 0 {
			continue
		}
		if s, ok := g.grow(seed, least); ok {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(p, q segment) int {
		switch {
		case p.length > q.length:
			return -1
		case p.length < q.length:
			return 1
		}
		return 0
	})
	return out[:min(len(out), maxSegments)]
}

// seeds returns the steep pixels, the steepest first (to within a factor).
func (f *field) seeds() []int32 {
	bucket := func(m uint16) int { return min(int(m)>>5, 31) }
	var count [33]int
	for m := int(f.floor); m < len(f.hist); m++ {
		count[31-bucket(uint16(m))+1] += f.hist[m]
	}
	for i := 1; i < len(count); i++ {
		count[i] += count[i-1]
	}
	out := make([]int32, count[32])
	for i, m := range f.mag {
		if m >= f.floor {
			b := 31 - bucket(m)
			out[count[b]] = int32(i)
			count[b]++
		}
	}
	return out
}

type grower struct {
	f    *field
	left []uint16 // the gradient of the pixels of no segment yet, and else 0
	list []int32
}

func (g *grower) grow(seed int32, least float64) (segment, bool) {
	f := g.f
	g.list = append(g.list[:0], seed)
	g.left[seed] = 0
	mean := f.angle[seed]
	sx, sy := turns[mean][0], turns[mean][1]
	next := 8
	w := int32(f.w)
	around := [8]int32{1, -1, w, -w, w + 1, w - 1, -w + 1, -w - 1}
	for i := 0; i < len(g.list); i++ {
		p := g.list[i]
		if len(g.list) >= next {
			mean = uint8(int(math.Round(math.Atan2(float64(sy), float64(sx))*128/math.Pi)) & 255)
			next *= 2
		}
		for _, d := range around {
			q := p + d
			// The border has no gradient, so q never leaves the field.
			if g.left[q] < f.floor {
				continue
			}
			a := f.angle[q]
			if uint8(a-mean+segmentTolerance) > 2*segmentTolerance {
				continue
			}
			g.left[q] = 0
			g.list = append(g.list, q)
			sx += turns[a][0]
			sy += turns[a][1]
		}
	}
	if float64(len(g.list)) < least {
		return segment{}, false
	}
	return g.fit(sx, sy, least)
}

// fit lays a line through the region, weighted by steepness.
func (g *grower) fit(sx, sy float32, least float64) (segment, bool) {
	f := g.f
	x0, y0 := float64(int(g.list[0])%f.w), float64(int(g.list[0])/f.w)
	var sw, mx, my, xx, xy, yy float64
	for _, p := range g.list {
		w := float64(f.mag[p])
		x, y := float64(int(p)%f.w)-x0, float64(int(p)/f.w)-y0
		sw += w
		mx += w * x
		my += w * y
		xx += w * x * x
		xy += w * x * y
		yy += w * y * y
	}
	mx /= sw
	my /= sw
	xx = xx/sw - mx*mx
	xy = xy/sw - mx*my
	yy = yy/sw - my*my
	t := 0.5 * math.Atan2(2*xy, xx-yy)
	dy, dx := math.Sincos(t)
	// Dark on the right: the direction is the gradient turned by a quarter.
	if dx*float64(-sy)+dy*float64(sx) < 0 {
		dx, dy = -dx, -dy
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range g.list {
		d := (float64(int(p)%f.w)-x0-mx)*dx + (float64(int(p)/f.w)-y0-my)*dy
		lo, hi = min(lo, d), max(hi, d)
	}
	across := math.Sqrt(max(0, xx*dy*dy-2*xy*dx*dy+yy*dx*dx))
	if hi-lo+1 < least || across > 1.6+0.02*(hi-lo) {
		return segment{}, false
	}
	cx, cy := mx+x0+0.5, my+y0+0.5
	lo -= 0.5
	hi += 0.5
	return newSegment(Point{cx + lo*dx, cy + lo*dy}, Point{cx + hi*dx, cy + hi*dy}), true
}
