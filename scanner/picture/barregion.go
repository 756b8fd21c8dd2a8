package picture

import (
	"math"
	"slices"
)

// A barRegion is a part of the picture whose edges run all one way: the bars
// of a linear symbol, or something like them. In pixels of the picture.
type barRegion struct {
	centre  Point
	across  Point // unit vector across the bars
	reach   float64
	height  float64 // half the extent along the bars
	slant   float64 // how far along the bars the middle line rises, a pixel across them
	level   int
	density float64
}

// along is the unit vector along the bars.
func (b barRegion) along() Point { return Point{-b.across.Y, b.across.X} }

// at is a place in the picture, given by how far across the bars and along them it
// lies from the centre.
func (b barRegion) at(across, along float64) Point {
	al := b.along()
	return Point{b.centre.X + across*b.across.X + along*al.X, b.centre.Y + across*b.across.Y + along*al.Y}
}

// A middleLine is laid through places given across and along bars. A label seen
// from aside is no rectangle: its bars may stand upright while it rises.
type middleLine struct{ n, x, y, xx, xy float64 }

func (m *middleLine) add(x, y float64) {
	m.n++
	m.x += x
	m.y += y
	m.xx += x * x
	m.xy += x * y
}

// tighter is how much lower a slanted region has to be than one that is not: the
// last row of a stacked symbol may be short, and that is no slant.
const tighter = 0.8

// slant is the line's rise; none where that is little.
func (m *middleLine) slant() float64 {
	spread := m.xx - m.x*m.x/m.n
	s := (m.xy - m.x*m.y/m.n) / max(1e-9, spread)
	if math.Abs(s) < 0.03 || math.Abs(s) > 1 {
		return 0
	}
	return s
}

const barBlock = 8 // level pixels a side of a block

// block is the edge content of a square of pixels: the sum of steepness, and
// the sum of steepness times the doubled direction, in which the two sides of
// a bar agree (a structure tensor, weighted by steepness).
type block struct{ sum, cos, sin float32 }

func (f *field) blocks() (bw, bh int, out []block) {
	bw, bh = f.w/barBlock, f.h/barBlock
	out = make([]block, bw*bh)
	for y := range bh * barBlock {
		row := out[y/barBlock*bw:]
		mag, ang := f.mag[y*f.w:], f.angle[y*f.w:]
		for x := range bw * barBlock {
			m := mag[x]
			if m < f.floor {
				continue
			}
			b := &row[x/barBlock]
			t := &turns[uint8(2*int(ang[x]))]
			w := float32(m)
			b.sum += w
			b.cos += w * t[0]
			b.sin += w * t[1]
		}
	}
	return bw, bh, out
}

// barRegions groups neighbouring blocks whose edges agree in direction. Best
// first.
func (f *field) barRegions(level int) []barRegion {
	bw, bh, blocks := f.blocks()
	good := make([]bool, len(blocks))
	least := float32(f.floor) * barBlock * barBlock * 0.12
	for i, b := range blocks {
		good[i] = b.sum > least && math.Hypot(float64(b.cos), float64(b.sin)) > 0.62*float64(b.sum)
	}
	seen := make([]bool, len(blocks))
	var out []barRegion
	var list []int
	for i := range blocks {
		if !good[i] || seen[i] {
			continue
		}
		list = append(list[:0], i)
		seen[i] = true
		var total block
		for k := 0; k < len(list); k++ {
			j := list[k]
			total.sum += blocks[j].sum
			total.cos += blocks[j].cos
			total.sin += blocks[j].sin
			x, y := j%bw, j/bw
			for dy := -2; dy <= 2; dy++ {
				for dx := -2; dx <= 2; dx++ {
					nx, ny := x+dx, y+dy
					if nx < 0 || ny < 0 || nx >= bw || ny >= bh {
						continue
					}
					n := ny*bw + nx
					if good[n] && !seen[n] && agrees(blocks[n], blocks[j], 0.80) && agrees(blocks[n], total, 0.6) {
						seen[n] = true
						list = append(list, n)
					}
				}
			}
		}
		if r, ok := regionOf(list, blocks, bw, total, float64(int(1)<<level)); ok {
			r.level = level
			out = append(out, r)
		}
	}
	out = append(out, joined(out)...)
	slices.SortFunc(out, func(a, b barRegion) int {
		switch {
		case a.density > b.density:
			return -1
		case a.density < b.density:
			return 1
		}
		return 0
	})
	return out
}

// joined makes one region of those that lie in a row: wide bars and spaces have
// blocks without an edge within them, and glare cuts a symbol in two.
func joined(in []barRegion) []barRegion {
	group := make([]int, len(in))
	for i := range group {
		group[i] = i
	}
	for i, a := range in {
		for j, b := range in[:i] {
			if group[i] == group[j] || !inRow(a, b) && !inRow(b, a) {
				continue
			}
			from, to := group[i], group[j]
			for k := range group {
				if group[k] == from {
					group[k] = to
				}
			}
		}
	}
	var out []barRegion
	for g := range in {
		var members []barRegion
		for i := range in {
			if group[i] == g {
				members = append(members, in[i])
			}
		}
		if len(members) > 1 {
			out = append(out, around(members))
		}
	}
	return out
}

// inRow says whether b goes on where a ends, along a's own direction.
func inRow(a, b barRegion) bool {
	if math.Abs(a.across.X*b.across.X+a.across.Y*b.across.Y) < 0.98 || a.height > 2.5*b.height || b.height > 2.5*a.height {
		return false
	}
	dx, dy := b.centre.X-a.centre.X, b.centre.Y-a.centre.Y
	on := dx*a.across.X + dy*a.across.Y
	gap := math.Abs(on) - a.reach - b.reach
	off := math.Abs(dy*a.across.X - dx*a.across.Y - a.slant*on)
	return gap < 0.6*max(a.reach, b.reach) && off < 0.5*max(a.height, b.height)
}

// around bounds regions of one direction, that of the strongest.
func around(members []barRegion) barRegion {
	best := members[0]
	for _, m := range members {
		if m.density > best.density {
			best = m
		}
	}
	out := barRegion{across: best.across, level: best.level}
	al := best.along()
	var line middleLine
	each := func(f func(a, b, height float64)) {
		for _, m := range members {
			a := m.centre.X*best.across.X + m.centre.Y*best.across.Y
			b := m.centre.X*al.X + m.centre.Y*al.Y
			f(a-m.reach, b-m.slant*m.reach, m.height)
			f(a+m.reach, b+m.slant*m.reach, m.height)
		}
	}
	each(func(a, b, _ float64) { line.add(a, b) })
	out.slant = line.slant()
	lo, hi := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	each(func(a, b, height float64) {
		b -= out.slant * a
		lo.X, hi.X = min(lo.X, a), max(hi.X, a)
		lo.Y, hi.Y = min(lo.Y, b-height), max(hi.Y, b+height)
	})
	for _, m := range members {
		out.density += m.density
	}
	a, b := (lo.X+hi.X)/2, (lo.Y+hi.Y)/2
	out.centre = out.at(a, b+out.slant*a)
	out.reach, out.height = (hi.X-lo.X)/2, (hi.Y-lo.Y)/2
	return out
}

// agrees compares doubled directions: 0.8 is some 18° between the bars.
func agrees(a, b block, cos float64) bool {
	dot := float64(a.cos*b.cos + a.sin*b.sin)
	return dot > cos*math.Hypot(float64(a.cos), float64(a.sin))*math.Hypot(float64(b.cos), float64(b.sin))
}

func regionOf(list []int, blocks []block, bw int, total block, scale float64) (barRegion, bool) {
	if len(list) < 4 {
		return barRegion{}, false
	}
	sin, cos := math.Sincos(math.Atan2(float64(total.sin), float64(total.cos)) / 2)
	var line middleLine
	for _, j := range list {
		x, y := float64(j%bw)+0.5, float64(j/bw)+0.5
		line.add(x*cos+y*sin, y*cos-x*sin)
	}
	slant := line.slant()
	lo, hi := boxOf(list, bw, sin, cos, slant)
	if l, h := boxOf(list, bw, sin, cos, 0); hi.Y-lo.Y > tighter*(h.Y-l.Y) {
		slant, lo, hi = 0, l, h
	}
	k := barBlock * scale
	reach, height := ((hi.X-lo.X)/2+0.5)*k, ((hi.Y-lo.Y)/2+0.5)*k
	if reach < 1.5*k {
		return barRegion{}, false
	}
	out := barRegion{
		across: Point{cos, sin}, reach: reach, height: height, slant: slant,
		density: float64(total.sum),
	}
	ma, mb := (lo.X+hi.X)/2*k, (lo.Y+hi.Y)/2*k
	out.centre = out.at(ma, mb+slant*ma)
	return out, true
}

// boxOf bounds blocks, across the bars and along them from a line through the
// origin that rises by slant.
func boxOf(list []int, bw int, sin, cos, slant float64) (lo, hi Point) {
	lo, hi = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, j := range list {
		x, y := float64(j%bw)+0.5, float64(j/bw)+0.5
		a := x*cos + y*sin
		b := y*cos - x*sin - slant*a
		lo.X, hi.X = min(lo.X, a), max(hi.X, a)
		lo.Y, hi.Y = min(lo.Y, b), max(hi.Y, b)
	}
	return lo, hi
}
