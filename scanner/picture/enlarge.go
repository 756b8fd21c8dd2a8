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
	o := s.opt
	o.Found = nil
	big := newSearch(s.ctx, g.enlarge(enlargeBy, enlargePad), o)
	big.stages(big.coarseToFine())
	for _, f := range big.found {
		for i, c := range f.Corners {
			f.Corners[i] = Point{X: c.X/enlargeBy - enlargePad, Y: c.Y/enlargeBy - enlargePad}
		}
		s.add(f)
	}
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
