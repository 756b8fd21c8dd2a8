package picture

import (
	"math"
	"slices"
)

// An ell is a candidate for the L that bounds a DataMatrix on two sides: its
// corner, the far end of the arm that ran into the corner (the bottom, for a
// symbol seen upright), and the far end of the arm that left it (the left
// side). In pixels of the picture.
type ell struct {
	corner, foot, head Point
	rank               float64 // larger is likelier
}

// ells pairs segments that meet at a right-handed corner of about 90°: what
// the outer edge of an L does when the dark is on the right. scale takes the
// segments' pixels to the picture's; with inverted, light and dark have
// changed places.
func ells(segs []segment, scale float64, inverted bool) []ell {
	if inverted {
		turned := make([]segment, len(segs))
		for i, s := range segs {
			turned[i] = segment{s.b, s.a, s.length}
		}
		segs = turned
	}
	segs = append(slices.Clone(segs), merged(segs)...)
	const cell = 16.0
	type key struct{ x, y int }
	starts := map[key][]int{}
	for i, s := range segs {
		k := key{int(s.a.X / cell), int(s.a.Y / cell)}
		starts[k] = append(starts[k], i)
	}
	var out []ell
	for _, s := range segs {
		reach := max(5, min(0.25*s.length, 40))
		n := int(reach/cell) + 1
		kx, ky := int(s.b.X/cell), int(s.b.Y/cell)
		for y := ky - n; y <= ky+n; y++ {
			for x := kx - n; x <= kx+n; x++ {
				for _, j := range starts[key{x, y}] {
					if e, ok := join(s, segs[j], reach); ok {
						e.corner, e.foot, e.head = scaled(e.corner, scale), scaled(e.foot, scale), scaled(e.head, scale)
						out = append(out, e)
						if square, ok := e.squared(); ok {
							out = append(out, square)
						}
					}
				}
			}
		}
	}
	return rankElls(out)
}

// join makes an L of s running into t, if they meet.
func join(s, t segment, reach float64) (ell, bool) {
	if s.length > 20*t.length || t.length > 20*s.length {
		return ell{}, false
	}
	gap := dist(s.b, t.a)
	if gap > reach || gap > max(5, 0.25*t.length) {
		return ell{}, false
	}
	d, e := s.dir(), t.dir()
	sin := d.X*e.Y - d.Y*e.X
	if sin < 0.6 { // between some 37° and 143°
		return ell{}, false
	}
	o, ok := intersect(s.a, s.b, t.a, t.b)
	if !ok || dist(o, s.b) > reach || dist(o, t.a) > reach {
		return ell{}, false
	}
	return ell{corner: o, foot: s.a, head: t.b, rank: sin * math.Sqrt(s.length*t.length) / (1 + gap/10)}, true
}

// squared is an L with its shorter arm drawn out to the length of the other one:
// the far part of an arm may lie under glare, or be scratched off.
func (e ell) squared() (ell, bool) {
	a, b := dist(e.corner, e.foot), dist(e.corner, e.head)
	if min(a, b) > 0.8*max(a, b) || min(a, b) < 0.25*max(a, b) {
		return e, false
	}
	if a < b {
		e.foot = lerp(e.corner, e.foot, b/a)
	} else {
		e.head = lerp(e.corner, e.head, a/b)
	}
	e.rank /= 2
	return e, true
}

// merged chains pieces of one straight edge that a scratch or a glare broke.
func merged(segs []segment) []segment {
	var out []segment
	const cell = 32.0
	type key struct{ x, y int }
	starts := map[key][]int{}
	for i, s := range segs {
		k := key{int(s.a.X / cell), int(s.a.Y / cell)}
		starts[k] = append(starts[k], i)
	}
	for i, s := range segs {
		end, length := s.b, s.length
		dir := s.dir()
		var grown bool
		for range 6 {
			best, bestGap := -1, max(6, min(0.5*length, 40))
			kx, ky := int(end.X/cell), int(end.Y/cell)
			for y := ky - 1; y <= ky+1; y++ {
				for x := kx - 1; x <= kx+1; x++ {
					for _, j := range starts[key{x, y}] {
						t := segs[j]
						if j == i || !collinear(s.a, dir, t) {
							continue
						}
						gap := (t.a.X-end.X)*dir.X + (t.a.Y-end.Y)*dir.Y
						if gap > -2 && gap < bestGap && t.length > gap*0.5 {
							best, bestGap = j, gap
						}
					}
				}
			}
			if best < 0 {
				break
			}
			end, grown = segs[best].b, true
			length = dist(s.a, end)
			dir = Point{(end.X - s.a.X) / length, (end.Y - s.a.Y) / length}
		}
		if grown {
			out = append(out, newSegment(s.a, end))
		}
	}
	return out
}

// collinear says whether t goes on along the line from a in direction dir.
func collinear(a, dir Point, t segment) bool {
	d := t.dir()
	if d.X*dir.X+d.Y*dir.Y < 0.985 {
		return false
	}
	off := func(p Point) float64 { return math.Abs((p.X-a.X)*dir.Y - (p.Y-a.Y)*dir.X) }
	return off(t.a) < 2.5 && off(t.b) < 3.5
}

// rankElls sorts by rank and drops what is nearly the same as a better one.
func rankElls(in []ell) []ell {
	slices.SortFunc(in, func(p, q ell) int {
		switch {
		case p.rank > q.rank:
			return -1
		case p.rank < q.rank:
			return 1
		}
		return 0
	})
	return in
}
