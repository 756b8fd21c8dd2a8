package picture

import (
	"math"
	"slices"

	"github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// qr looks for QR codes on one level.
func (s *search) qr(level int) {
	g := s.levels[level]
	scale := float64(int(1) << level)
	// Large modules show on the smallest of the three levels, too.
	windows := []int{12, 40}
	if level < 2 && len(s.levels) > level+1 {
		windows = windows[:1]
	}
	for _, radius := range windows {
		m := newMask(g, radius)
		for _, inverted := range [2]bool{false, true} {
			if s.stopped() {
				return
			}
			if inverted && level == 0 && len(s.levels) > 1 {
				continue // small and light on dark: not on packs
			}
			var fs []finder
			for _, f := range m.finders(inverted) {
				f.c, f.module = scaled(f.c, scale), f.module*scale
				if !s.taken(f.c) && (f.seen > 1 || f.module < 1.5*scale) {
					fs = append(fs, f)
				}
			}
			src := s
			if inverted && len(fs) > 2 {
				src = s.inverse()
			}
			src.qrTriples(fs[:min(len(fs), 24)])
		}
	}
}

// A triple is three position patterns that may belong together: the one in the
// corner, then the others so that the turn from the second to the third is
// right-handed, as in an upright symbol from top right to bottom left.
type triple struct {
	corner, right, below finder
	doubt                float64
}

func (s *search) qrTriples(fs []finder) {
	var all []triple
	for i := range fs {
		for j := range fs {
			for k := j + 1; k < len(fs); k++ {
				if i == j || i == k {
					continue
				}
				if t, ok := newTriple(fs[i], fs[j], fs[k]); ok {
					all = append(all, t)
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b triple) int {
		switch {
		case a.doubt < b.doubt:
			return -1
		case a.doubt > b.doubt:
			return 1
		}
		return 0
	})
	for n, t := range all {
		if n >= 20 || s.stopped() {
			return
		}
		mid := lerp(t.right.c, t.below.c, 0.5)
		if s.taken(mid) || s.taken(t.corner.c) || s.triedTriple(t) {
			continue
		}
		s.tryTriple(t)
	}
}

// triedTriple remembers triples: other levels and windows find them again.
func (s *search) triedTriple(t triple) bool {
	k := [3]Point{t.corner.c, t.right.c, t.below.c}
	for _, o := range s.triples {
		if near := t.corner.module; dist(o[0], k[0]) < near && dist(o[1], k[1]) < near && dist(o[2], k[2]) < near {
			return true
		}
	}
	s.triples = append(s.triples, k)
	return false
}

func newTriple(c, a, b finder) (triple, bool) {
	ax, ay, bx, by := a.c.X-c.c.X, a.c.Y-c.c.Y, b.c.X-c.c.X, b.c.Y-c.c.Y
	la, lb := math.Hypot(ax, ay), math.Hypot(bx, by)
	cross := (ax*by - ay*bx) / (la * lb)
	if math.Abs(cross) < 0.75 || la > 2.2*lb || lb > 2.2*la {
		return triple{}, false
	}
	if cross < 0 {
		a, b, la, lb = b, a, lb, la
	}
	lo, hi := min(a.module, b.module, c.module), max(a.module, b.module, c.module)
	n := (la + lb) / (lo + hi)
	if hi > 2.2*lo || n < 10 || n > 175 {
		return triple{}, false
	}
	// A module measured along an axis of the picture is longer than the true
	// one by what the symbol is turned; that changes n, not the order.
	return triple{c, a, b, math.Abs(math.Log(la/lb)) + 1 - math.Abs(cross) + math.Log(hi/lo)}, true
}

// tryTriple reads a QR code from its three position patterns, trying the sizes
// that their distance allows.
func (s *search) tryTriple(t triple) bool {
	legs := dist(t.corner.c, t.right.c) + dist(t.corner.c, t.below.c)
	// The module along the legs, from the width along the picture's axes.
	a := math.Atan2(t.right.c.Y-t.corner.c.Y, t.right.c.X-t.corner.c.X)
	turn := max(math.Abs(math.Cos(a)), math.Abs(math.Sin(a)))
	module := (t.corner.module*2 + t.right.module + t.below.module) / 4 * turn
	guess := legs/2/module + 7
	type fit struct {
		l     lattice
		n     int
		score float64
	}
	var fits []fit
	for n := 21; n <= 177; n += 4 {
		if math.Abs(float64(n)-guess) > 4.5+0.12*guess {
			continue
		}
		// Most triples are none: the three corners are looked at before the
		// fourth is searched.
		l, ok := s.placeQR(t, n, false)
		if !ok {
			continue
		}
		probes := s.qrProbes(n)
		smp := s.samplerFor(legs / 2 / float64(n-7))
		plain := l.agree(&smp, probes)
		if plain < 0.66 {
			continue
		}
		aligned, ok := s.placeQR(t, n, true)
		if !ok {
			continue
		}
		if a := aligned.agree(&smp, probes); a >= plain {
			l, plain = aligned, a // else glare lies on the alignment pattern
		}
		if plain < 0.68 {
			continue
		}
		fits = append(fits, fit{l, n, l.match(&smp, probes)})
	}
	slices.SortFunc(fits, func(a, b fit) int { return int(math.Copysign(1, b.score-a.score)) })
	for _, f := range fits[:min(3, len(fits))] {
		if f.score < 4 {
			break
		}
		if s.readQR(f.l, f.n) {
			return true
		}
	}
	return false
}

// placeQR lays n modules over the three position patterns, and the fourth
// corner by the alignment pattern next to it if there is one and align is set.
func (s *search) placeQR(t triple, n int, align bool) (lattice, bool) {
	o, r, b := t.corner.c, t.right.c, t.below.c
	fourth := Point{r.X + b.X - o.X, r.Y + b.Y - o.Y}
	span := float64(n - 7)
	at := func(m *projective, x, y float64) Point { return m.point((x-3.5)/span, (y-3.5)/span) }
	m, ok := newProjective([4]Point{o, r, fourth, b})
	if !ok {
		return lattice{}, false
	}
	if n >= 25 && align {
		end := float64(n) - 6.5
		smp := s.samplerFor(dist(o, r) / span)
		if p, ok := findAlignment(&m, &smp, (end-3.5)/span, 1/span); ok {
			for range 12 {
				q := at(&m, end, end)
				fourth.X += p.X - q.X
				fourth.Y += p.Y - q.Y
				next, ok := newProjective([4]Point{o, r, fourth, b})
				if !ok {
					break
				}
				m = next
			}
		}
	}
	k := float64(n)
	return newLattice([4]Point{at(&m, 0, 0), at(&m, k, 0), at(&m, k, k), at(&m, 0, k)})
}

// findAlignment searches the neighbourhood of (e, e), some modules each way,
// for the alignment pattern: dark, a light ring, a dark ring.
func findAlignment(m *projective, s *sampler, e, unit float64) (Point, bool) {
	best, bx, by := 12.0, 0.0, 0.0
	reach := min(6, 2+0.08/unit)
	for dy := -reach; dy <= reach; dy += 0.5 {
		for dx := -reach; dx <= reach; dx += 0.5 {
			var ring [3]float64
			for y := -2; y <= 2; y++ {
				for x := -2; x <= 2; x++ {
					px, py := m.to(e+(dx+float64(x))*unit, e+(dy+float64(y))*unit)
					k := max(x, -x, y, -y)
					ring[k] += float64(s.at(px, py))
				}
			}
			score := ring[1]/8 - max(ring[0], ring[2]/16)
			score -= 0.8 * math.Hypot(dx, dy)
			if score > best {
				best, bx, by = score, dx, dy
			}
		}
	}
	return m.point(e+bx*unit, e+by*unit), best > 12
}

// qrProbes keeps the probes of the sizes met: noise suggests the same ones
// again and again.
func (s *search) qrProbes(n int) []probe {
	if s.probes == nil {
		s.probes = map[int][]probe{}
	}
	if s.probes[n] == nil {
		s.probes[n] = qrProbes(n)
	}
	return s.probes[n]
}

// qrProbes are the modules that every QR code of n modules a side has in
// common (ISO/IEC 18004 section 6.3): position patterns with their separators,
// timing and alignment patterns, and a light border.
func qrProbes(n int) []probe {
	var out []probe
	k := float64(n)
	add := func(c, r int, dark bool) {
		out = append(out, probe{(float64(c) + 0.5) / k, (float64(r) + 0.5) / k, dark})
	}
	square := func(c0, r0, half, rings int) {
		for r := -half; r <= half; r++ {
			for c := -half; c <= half; c++ {
				x, y := c0+c, r0+r
				if x < -1 || y < -1 || x > n || y > n {
					continue
				}
				ring := max(c, -c, r, -r)
				dark := ring != 2 && ring != 4
				if rings == 2 {
					dark = ring != 1
				}
				add(x, y, dark)
			}
		}
	}
	square(3, 3, 4, 3)
	square(n-4, 3, 4, 3)
	square(3, n-4, 4, 3)
	for i := 8; i < n-8; i++ {
		add(i, 6, i%2 == 0)
		add(6, i, i%2 == 0)
		add(i, -1, false)
		add(-1, i, false)
		add(i, n, false)
		add(n, i, false)
	}
	v, err := decoder.Version_GetVersionForNumber((n - 17) / 4)
	if err != nil {
		return out
	}
	centres := v.GetAlignmentPatternCenters()
	for i, y := range centres {
		for j, x := range centres {
			last := len(centres) - 1
			if i == 0 && j == 0 || i == 0 && j == last || i == last && j == 0 {
				continue
			}
			square(x, y, 2, 2)
		}
	}
	return out
}

// readQR fits and decodes.
func (s *search) readQR(l lattice, n int) bool {
	probes := s.qrProbes(n)
	module := dist(l.corners[0], l.corners[1]) / float64(n)
	smp := s.samplerFor(module)
	for _, bend := range [2]bool{false, true} {
		l.refine(&smp, probes, module, -1, bend)
		sh := l.sample(&smp, n, n)
		lv := sh.levels(probes)
		if lv.agree < 0.8 {
			return false
		}
		cuts := sh.variants(lv, probes)
		for _, erasing := range [2]bool{false, true} {
			for _, c := range cuts {
				if text, id, ok := decodeQR(c, erasing); ok {
					s.add(Symbol{Symbology: id, Text: text, Corners: l.corners})
					return true
				}
			}
		}
		s.keepGrid(&l, sh, lv, probes, dmSize{}, n)
	}
	return false
}
