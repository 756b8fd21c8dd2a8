package picture

import (
	"math"
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
	fine := level == 0 && len(s.levels) > 2 && f.w*f.h > fineMin
	for k, inverted := range [2]bool{false, true} {
		tried := 0
		if inverted {
			most /= 4 // rare on packs
		}
		for _, e := range ells(segs, scale, inverted) {
			if s.stopped() || tried >= most {
				break
			}
			if fine && max(dist(e.corner, e.foot), dist(e.corner, e.head)) > fineArm ||
				s.taken(lerp(e.foot, e.head, 0.5)) || repeated(s.ells[k], e, 1.5*scale) {
				continue
			}
			s.ells[k] = append(s.ells[k], e)
			if !s.lively(e) {
				continue
			}
			tried++
			s.tryEll(e, inverted)
		}
	}
}

// On the whole of a picture of more pixels than fineMin only symbols of small
// modules are still to be found, whose L has no longer arm: the others were seen
// on its half.
const (
	fineMin = 1_000_000
	fineArm = 200.0
)

// lively says whether enough changes between the arms of an L for the modules of
// a symbol: along lines a part of the way up each arm, three times on average.
// Of 495 symbols found in test pictures all changed 3.5 times or more; half of
// the corners that are none are told apart so, at a fiftieth of the cost.
func (s *search) lively(e ell) bool {
	changes, swing := 0, float32(0)
	for k := range 6 {
		along, off := e.foot, e.head
		if k%2 == 1 {
			along, off = off, along
		}
		t := 0.15 + 0.25*float64(k/2)
		from := lerp(e.corner, off, t)
		ux, uy := along.X-e.corner.X, along.Y-e.corner.Y
		n := max(8, int(min(80, 0.7*math.Hypot(ux, uy))))
		smp := s.samplerFor(2.6 * math.Hypot(ux, uy) / float64(n))
		line := smp.shades(n)
		lo, hi := float32(255), float32(0)
		for i := range line {
			f := 0.08 + 0.84*(float64(i)+0.5)/float64(n)
			line[i] = smp.at(from.X+f*ux, from.Y+f*uy)
			lo, hi = min(lo, line[i]), max(hi, line[i])
		}
		swing += hi - lo
		if hi-lo >= 8 {
			changes += turningPoints(line, 0.25*(hi-lo))
		}
	}
	return changes >= 3*6 && swing >= 6*6
}

// turningPoints counts how often a line turns back by at least so much.
func turningPoints(line []float32, least float32) int {
	n, rising := 0, 0 // 1 rising, -1 falling, 0 not known yet
	lo, hi := line[0], line[0]
	for _, v := range line {
		lo, hi = min(lo, v), max(hi, v)
		switch {
		case rising >= 0 && v < hi-least:
			n += rising
			rising, lo = -1, v
		case rising <= 0 && v > lo+least:
			n -= rising
			rising, hi = 1, v
		}
	}
	return n
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
			s.leave(q, inverted)
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
		lv := sh.levels(probes)
		if lv.agree < z.wanted() {
			if bend && lv.agree > z.wanted()-0.07 {
				s.keepGrid(l, sh, lv, probes, z, 0)
			}
			continue
		}
		cuts := sh.variants(lv, probes)
		for _, erasing := range [2]bool{false, true} {
			for _, c := range cuts {
				if text, id, ok := decodeDataMatrix(c, z, erasing); ok {
					s.add(Symbol{Symbology: id, Text: text, Corners: l.corners})
					return true
				}
			}
		}
		s.keepGrid(l, sh, lv, probes, z, 0)
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

// decodeDataMatrix reads an exact module matrix, and if that fails its mirror
// image. With erasing, the words that can be trusted least are left to the error
// correction.
func decodeDataMatrix(c cut, z dmSize, erasing bool) (text, id string, ok bool) {
	if c.m == nil {
		return "", "", false
	}
	upright := z.rows <= z.cols
	for _, mirrored := range [2]bool{!upright, upright} {
		if mirrored && z.rows < z.cols || !mirrored && z.rows > z.cols {
			continue
		}
		try, size := c, z
		if mirrored {
			try, size = c.transposed(), z.onSide()
		}
		words, ok := size.corrected(try, erasing)
		if !ok {
			continue
		}
		n, text, used, ok := dmDecode(words)
		if !ok || erasing && !padsRight(words, used) {
			continue
		}
		if z.extension {
			n += 6 // ISO/IEC 21471 annex: the modifiers of DMRE are 7 to C
		}
		return text, "]d" + strings.ToUpper(strconv.FormatInt(int64(n), 16)), true
	}
	return "", "", false
}

// transposed mirrors a symbol so that its L comes to lie at the left and the
// bottom again: along the diagonal through the L's corner.
func (c cut) transposed() cut {
	w, h := c.m.GetWidth(), c.m.GetHeight()
	t, err := gozxing.NewBitMatrix(h, w)
	if err != nil {
		return c
	}
	out := cut{t, nil}
	if c.trust != nil {
		out.trust = make([]float32, len(c.trust))
	}
	for y := range h {
		for x := range w {
			if c.m.Get(x, y) {
				t.Set(h-1-y, w-1-x)
			}
			if c.trust != nil {
				out.trust[(w-1-x)*h+h-1-y] = c.trust[y*w+x]
			}
		}
	}
	return out
}
