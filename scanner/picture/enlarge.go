package picture

const (
	enlargeMax = 160_000 // pixels of the largest picture that is enlarged
	enlargeBy  = 3
	enlargePad = 8 // pixels of the small picture added around it
)

// enlarged looks again at a small picture in which nothing was found, three
// times as large: symbols whose modules are one or two pixels, and symbols
// that reach to the picture's edge, where their quiet zone was cut off.
func (s *search) enlarged() {
	g := s.levels[0]
	if len(s.found) > 0 || g.w*g.h > enlargeMax {
		return
	}
	lo, hi := g.border()
	s.within(g.enlarge(enlargeBy, enlargePad))
	if len(s.found) == 0 && hi-lo > 60 && !s.stopped() {
		// Modules reach the edge: what goes on beyond is taken as light.
		s.within(g.framed(enlargePad, hi).enlarge(enlargeBy, 0))
	}
}

// within searches big, which is this picture enlarged and padded.
func (s *search) within(picture *gray) {
	o := s.opt
	o.Found = nil
	big := newSearch(s.ctx, picture, o)
	big.stages(append(big.coarseToFine(), big.uneven))
	for _, f := range big.found {
		for i, c := range f.Corners {
			f.Corners[i] = Point{X: c.X/enlargeBy - enlargePad, Y: c.Y/enlargeBy - enlargePad}
		}
		s.add(f)
	}
}

// border returns the darkest and the lightest shade along the picture's edge.
func (g *gray) border() (lo, hi uint8) {
	lo, hi = 255, 0
	for y := range g.h {
		row := g.row(y)
		step := g.w - 1
		if y == 0 || y == g.h-1 {
			step = 1
		}
		for x := 0; x < g.w; x += step {
			lo, hi = min(lo, row[x]), max(hi, row[x])
		}
	}
	return lo, hi
}

// framed returns the picture with a border of one shade around it.
func (g *gray) framed(pad int, shade uint8) *gray {
	out := newGray(g.w+2*pad, g.h+2*pad)
	for i := range out.pix {
		out.pix[i] = shade
	}
	for y := range g.h {
		copy(out.row(y + pad)[pad:], g.row(y))
	}
	return out
}

// enlarge returns the picture k times as large by bilinear interpolation, with
// its border drawn out by pad of its own pixels.
func (g *gray) enlarge(k, pad int) *gray {
	out := newGray((g.w+2*pad)*k, (g.h+2*pad)*k)
	for y := range out.h {
		v := (float64(y)+0.5)/float64(k) - float64(pad)
		row := out.row(y)
		for x := range row {
			u := (float64(x)+0.5)/float64(k) - float64(pad)
			row[x] = uint8(g.at(u, v) + 0.5)
		}
	}
	return out
}
