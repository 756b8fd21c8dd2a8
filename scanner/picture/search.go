package picture

import (
	"context"
	"math"
	"slices"
)

// A search is the reading of one picture: its pyramid of halved sizes, the
// limits, and what was found so far.
type search struct {
	ctx    context.Context
	opt    Options
	levels []*gray // levels[k] is the picture at 1/2^k of its size
	found  []Symbol

	fields   [6]*field       // gradients by level, made when asked for
	edges    [6][]segment    // straight edges by level
	buffers  [3][]float32    // of patches
	ells     [2][]ell        // corners that were tried as a DataMatrix, dark and light
	triples  [][3]Point      // position patterns that were tried together as a QR code
	probes   map[int][]probe // of QR codes, by modules a side
	negative *search         // the same picture with light and dark exchanged
	positive *search         // the search that this is the negative of
	unread   []unread        // outlines of a DataMatrix that could not be read
	evidence *evidence       // where to keep what could not be read, or nil
	blurred  int             // what is left of barBudget
}

// minLevel is the smallest side, in pixels, that a level of the pyramid has.
const minLevel = 48

func newSearch(ctx context.Context, g *gray, o Options) *search {
	s := &search{ctx: ctx, opt: o, levels: []*gray{g}, found: []Symbol{}, blurred: barBudget}
	for len(s.levels) < 6 {
		last := s.levels[len(s.levels)-1]
		if min(last.w, last.h) < 2*minLevel {
			break
		}
		s.levels = append(s.levels, last.half())
	}
	return s
}

// stopped says that the time is over or enough was found; every loop that can
// take longer than some milliseconds asks it.
func (s *search) stopped() bool { return s.full() || s.ctx.Err() != nil }

func (s *search) full() bool { return s.opt.Limit > 0 && len(s.found) >= s.opt.Limit }

// barBudget is how much work one picture gets for reading blurred bars, in units
// of some 5 µs.
const barBudget = 36_000

// budget is what is left of it, to be counted down.
func (s *search) budget() *int {
	if s.positive != nil {
		return s.positive.budget()
	}
	return &s.blurred
}

// run goes through the stages, cheap and likely ones first.
func (s *search) run() { s.stages(append(s.coarseToFine(), s.plain, s.uneven, s.enlarged)) }

// fullMax is the largest picture, in pixels, that is searched at its full size,
// too: above, that doubles the time and takes half as much memory again, and
// found nothing more in the scenes tried. The modules of what is found are
// sampled from the full picture all the same.
const fullMax = 6_000_000

// coarseToFine are the stages that look for each kind with our own finders.
func (s *search) coarseToFine() []func() {
	half, quarter := min(1, len(s.levels)-1), min(2, len(s.levels)-1)
	out := []func(){
		func() { s.dataMatrix(half, 50) },
		func() { s.bars(half, 12) },
		func() { s.qr(half) },
		func() { s.dataMatrix(quarter, 25) },
		func() { s.bars(quarter, 8) },
		func() { s.qr(quarter) },
	}
	if g := s.levels[0]; g.w*g.h > fullMax {
		return out
	}
	return slices.Insert(out, 3,
		func() { s.bars(0, 16) },
		func() { s.dataMatrix(0, 25); s.forget(0) },
		func() { s.qr(0) },
	)
}

func (s *search) stages(stages []func()) {
	for _, stage := range stages {
		if s.stopped() {
			return
		}
		// A panic in a decoder loses that stage, not the picture.
		_, _ = guarded(func() (struct{}, error) { stage(); return struct{}{}, nil })
	}
}

func (s *search) field(level int) *field {
	if s.fields[level] == nil {
		s.fields[level] = newField(s.levels[level])
	}
	return s.fields[level]
}

// forget gives back the gradient and edges of a level: at 12 megapixels they
// are larger than the picture.
func (s *search) forget(level int) { s.fields[level], s.edges[level] = nil, nil }

func (s *search) segments(level int, f *field) []segment {
	if s.edges[level] == nil {
		s.edges[level] = f.segments(10, s.stopped)
	}
	return s.edges[level]
}

// inverse is the search in the negative of the picture: light bars on dark
// ground are sampled from it.
func (s *search) inverse() *search {
	if s.negative == nil {
		n := &search{ctx: s.ctx, opt: s.opt, positive: s}
		for _, g := range s.levels {
			v := newGray(g.w, g.h)
			for y := range g.h {
				src, dst := g.row(y), v.row(y)
				for x, p := range src {
					dst[x] = 255 - p
				}
			}
			n.levels = append(n.levels, v)
		}
		s.negative = n
	}
	return s.negative
}

// add records a symbol unless the same one was found before: the same text of
// the same kind in the same place.
func (s *search) add(sym Symbol) {
	if s.positive != nil {
		s.positive.add(sym)
		return
	}
	if s.full() || sym.Text == "" {
		return
	}
	for _, f := range s.found {
		if f.Symbology == sym.Symbology && f.Text == sym.Text && near(f.Corners, sym.Corners) {
			return
		}
	}
	s.found = append(s.found, sym)
	if s.opt.Found != nil {
		s.opt.Found(sym)
	}
}

// taken says whether a point lies in a symbol that was read already.
func (s *search) taken(p Point) bool {
	for _, f := range s.found {
		if contains(f.Corners, p) {
			return true
		}
	}
	return false
}

func centre(q [4]Point) Point {
	return Point{
		X: (q[0].X + q[1].X + q[2].X + q[3].X) / 4,
		Y: (q[0].Y + q[1].Y + q[2].Y + q[3].Y) / 4,
	}
}

// near says whether two quadrilaterals are the same place: the centre of one
// lies in the other, or within half its longest side.
func near(a, b [4]Point) bool {
	ca, cb := centre(a), centre(b)
	if contains(a, cb) || contains(b, ca) {
		return true
	}
	side := 0.0
	for i := range a {
		side = max(side, dist(a[i], a[(i+1)%4]), dist(b[i], b[(i+1)%4]))
	}
	return dist(ca, cb) < side/2
}

func dist(a, b Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// contains says whether p lies in the convex quadrilateral q, whichever way
// round its corners are given.
func contains(q [4]Point, p Point) bool {
	neg, pos := false, false
	for i := range q {
		a, b := q[i], q[(i+1)%4]
		c := (b.X-a.X)*(p.Y-a.Y) - (b.Y-a.Y)*(p.X-a.X)
		neg = neg || c < 0
		pos = pos || c > 0
	}
	return neg != pos
}
