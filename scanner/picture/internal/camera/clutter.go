package camera

import "math"

// Clutter draws what else is on a pack: panels of other shades, frames, lines
// of print, logos of round and straight shapes, and a grain.
func (s *Scene) Clutter(panels, lines int) {
	r := s.Rand
	for range panels {
		w, h := s.span(0.1, 0.5), s.span(0.08, 0.4)
		x, y := r.IntN(s.W), r.IntN(s.H)
		shade := float32(40 + r.IntN(200))
		switch r.IntN(4) {
		case 0:
			s.ellipse(x, y, w/2, h/2, shade)
		case 1:
			s.frame(x, y, w, h, 1+r.IntN(4), shade)
		default:
			s.rect(x-w/2, y-h/2, w, h, shade)
		}
	}
	for range lines {
		s.print(r.IntN(s.W), r.IntN(s.H), 4+r.IntN(max(5, s.H/40)), 5+r.IntN(30))
	}
}

func (s *Scene) span(lo, hi float64) int {
	return max(4, int(float64(min(s.W, s.H))*(lo+(hi-lo)*s.Rand.Float64())))
}

func (s *Scene) set(x, y int, v float32) {
	if x >= 0 && y >= 0 && x < s.W && y < s.H {
		s.Pix[y*s.W+x] = v
	}
}

func (s *Scene) rect(x, y, w, h int, v float32) {
	for j := max(0, y); j < min(s.H, y+h); j++ {
		for i := max(0, x); i < min(s.W, x+w); i++ {
			s.Pix[j*s.W+i] = v
		}
	}
}

func (s *Scene) frame(x, y, w, h, t int, v float32) {
	s.rect(x, y, w, t, v)
	s.rect(x, y+h-t, w, t, v)
	s.rect(x, y, t, h, v)
	s.rect(x+w-t, y, t, h, v)
}

func (s *Scene) ellipse(cx, cy, rx, ry int, v float32) {
	for j := -ry; j <= ry; j++ {
		k := int(float64(rx) * math.Sqrt(max(0, 1-float64(j*j)/float64(ry*ry+1))))
		for i := -k; i <= k; i++ {
			s.set(cx+i, cy+j, v)
		}
	}
}

// print draws a line of made-up letters: strokes on a small grid, of a size in
// pixels, at a slight angle.
func (s *Scene) print(x, y, size, letters int) {
	r := s.Rand
	shade := float32(10 + r.IntN(80))
	slope := (r.Float64() - 0.5) * 0.5
	t := max(1, size/6)
	for l := range letters {
		if r.IntN(6) == 0 {
			continue
		}
		bits := r.Uint32()
		lx, ly := x+l*size*3/4, y+int(slope*float64(l*size*3/4))
		w := size / 2
		segments := [6][4]int{{0, 0, w, t}, {0, size / 2, w, t}, {0, size, w + t, t}, {0, 0, t, size}, {w, 0, t, size}, {w / 2, 0, t, size}}
		for k, g := range segments {
			if bits>>k&1 == 1 {
				s.rect(lx+g[0], ly+g[1], g[2], g[3], shade)
			}
		}
	}
}

// Grain adds a slow, cloudy change of shade, as cardboard and film have.
func (s *Scene) Grain(amount float64) {
	step := 16
	gw, gh := s.W/step+2, s.H/step+2
	g := make([]float32, gw*gh)
	for i := range g {
		g[i] = float32(s.Rand.NormFloat64() * amount)
	}
	for y := range s.H {
		for x := range s.W {
			s.Pix[y*s.W+x] += bilinear(g, gw, gh, float64(x)/float64(step), float64(y)/float64(step))
		}
	}
}
