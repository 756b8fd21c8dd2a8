package picture

import "math"

// A projective map takes the unit square to a quadrilateral in the picture,
// as a flat symbol is seen by a camera: (0,0), (1,0), (1,1), (0,1) go to the
// four corners in order.
type projective struct{ a, b, c, d, e, f, g, h float64 }

// newProjective is the map of the unit square to q (Heckbert, Fundamentals of
// Texture Mapping, 1989, section 2.2). ok is false for a degenerate q.
func newProjective(q [4]Point) (m projective, ok bool) {
	dx1, dx2 := q[1].X-q[2].X, q[3].X-q[2].X
	dy1, dy2 := q[1].Y-q[2].Y, q[3].Y-q[2].Y
	sx, sy := q[0].X-q[1].X+q[2].X-q[3].X, q[0].Y-q[1].Y+q[2].Y-q[3].Y
	det := dx1*dy2 - dx2*dy1
	if math.Abs(det) < 1e-9 {
		return m, false
	}
	m.g = (sx*dy2 - dx2*sy) / det
	m.h = (dx1*sy - sx*dy1) / det
	m.a = q[1].X - q[0].X + m.g*q[1].X
	m.b = q[3].X - q[0].X + m.h*q[3].X
	m.c = q[0].X
	m.d = q[1].Y - q[0].Y + m.g*q[1].Y
	m.e = q[3].Y - q[0].Y + m.h*q[3].Y
	m.f = q[0].Y
	return m, 1+m.g > 0.05 && 1+m.h > 0.05 && 1+m.g+m.h > 0.05
}

// to returns where (u, v) of the unit square lies in the picture.
func (m *projective) to(u, v float64) (x, y float64) {
	w := 1 / (m.g*u + m.h*v + 1)
	return (m.a*u + m.b*v + m.c) * w, (m.d*u + m.e*v + m.f) * w
}

func (m *projective) point(u, v float64) Point {
	x, y := m.to(u, v)
	return Point{x, y}
}

// intersect returns where the line through a and b meets the line through c
// and d.
func intersect(a, b, c, d Point) (Point, bool) {
	rx, ry := b.X-a.X, b.Y-a.Y
	sx, sy := d.X-c.X, d.Y-c.Y
	den := rx*sy - ry*sx
	if math.Abs(den) < 1e-9*math.Hypot(rx, ry)*math.Hypot(sx, sy)+1e-12 {
		return Point{}, false
	}
	t := ((c.X-a.X)*sy - (c.Y-a.Y)*sx) / den
	return Point{a.X + t*rx, a.Y + t*ry}, true
}

// convex says whether q is a convex quadrilateral that turns the same way at
// each corner, with no side shorter than least.
func convex(q [4]Point, least float64) bool {
	sign := 0.0
	for i := range q {
		a, b, c := q[i], q[(i+1)%4], q[(i+2)%4]
		if dist(a, b) < least {
			return false
		}
		t := (b.X-a.X)*(c.Y-b.Y) - (b.Y-a.Y)*(c.X-b.X)
		if t == 0 || sign*t < 0 {
			return false
		}
		sign = t
	}
	return true
}

func lerp(a, b Point, t float64) Point { return Point{a.X + (b.X-a.X)*t, a.Y + (b.Y-a.Y)*t} }

func scaled(p Point, k float64) Point { return Point{p.X * k, p.Y * k} }
