package picture

import (
	"cmp"
	"slices"
)

// evidence is what several pictures of one pack show, and none of them whole.
type evidence struct {
	frame  int   // the picture that is being read
	origin Point // of its pixels
	grids  []sighting
	bars   []barSighting
}

// A sighting is a DataMatrix or QR code whose place and size are sure, and whose
// modules are not good enough to be decoded.
type sighting struct {
	frame   int
	corners [4]Point
	dm      dmSize // of a DataMatrix
	qr      int    // modules a side of a QR code, or 0
	probes  []probe
	agree   float64
	// v are the modules, row by row: below 0 dark, above it light, 0 not known,
	// 1 as sure as can be.
	v []float32
}

// A barSighting is a region of bars in which lines began to read something.
type barSighting struct {
	frame   int
	ends    [2]ends128
	ballots map[[2]string]*ballot
	corners [4]Point
}

// keepGrid keeps the modules of a symbol that could not be decoded.
func (s *search) keepGrid(l *lattice, sh shades, lv levels, probes []probe, dm dmSize, qr int) {
	e := s.kept()
	if e == nil {
		return
	}
	g := sighting{frame: e.frame, dm: dm, qr: qr, probes: probes, agree: lv.agree, v: make([]float32, len(sh.v))}
	for i, c := range l.corners {
		g.corners[i] = Point{c.X + e.origin.X, c.Y + e.origin.Y}
	}
	for k, v := range sh.v {
		c, r := k%sh.cols, k/sh.cols
		u, w := (float64(c)+0.5)/float64(sh.cols), (float64(r)+0.5)/float64(sh.rows)
		g.v[k] = max(-1, min(1, (v-lv.mid.at(u, w))/max(1, lv.half))) * lv.glare[k]
	}
	for i, o := range e.grids {
		// Seen before on another level: the better sight stays.
		if o.frame == g.frame && o.dm == g.dm && o.qr == g.qr && near(o.corners, g.corners) {
			if g.agree > o.agree {
				e.grids[i] = g
			}
			return
		}
	}
	e.grids = append(e.grids, g)
}

// keepBars keeps what lines across a region said.
func (s *search) keepBars(b *barReader) {
	e := s.kept()
	if e == nil {
		return
	}
	r := b.reg
	var q [4]Point
	for i, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		p := r.at(k[0]*r.reach, k[1]*r.height+k[0]*r.reach*r.slant)
		q[i] = Point{p.X + e.origin.X, p.Y + e.origin.Y}
	}
	e.bars = append(e.bars, barSighting{e.frame, b.ends, b.votes, q})
}

// kept is where evidence goes, or nil if none is kept.
func (s *search) kept() *evidence {
	if s.positive != nil {
		return s.positive.evidence
	}
	return s.evidence
}

// together gives the symbols that the evidence of all pictures supports.
func (e *evidence) together(stopped func() bool) []Symbol {
	out := e.outvoted()
	out = append(out, e.joined()...)
	return append(out, e.fused(stopped)...)
}

// outvoted are texts of linear symbols on which lines of two pictures agree, and
// that no line contradicts.
func (e *evidence) outvoted() []Symbol {
	type sum struct {
		lines, need int
		frames      map[int]bool
		first       barSighting
		rival       bool
	}
	sums := map[[2]string]*sum{}
	var order [][2]string
	for _, b := range e.bars {
		for k, v := range b.ballots {
			if sums[k] == nil {
				sums[k] = &sum{need: v.need, frames: map[int]bool{}, first: b}
				order = append(order, k)
			}
			t := sums[k]
			t.lines += len(v.strips)
			t.frames[b.frame] = true
			t.rival = t.rival || len(b.ballots) > 1
		}
	}
	slices.SortFunc(order, func(a, b [2]string) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	var out []Symbol
	for _, k := range order {
		if t := sums[k]; len(t.frames) > 1 && t.lines >= t.need && !t.rival {
			out = append(out, Symbol{Symbology: k[0], Text: k[1], Corners: t.first.corners, Frame: t.first.frame})
		}
	}
	return out
}

// joined are the Code 128 of which one picture shows the beginning and another
// one the end.
func (e *evidence) joined() []Symbol {
	var out []Symbol
	for i := range e.bars {
		for k := range e.bars {
			a, b := &e.bars[i], &e.bars[k]
			if a.frame == b.frame || len(a.ballots)+len(b.ballots) > 0 {
				continue
			}
			for x := range a.ends {
				for y := range b.ends {
					start, stop := &a.ends[x], &b.ends[y]
					length := cmp.Or(length128(&start.forward, &start.back), length128(&stop.forward, &stop.back))
					if id, text, ok := join128(start.forward.words(), stop.back.words(), length); ok {
						out = append(out, Symbol{Symbology: id, Text: text, Corners: a.corners, Frame: a.frame})
					}
				}
			}
		}
	}
	return out
}

// fused are the matrix symbols that several pictures show together.
func (e *evidence) fused(stopped func() bool) []Symbol {
	grids := slices.Clone(e.grids)
	slices.SortStableFunc(grids, func(a, b sighting) int { return cmp.Compare(b.agree, a.agree) })
	var out []Symbol
	for i, g := range grids {
		if stopped() {
			break
		}
		all := g
		all.v = slices.Clone(g.v)
		frames := map[int]bool{g.frame: true}
		for k, o := range grids {
			if k == i || frames[o.frame] || o.dm != g.dm || o.qr != g.qr || !all.likely(&o) {
				continue
			}
			frames[o.frame] = true
			for m, v := range o.v {
				all.v[m] += v
			}
		}
		if len(frames) < 2 {
			continue
		}
		if sym, ok := all.decode(); ok {
			sym.Frame, sym.Corners = g.frame, g.corners
			out = append(out, sym)
		}
	}
	return out
}

// likely says whether two sightings may be of one symbol: of the modules that
// both are sure of, and that don't look alike in every symbol, nine in ten agree.
// Few may be left to compare where the glare lies.
func (g *sighting) likely(o *sighting) bool {
	cols, rows := g.size()
	same := make([]bool, len(g.v))
	for _, p := range g.probes {
		if p.u >= 0 && p.v >= 0 && p.u < 1 && p.v < 1 {
			same[int(p.v*float64(rows))*cols+int(p.u*float64(cols))] = true
		}
	}
	const sure = 0.3
	good, all := 0, 0
	for k, v := range g.v {
		w := o.v[k]
		if same[k] || v > -sure && v < sure || w > -sure && w < sure {
			continue
		}
		all++
		good += btoi(v < 0 == (w < 0))
	}
	return 10*good >= 9*all
}

func (g *sighting) size() (cols, rows int) {
	if g.qr > 0 {
		return g.qr, g.qr
	}
	return g.dm.cols, g.dm.rows
}

// decode reads the modules; what is doubtful is left to the error correction.
func (g *sighting) decode() (Symbol, bool) {
	cols, rows := g.size()
	c := shades{cols, rows, g.v}.cut(levels{})
	for _, erasing := range [2]bool{false, true} {
		var text, id string
		var ok bool
		if g.qr > 0 {
			text, id, ok = decodeQR(c, erasing)
		} else {
			text, id, ok = decodeDataMatrix(c, g.dm, erasing)
		}
		if ok {
			return Symbol{Symbology: id, Text: text}, true
		}
	}
	return Symbol{}, false
}
