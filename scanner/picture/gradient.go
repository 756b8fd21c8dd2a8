package picture

import "math"

// A field is the gradient of one level: how steep each pixel is, and in which
// direction it gets brighter.
type field struct {
	w, h  int
	mag   []uint16 // |gx|+|gy| of the 3×3 Sobel operator
	angle []uint8  // 256 to the full turn; 0 is brighter to the right, 64 downwards
	floor uint16   // below it a pixel counts as flat
}

// newField takes the gradient of a level.
func newField(g *gray) *field {
	f := &field{w: g.w, h: g.h, mag: make([]uint16, g.w*g.h), angle: make([]uint8, g.w*g.h)}
	var hist [2048]int
	for y := 1; y < g.h-1; y++ {
		a, b, c := g.row(y-1), g.row(y), g.row(y+1)
		mag, ang := f.mag[y*f.w:(y+1)*f.w], f.angle[y*f.w:(y+1)*f.w]
		for x := 1; x < g.w-1; x++ {
			p, q, r := a[x-1:x+2:x+2], b[x-1:x+2:x+2], c[x-1:x+2:x+2]
			a0, a2, c0, c2 := int32(p[0]), int32(p[2]), int32(r[0]), int32(r[2])
			gx := a2 - a0 + 2*(int32(q[2])-int32(q[0])) + c2 - c0
			gy := c0 - a0 + 2*(int32(r[1])-int32(p[1])) + c2 - a2
			m := abs32(gx) + abs32(gy)
			hist[min(m, 2047)]++
			if m < 12 {
				continue
			}
			mag[x] = uint16(m)
			ang[x] = direction(gx, gy)
		}
	}
	f.floor = floorOf(&hist, g.w*g.h)
	return f
}

func abs32(v int32) int32 {
	if v < 0 {
		return -v
	}
	return v
}

// floorOf keeps what stands out of the noise: more than some three times the
// median gradient of the flatter half, but never more than a quarter of all
// pixels need be looked at.
func floorOf(hist *[2048]int, n int) uint16 {
	at := func(share float64) int {
		left := int(share * float64(n))
		for m, c := range hist {
			if left -= c; left <= 0 {
				return m
			}
		}
		return len(hist) - 1
	}
	return uint16(max(16, min(3*at(0.25), at(0.8)), at(0.65)))
}

var octant = arctangents()

func arctangents() (t [65]uint8) {
	for i := range t {
		t[i] = uint8(math.Round(math.Atan(float64(i)/64) * 128 / math.Pi))
	}
	return t
}

// direction is the angle of a vector, 256 to the full turn, by a table.
func direction(x, y int32) uint8 {
	ax, ay := abs32(x), abs32(y)
	var a uint8
	if ax >= ay {
		if ax == 0 {
			return 0
		}
		a = octant[ay*64/ax]
	} else {
		a = 64 - octant[ax*64/ay]
	}
	switch {
	case x < 0 && y < 0:
		return 128 + a
	case x < 0:
		return 128 - a
	case y < 0:
		return -a
	}
	return a
}
