package picture

import "slices"

// A quad in which no DataMatrix of even modules was read.
type unread struct {
	corners  [4]Point
	inverted bool
}

// unevenMost is how many outlines of a picture are tried as uneven symbols.
const unevenMost = 60

// leave remembers an outline for uneven.
func (s *search) leave(q [4]Point, inverted bool) {
	if len(s.unread) < unevenMost {
		s.unread = append(s.unread, unread{q, inverted})
	}
}

// uneven looks at the outlines in which no even DataMatrix was read, for one
// whose columns or rows are not of one width: the label lies around a narrow
// vial, or the feed of the printer, or of the scanner, wasn't steady. No
// projective map follows that, but the alternating sides show each column's and
// each row's place.
func (s *search) uneven() {
	for _, o := range s.unread {
		if s.stopped() {
			break
		}
		if s.taken(centre(o.corners)) {
			continue
		}
		if l, ok := newLattice(o.corners); ok {
			in := s
			if o.inverted {
				in = s.inverse()
			}
			in.readUneven(&l)
		}
	}
	s.unread = nil
}

// readUneven reads a symbol whose outline is roughly l's.
func (s *search) readUneven(l *lattice) bool {
	tops := s.tracks(l, true)
	if len(tops) == 0 {
		return false
	}
	rights := s.tracks(l, false)
	for _, z := range allDMSizes {
		for _, turned := range [2]bool{false, true} {
			if turned && z.rows == z.cols {
				continue
			}
			size := z
			if turned {
				size = z.onSide()
			}
			if top, right, ok := pair(tops, rights, size); ok && s.readTracks(*l, size, top, right) {
				return true
			}
		}
	}
	return false
}

// A track is an alternating side: the edges of its modules along it, one more
// than the modules, in the unit square of a lattice, and how far inside the
// outline they were seen.
type track struct {
	edges []float64
	inset float64
}

// pair is the first top and right track that may be those of a size.
func pair(tops, rights []track, z dmSize) (top, right track, ok bool) {
	for _, top := range tops {
		for _, right := range rights {
			if top.runs(right, z) {
				return top, right, true
			}
		}
	}
	return track{}, track{}, false
}

// runs says whether two tracks, the top one and the right one, may be those of a
// size: each was seen within the other's outermost modules.
func (t track) runs(right track, z dmSize) bool {
	if len(t.edges) != z.cols+1 || len(right.edges) != z.rows+1 {
		return false
	}
	rows, cols := right.edges, t.edges
	return t.inset > rows[0] && t.inset < rows[1] &&
		1-right.inset > cols[z.cols-1] && 1-right.inset < cols[z.cols]
}

// tracks are the alternating sides that are seen near the top or the right side
// of l, at most one for each depth.
func (s *search) tracks(l *lattice, top bool) []track {
	along := max(dist(l.corners[0], l.corners[1]), dist(l.corners[3], l.corners[2]))
	if !top {
		along = max(dist(l.corners[0], l.corners[3]), dist(l.corners[1], l.corners[2]))
	}
	var out []track
	for _, inset := range [3]float64{0.04, 0.025, 0.014} {
		smp := s.samplerFor(2 * along * inset)
		n := int(min(500, max(64, along*smp.scale*2)))
		line := smp.shades(n + n/4)
		at := func(i float64) float64 { return (i+0.5)/float64(n) - 0.125 }
		for i := range line {
			t := at(float64(i))
			x, y := l.to(t, inset)
			if !top {
				x, y = l.to(1-inset, 1-t)
			}
			line[i] = smp.at(x, y)
		}
		edges := alternating(line)
		for i := range edges {
			edges[i] = at(edges[i])
		}
		if !top {
			// From the top down, as the rows are counted.
			slices.Reverse(edges)
			for i := range edges {
				edges[i] = 1 - edges[i]
			}
		}
		if steady(edges) {
			out = append(out, track{edges, inset})
		}
	}
	return out
}

// alternating returns where a line changes between light and dark, if it begins
// and ends light, in samples; and behind it the end of the last module, which is
// light itself, as far away as the last dark one is wide.
func alternating(line []float32) []float64 {
	least := 0.35 * (slices.Max(line) - slices.Min(line))
	if least < 8 {
		return nil
	}
	// The extremes in turn, as far as they differ enough.
	at := []int{0} // a light one, a dark one, a light one…
	for i, v := range line {
		last := at[len(at)-1]
		turn := float32(1) // looking for a light one
		if len(at)%2 == 0 {
			turn = -1
		}
		switch {
		case turn*(v-line[last]) > 0:
			at[len(at)-1] = i
		case turn*(line[last]-v) > least:
			at = append(at, i)
		}
	}
	if len(at)%2 == 0 {
		return nil
	}
	var edges []float64
	for k := 1; k < len(at); k++ {
		from, to := at[k-1], at[k]
		mid := (line[from] + line[to]) / 2
		for i := from; i < to; i++ {
			a, b := line[i]-mid, line[i+1]-mid
			if a*b <= 0 && a != b {
				edges = append(edges, float64(i)+float64(a/(a-b)))
				break
			}
		}
	}
	if n := len(edges); n >= 2 {
		edges = append(edges, 2*edges[n-1]-edges[n-2])
	}
	return edges
}

// steady says whether the edges of modules begin and end where the outline does,
// and the modules, taken in pairs since ink spreads, grow or shrink no faster
// along the side than a bent label or an unsteady feed explains.
func steady(edges []float64) bool {
	n := len(edges) - 1
	if n < 8 || n%2 != 0 {
		return false
	}
	first, last := min(edges[0], edges[n]), max(edges[0], edges[n])
	if first < -0.06 || first > 0.06 || last < 0.94 || last > 1.06 {
		return false
	}
	lo, hi, before := 1.0, 0.0, 0.0
	for i := 0; i+2 <= n; i++ {
		w := edges[i+2] - edges[i]
		if w <= 0 || before > 0 && (w > 1.5*before || before > 1.5*w) {
			return false
		}
		lo, hi, before = min(lo, w), max(hi, w), w
	}
	return hi < 3*lo
}

// place is where a place between 0 and 1 of even modules lies among uneven ones.
func (t track) place(u float64) float64 {
	n := len(t.edges) - 1
	k := max(0, min(n-1, int(u*float64(n))))
	return t.edges[k] + (u*float64(n)-float64(k))*(t.edges[k+1]-t.edges[k])
}

// readTracks fits a size to the picture, its columns and rows as wide as the
// tracks say, and decodes it.
func (s *search) readTracks(l lattice, z dmSize, top, right track) bool {
	even := z.probes()
	probes := slices.Clone(even)
	for i, p := range even {
		probes[i].u, probes[i].v = top.place(p.u), right.place(p.v)
	}
	module := (dist(l.corners[0], l.corners[1]) + dist(l.corners[3], l.corners[2])) / float64(2*z.cols)
	smp := s.samplerFor(module)
	if l.refine(&smp, probes, module/2, 3, false) < 5 {
		return false
	}
	sh := shades{z.cols, z.rows, make([]float32, z.cols*z.rows)}
	for i := range sh.v {
		u, v := float64(i%z.cols)+0.5, float64(i/z.cols)+0.5
		var sum float32
		for _, d := range [5][2]float64{{0, 0}, {-0.2, -0.2}, {0.2, -0.2}, {-0.2, 0.2}, {0.2, 0.2}} {
			x, y := l.to(top.place((u+d[0])/float64(z.cols)), right.place((v+d[1])/float64(z.rows)))
			sum += smp.at(x, y)
		}
		sh.v[i] = sum / 5
	}
	lv := sh.levels(even)
	if lv.agree < unevenWanted {
		return false
	}
	for _, c := range sh.variants(lv, even) {
		if text, id, ok := decodeDataMatrix(c, z, false); ok {
			at := func(u, v float64) Point { return l.m.point(top.place(u), right.place(v)) }
			s.add(Symbol{Symbology: id, Text: text, Corners: [4]Point{at(0, 0), at(1, 0), at(1, 1), at(0, 1)}})
			return true
		}
	}
	return false
}

// unevenWanted is the share of the modules known beforehand that have to be
// right: more than of an even symbol, since the tracks were laid where they fit.
const unevenWanted = 0.95
