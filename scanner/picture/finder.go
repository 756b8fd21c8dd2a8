package picture

import (
	"math"
	"slices"
)

// A mask is a picture in dark and light, cut at the mean of each pixel's
// neighbourhood.
type mask struct {
	w, h int
	dark []bool
}

// newMask cuts each pixel at the mean of the square of the given radius
// around it. The window has to be wider than the largest solid part of a
// symbol, so that it sees light and dark.
func newMask(g *gray, radius int) *mask {
	m := &mask{w: g.w, h: g.h, dark: make([]bool, g.w*g.h)}
	col := make([]int32, g.w) // sums of the columns of the window
	rows := 0
	for y := range min(radius, g.h) {
		for x, p := range g.row(y) {
			col[x] += int32(p)
		}
		rows++
	}
	for y := range g.h {
		if n := y + radius; n < g.h {
			for x, p := range g.row(n) {
				col[x] += int32(p)
			}
			rows++
		}
		if o := y - radius - 1; o >= 0 {
			for x, p := range g.row(o) {
				col[x] -= int32(p)
			}
			rows--
		}
		var sum int32
		n := int32(0)
		for x := range min(radius, g.w) {
			sum += col[x]
			n++
		}
		src, dst := g.row(y), m.dark[y*m.w:(y+1)*m.w]
		x := 0
		step := func(to int) {
			for ; x < to; x++ {
				if k := x + radius; k < g.w {
					sum += col[k]
					n++
				}
				if k := x - radius - 1; k >= 0 {
					sum -= col[k]
					n--
				}
				dst[x] = (int32(src[x])+1)*n*int32(rows) < sum
			}
		}
		step(min(radius+1, g.w))
		// Between the borders the window has its full width.
		if end := g.w - radius; x < end {
			all := n * int32(rows)
			into, from := col[x+radius:g.w], col[x-radius-1:]
			s, d := src[x:end], dst[x:end]
			for i, in := range into {
				sum += in - from[i]
				d[i] = (int32(s[i])+1)*all < sum
			}
			x = end
		}
		step(g.w)
	}
	return m
}

// A finder is one of a QR code's three position patterns: its middle and the
// size of a module, in pixels of its level.
type finder struct {
	c      Point
	module float64
	seen   int
}

// finders looks for the position patterns: along a line through its middle,
// in any direction, dark, light, dark, light, dark measure 1:1:3:1:1.
func (m *mask) finders(inverted bool) []finder {
	var out []finder
	largest := 0.0
	var edges []int // where a row changes, and its ends
	for y := 1; y < m.h-1; y++ {
		row := m.dark[y*m.w : (y+1)*m.w]
		edges = append(edges[:0], 0)
		before := row[0]
		for x, d := range row {
			if d != before {
				edges = append(edges, x)
				before = d
			}
		}
		edges = append(edges, m.w)
		first := 0
		if row[0] == inverted {
			first = 1
		}
		for i := first; i+5 < len(edges); i += 2 {
			e := edges[i : i+6 : i+6]
			// Most are told apart by the middle run, which must be the longest.
			if mid := e[3] - e[2]; mid < e[2]-e[1] || mid < e[4]-e[3] ||
				!ratio([5]int{e[1] - e[0], e[2] - e[1], mid, e[4] - e[3], e[5] - e[4]}) {
				continue
			}
			if f, ok := m.cross((e[2]+e[3])/2, y, e[5]-e[0], inverted); ok {
				largest = max(largest, f.module)
				out = addFinder(out, f, largest)
			}
		}
	}
	slices.SortFunc(out, func(a, b finder) int { return b.seen - a.seen })
	return out
}

func ratio(r [5]int) bool {
	total := r[0] + r[1] + r[2] + r[3] + r[4]
	if total < 7 {
		return false
	}
	// Each may be off by 0.55 modules and 0.4 pixels, the middle by three times that;
	// all times 140, so that it stays in whole numbers.
	tolerance := 11*total + 56
	off := func(n, want int) bool { d := 140*n - 20*want*total; return d > want*tolerance || -d > want*tolerance }
	return !off(r[0], 1) && !off(r[1], 1) && !off(r[2], 3) && !off(r[3], 1) && !off(r[4], 1)
}

// cross checks a middle downwards, then across again through the better
// middle, then along a diagonal.
func (m *mask) cross(x, y, total int, inverted bool) (finder, bool) {
	up, down, ok := m.arm(x, y, 0, 1, total, inverted)
	if !ok {
		return finder{}, false
	}
	cy := y + (down-up)/2
	left, right, ok := m.arm(x, cy, 1, 0, total, inverted)
	if !ok {
		return finder{}, false
	}
	cx := x + (right-left)/2
	if _, _, ok := m.arm(cx, cy, 1, 1, total, inverted); !ok {
		if _, _, ok = m.arm(cx, cy, 1, -1, total, inverted); !ok {
			return finder{}, false
		}
	}
	w, h := float64(left+right+1), float64(up+down+1)
	return finder{
		c:      Point{float64(x) + float64(right-left)/2 + 0.5, float64(y) + float64(down-up)/2 + 0.5},
		module: (w + h) / 14, seen: 1,
	}, true
}

// arm measures from a middle both ways to the outer border and checks the
// ratio; it returns how many pixels lie before and behind.
func (m *mask) arm(x, y, dx, dy, total int, inverted bool) (before, behind int, ok bool) {
	half := func(dx, dy int) (r [3]int, ok bool) {
		px, py, k := x, y, 0
		for k < 3 {
			if px < 0 || py < 0 || px >= m.w || py >= m.h {
				return r, k == 2 && r[2] > 0
			}
			want := k%2 == 0 != inverted
			if m.dark[py*m.w+px] != want {
				k++
				continue
			}
			if r[k]++; r[k] > 2*total {
				return r, false
			}
			px += dx
			py += dy
		}
		return r, true
	}
	a, okA := half(-dx, -dy)
	b, okB := half(dx, dy)
	if !okA || !okB || a[0] == 0 || b[0] == 0 {
		return 0, 0, false
	}
	all := [5]int{a[2], a[1], a[0] + b[0] - 1, b[1], b[2]}
	sum := all[0] + all[1] + all[2] + all[3] + all[4]
	if !ratio(all) || sum > 3*total || 3*sum < total {
		return 0, 0, false
	}
	return a[0] + a[1] + a[2] - 1, b[0] + b[1] + b[2] - 1, true
}

// addFinder joins f to the finder that it is another sight of. The rows are
// scanned downwards, so only the last entries can be near; largest is the
// largest module so far.
func addFinder(list []finder, f finder, largest float64) []finder {
	for i := len(list) - 1; i >= 0; i-- {
		o := list[i]
		if f.c.Y-o.c.Y > 4*largest {
			break
		}
		near := 2 * o.module
		if math.Abs(f.c.Y-o.c.Y) < near && math.Abs(f.c.X-o.c.X) < near && dist(o.c, f.c) < near {
			n := float64(o.seen)
			list[i] = finder{
				c:      Point{(o.c.X*n + f.c.X) / (n + 1), (o.c.Y*n + f.c.Y) / (n + 1)},
				module: (o.module*n + f.module) / (n + 1), seen: o.seen + 1,
			}
			return list
		}
	}
	return append(list, f)
}
