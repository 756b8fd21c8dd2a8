// Package camera makes pictures of barcodes as a hand-held camera would take
// them, for the tests of package picture and for its comparison report.
//
// A flat, perfect symbol (made by an independent encoder, or by gozxing's
// writers) is laid into a scene by a projective map, optionally wrapped around
// a cylinder, and the scene is then spoiled: blur, motion, uneven light, glare,
// noise, low contrast, JPEG. Everything follows from the seed.
//
// The camera is a model from memory of how phone pictures look, not measured
// from a device; a reader that does well here still has to be tried on real
// photographs.
package camera

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
)

// A Point is a place in pixels.
type Point struct{ X, Y float64 }

// A Scene is a gray picture in the making, 0 black to 255 white.
type Scene struct {
	W, H int
	Pix  []float32
	Rand *rand.Rand
}

// NewScene returns a scene of one shade.
func NewScene(w, h int, shade float32, r *rand.Rand) *Scene {
	s := &Scene{W: w, H: h, Pix: make([]float32, w*h), Rand: r}
	for i := range s.Pix {
		s.Pix[i] = shade
	}
	return s
}

// Gray rounds the scene to a picture.
func (s *Scene) Gray() *image.Gray {
	g := image.NewGray(image.Rect(0, 0, s.W, s.H))
	for i, v := range s.Pix {
		g.Pix[i] = uint8(max(0, min(255, v+0.5)))
	}
	return g
}

// A Pose says how a symbol lies before the camera.
type Pose struct {
	Centre   Point   // where its middle comes to lie
	Module   float64 // pixels a module
	Rotation float64 // radians, in the picture's plane
	TiltX    float64 // radians about the picture's x axis
	TiltY    float64 // radians about the picture's y axis
	Distance float64 // of the camera, in symbol widths; 0 means 3
	Cylinder float64 // half the angle that the symbol wraps, radians; 0 is flat
	Upright  bool    // the cylinder's axis runs along the symbol's height
	Mirror   bool
	Dark     float32 // shade of the dark modules
	Light    float32 // shade of the label
	Plain    float64 // clear label around the symbol, in modules
}

// Place lays a symbol into the scene. art is the symbol with its quiet zone,
// dark on light, scale pixels a module. It returns the four corners of art.
func (s *Scene) Place(art image.Image, scale float64, p Pose) [4]Point {
	src := flat(art)
	w, h := float64(src.w), float64(src.h)
	if p.Distance == 0 {
		p.Distance = 3
	}
	m := newMapping(w, h, scale, p)
	pad := p.Plain * scale
	x0, y0, x1, y1 := m.bounds(w, h, pad)
	const sub = 3 // samples a side of a pixel
	for y := max(0, int(y0)-1); y < min(s.H, int(y1)+2); y++ {
		for x := max(0, int(x0)-1); x < min(s.W, int(x1)+2); x++ {
			var sum float32
			n := 0
			for k := range sub * sub {
				px := float64(x) + (float64(k%sub)+0.5)/sub
				py := float64(y) + (float64(k/sub)+0.5)/sub
				u, v, ok := m.inverse(px, py)
				if !ok || u < -pad || v < -pad || u >= w+pad || v >= h+pad {
					continue
				}
				n++
				if src.dark(u, v) {
					sum += p.Dark
				} else {
					sum += p.Light
				}
			}
			if n > 0 {
				i := y*s.W + x
				s.Pix[i] = (sum + s.Pix[i]*float32(sub*sub-n)) / (sub * sub)
			}
		}
	}
	return m.corners(w, h)
}

type texture struct {
	w, h int
	bits []bool
}

func flat(art image.Image) texture {
	b := art.Bounds()
	t := texture{w: b.Dx(), h: b.Dy(), bits: make([]bool, b.Dx()*b.Dy())}
	for y := range t.h {
		for x := range t.w {
			c := color.GrayModel.Convert(art.At(b.Min.X+x, b.Min.Y+y)).(color.Gray)
			t.bits[y*t.w+x] = c.Y < 128
		}
	}
	return t
}

func (t texture) dark(u, v float64) bool {
	x, y := int(math.Floor(u)), int(math.Floor(v))
	return x >= 0 && y >= 0 && x < t.w && y < t.h && t.bits[y*t.w+x]
}

// mapping takes a point of the flat symbol to the picture and back.
type mapping struct {
	pose         Pose
	cx, cy, zoom float64 // middle of the art, picture pixels per art pixel
	dist, radius float64 // in picture pixels
	r            [9]float64
}

func newMapping(w, h, scale float64, p Pose) *mapping {
	m := &mapping{pose: p, cx: w / 2, cy: h / 2, zoom: p.Module / scale}
	m.dist = p.Distance * max(w, h) * m.zoom
	along := w / 2 * m.zoom
	if !p.Upright {
		along = h / 2 * m.zoom
	}
	if p.Cylinder > 0 {
		m.radius = along / p.Cylinder
	}
	sx, cx := math.Sincos(p.TiltX)
	sy, cy := math.Sincos(p.TiltY)
	sz, cz := math.Sincos(p.Rotation)
	// Rz · Rx · Ry
	m.r = [9]float64{
		cz*cy - sz*sx*sy, -sz * cx, cz*sy + sz*sx*cy,
		sz*cy + cz*sx*sy, cz * cx, sz*sy - cz*sx*cy,
		-cx * sy, sx, cx * cy,
	}
	return m
}

func (m *mapping) forward(u, v float64) Point {
	x, y, z := (u-m.cx)*m.zoom, (v-m.cy)*m.zoom, 0.0
	if m.pose.Mirror {
		x = -x
	}
	if m.radius > 0 {
		if m.pose.Upright {
			a := x / m.radius
			x, z = m.radius*math.Sin(a), m.radius*(1-math.Cos(a))
		} else {
			a := y / m.radius
			y, z = m.radius*math.Sin(a), m.radius*(1-math.Cos(a))
		}
	}
	r := &m.r
	px, py, pz := r[0]*x+r[1]*y+r[2]*z, r[3]*x+r[4]*y+r[5]*z, r[6]*x+r[7]*y+r[8]*z
	k := m.dist / (m.dist + pz)
	return Point{m.pose.Centre.X + px*k, m.pose.Centre.Y + py*k}
}

// inverse casts a ray through a pixel onto the plane or the cylinder.
func (m *mapping) inverse(px, py float64) (u, v float64, ok bool) {
	dx, dy, dz := px-m.pose.Centre.X, py-m.pose.Centre.Y, m.dist
	r := &m.r
	// The ray (0,0,-dist) + t(dx,dy,dz) in the symbol's frame (r transposed).
	ox, oy, oz := -r[6]*m.dist, -r[7]*m.dist, -r[8]*m.dist
	ax, ay, az := r[0]*dx+r[3]*dy+r[6]*dz, r[1]*dx+r[4]*dy+r[7]*dz, r[2]*dx+r[5]*dy+r[8]*dz
	var x, y float64
	if m.radius == 0 {
		if az <= 0 {
			return 0, 0, false
		}
		t := -oz / az
		x, y = ox+t*ax, oy+t*ay
	} else {
		// Circle of that radius about (0, radius) in the (wrapped, z) plane.
		o, a := ox, ax
		if !m.pose.Upright {
			o, a = oy, ay
		}
		c := oz - m.radius
		qa, qb, qc := a*a+az*az, o*a+c*az, o*o+c*c-m.radius*m.radius
		disc := qb*qb - qa*qc
		if disc < 0 {
			return 0, 0, false
		}
		t := (-qb - math.Sqrt(disc)) / qa
		x, y = ox+t*ax, oy+t*ay
		z := oz + t*az
		if m.pose.Upright {
			x = m.radius * math.Atan2(x, m.radius-z)
		} else {
			y = m.radius * math.Atan2(y, m.radius-z)
		}
	}
	if m.pose.Mirror {
		x = -x
	}
	return x/m.zoom + m.cx, y/m.zoom + m.cy, true
}

func (m *mapping) corners(w, h float64) [4]Point {
	return [4]Point{m.forward(0, 0), m.forward(w, 0), m.forward(w, h), m.forward(0, h)}
}

func (m *mapping) bounds(w, h, pad float64) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range 33 {
		f := float64(i) / 32
		for _, p := range []Point{
			m.forward(-pad+f*(w+2*pad), -pad), m.forward(-pad+f*(w+2*pad), h+pad),
			m.forward(-pad, -pad+f*(h+2*pad)), m.forward(w+pad, -pad+f*(h+2*pad)),
		} {
			x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
		}
	}
	return x0, y0, x1, y1
}
