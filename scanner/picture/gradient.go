package picture

import "math"

// A field is the gradient of one level: how steep each pixel is, and in which
// direction it gets brighter.
type field struct {
	w, h  int
	mag   []uint16  // |gx|+|gy| of the 3×3 Sobel operator
	angle []uint8   // 256 to the full turn; 0 is brighter to the right, 64 downwards
	floor uint16    // below it a pixel counts as flat
	hist  [2048]int // how many pixels are so steep; those of the border not counted
}

// newField takes the gradient of a level.
func newField(g *gray) *field {
	f := &field{w: g.w, h: g.h, mag: make([]uint16, g.w*g.h), angle: make([]uint8, g.w*g.h)}
	if g.w < 3 || g.h < 3 {
		return f
	}
	for y := 1; y < g.h-1; y++ {
		a, b, c := g.row(y-1), g.row(y), g.row(y+1)
		b, c = b[:len(a)], c[:len(a)]
		mag := f.mag[y*f.w : (y+1)*f.w][:len(a)]
		// Of each column: its weighted sum, and its difference downwards.
		var s0, s1, d0, d1 int32
		for x, v := range a {
			s2, d2 := int32(v)+2*int32(b[x])+int32(c[x]), int32(c[x])-int32(v)
			m := abs32(s2-s0) + abs32(d0+2*d1+d2)
			if x > 1 {
				mag[x-1] = uint16(m)
				f.hist[m&2047]++ // at most 2040
			}
			s0, s1, d0, d1 = s1, s2, d1, d2
		}
	}
	f.floor = floorOf(&f.hist, g.w*g.h)
	for y := 1; y < g.h-1; y++ {
		a, b, c := g.row(y-1), g.row(y), g.row(y+1)
		mag, ang := f.mag[y*f.w:(y+1)*f.w], f.angle[y*f.w:(y+1)*f.w]
		for x, m := range mag {
			if m < f.floor {
				continue
			}
			p, q, r := a[x-1:x+2:x+2], b[x-1:x+2:x+2], c[x-1:x+2:x+2]
			diagonal, other := int32(r[2])-int32(p[0]), int32(p[2])-int32(r[0])
			ang[x] = direction(diagonal+other+2*(int32(q[2])-int32(q[0])), diagonal-other+2*(int32(r[1])-int32(p[1])))
		}
	}
	return f
}

// abs32 is without a branch, since the sign of a gradient can't be foreseen.
func abs32(v int32) int32 { return (v ^ v>>31) - v>>31 }

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

// angles is the direction of each vector of whole numbers -64 to 63.
var angles = arctangents()

func arctangents() *[128 * 128]uint8 {
	var t [128 * 128]uint8
	for i := range t {
		t[i] = uint8(int(math.Round(math.Atan2(float64(i/128-64), float64(i%128-64))*128/math.Pi)) & 255)
	}
	return &t
}

// direction is the angle of a gradient, 256 to the full turn, by a table, to
// within some two parts.
func direction(x, y int32) uint8 {
	shift, half := 0, int32(0)
	if m := max(abs32(x), abs32(y)); m > 250 {
		shift, half = 4, 3 // 1020 at most, so that the table is not left
	} else if m > 62 {
		shift, half = 2, 2
	}
	return angles[((y+half)>>shift+64)*128+(x+half)>>shift+64]
}
