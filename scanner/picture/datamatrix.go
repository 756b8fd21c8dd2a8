package picture

import (
	"strconv"
	"strings"

	"github.com/makiuchi-d/gozxing"
)

// dataMatrix looks for DataMatrix symbols on one level: edges, corners that
// look like an L, far sides, sizes, and then the modules.
func (s *search) dataMatrix(level, most int) {
	f := s.field(level)
	scale := float64(int(1) << level)
	segs := s.segments(level, f)
	for k, inverted := range [2]bool{false, true} {
		tried := 0
		if inverted {
			most /= 2 // rare on packs
		}
		for _, e := range ells(segs, scale, inverted) {
			if s.stopped() || tried >= most {
				break
			}
			if s.taken(lerp(e.foot, e.head, 0.5)) || repeated(s.ells[k], e, 1.5*scale) {
				continue
			}
			s.ells[k] = append(s.ells[k], e)
			tried++
			s.tryEll(e, inverted)
		}
	}
}

// repeated says whether nearly the same L was tried before. For a long, low
// symbol, and for one of very many modules, a pixel more or less decides, so its
// L is tried again on each level.
func repeated(seen []ell, e ell, within float64) bool {
	if a, b := dist(e.corner, e.foot), dist(e.corner, e.head); max(a, b) > 12*min(a, b) || min(a, b) > 250 {
		within /= 4
	}
	for _, o := range seen {
		if dist(o.corner, e.corner) < within && dist(o.foot, e.foot) < 2*within && dist(o.head, e.head) < 2*within {
			return true
		}
	}
	return false
}

// tryEll follows one L to the end; it reports whether a symbol was read.
func (s *search) tryEll(e ell, inverted bool) bool {
	p := newPatch(e, s)
	rights, tops := p.right(), p.top()
	for i, r := range rights {
		for j, t := range tops {
			if i+j > 1 {
				continue
			}
			q, ok := e.quad(r, t)
			if !ok {
				continue
			}
			if s.tryQuad(q, inverted) {
				return true
			}
		}
	}
	return false
}

// tryQuad reads a DataMatrix whose outline is roughly q.
func (s *search) tryQuad(q [4]Point, inverted bool) bool {
	if inverted {
		s = s.inverse()
	}
	for _, g := range guessSizes(q, s, 3) {
		if g.score < 0.9 && (g.size.cols < 96 || g.score < 0.7) {
			continue
		}
		l, ok := newLattice(q)
		if !ok {
			return false
		}
		if s.readDataMatrix(&l, g.size) {
			return true
		}
	}
	return false
}

// readDataMatrix fits a size to the picture and decodes it.
func (s *search) readDataMatrix(l *lattice, z dmSize) bool {
	probes := z.probes()
	module := (dist(l.corners[0], l.corners[1]) + dist(l.corners[3], l.corners[2])) / float64(2*z.cols)
	smp := s.samplerFor(module)
	if z.cols >= 60 {
		l.slide(&smp, probes, module)
	}
	for _, bend := range [2]bool{false, true} {
		if contrast := l.refine(&smp, probes, module, 3, bend); contrast < 5 {
			return false
		}
		sh := l.sample(&smp, z.cols, z.rows)
		mid, agree := sh.threshold(probes)
		if agree < z.wanted() {
			continue
		}
		for _, m := range sh.variants(mid, probes) {
			if text, id, ok := decodeDataMatrix(m, z, nil); ok {
				s.add(Symbol{Symbology: id, Text: text, Corners: l.corners})
				return true
			}
		}
	}
	return false
}

// slide moves the far side of a long symbol, up to two modules each way, to
// where the probes agree best. Refining alone would stop at the next place where
// half of a long row of alternating modules fits by chance.
func (l *lattice) slide(s *sampler, probes []probe, module float64) {
	best, bestMatch := *l, l.match(s, probes)
	for k := -4; k <= 4; k++ {
		for tilt := -2; tilt <= 2; tilt++ {
			n := *l
			for i, at := range [2]int{1, 2} {
				from := l.corners[[2]int{0, 3}[i]]
				ux, uy := unit(n.corners[at].X-from.X, n.corners[at].Y-from.Y)
				d := module / 2 * float64(k+tilt*(1-2*i))
				n.corners[at].X += d * ux
				n.corners[at].Y += d * uy
			}
			if n.settle() {
				if m := n.match(s, probes); m > bestMatch {
					best, bestMatch = n, m
				}
			}
		}
	}
	*l = best
}

// wanted is the share of the modules known beforehand that have to be right
// before the decoder is asked. A small symbol has few of them, and an error
// correction so short that it now and then believes a texture.
func (z dmSize) wanted() float64 {
	if z.rows*z.cols > 300 {
		return 0.85
	}
	return 0.92
}

// variants are the ways to cut shades into dark and light, likeliest first.
func (sh shades) variants(mid plane, probes []probe) []*gozxing.BitMatrix {
	out := []*gozxing.BitMatrix{sh.matrix(mid)}
	for _, k := range []float32{0.5, 1.1} {
		sharp := sh.sharpen(k)
		m, _ := sharp.threshold(probes)
		out = append(out, sharp.matrix(m))
	}
	return append(out, sh.local(2).matrix(plane{}), sh.sharpen(0.5).local(3).matrix(plane{}))
}

// decodeDataMatrix reads an exact module matrix, and if that fails its mirror
// image. Modules for which lost is true (nil: none) count as erasures.
func decodeDataMatrix(m *gozxing.BitMatrix, z dmSize, lost func(c, r int) bool) (text, id string, ok bool) {
	if m == nil {
		return "", "", false
	}
	upright := z.rows <= z.cols
	for _, mirrored := range [2]bool{!upright, upright} {
		if mirrored && z.rows < z.cols || !mirrored && z.rows > z.cols {
			continue
		}
		try, size, gone := m, z, lost
		if mirrored {
			try, size = transposeDM(m), z.onSide()
			if lost != nil {
				gone = func(c, r int) bool { return lost(size.rows-1-r, size.cols-1-c) }
			}
		}
		if try == nil {
			continue
		}
		words, ok := size.corrected(try, gone)
		if !ok {
			continue
		}
		n, text, ok := dmDecode(words)
		if !ok {
			continue
		}
		if z.extension {
			n += 6 // ISO/IEC 21471 annex: the modifiers of DMRE are 7 to C
		}
		return text, "]d" + strings.ToUpper(strconv.FormatInt(int64(n), 16)), true
	}
	return "", "", false
}

// transposeDM mirrors a symbol so that its L comes to lie at the left and the
// bottom again: along the diagonal through the L's corner.
func transposeDM(m *gozxing.BitMatrix) *gozxing.BitMatrix {
	w, h := m.GetWidth(), m.GetHeight()
	t, err := gozxing.NewBitMatrix(h, w)
	if err != nil {
		return nil
	}
	for y := range h {
		for x := range w {
			if m.Get(x, y) {
				t.Set(h-1-y, w-1-x)
			}
		}
	}
	return t
}
