package picture

import (
	"math"

	"github.com/makiuchi-d/gozxing"
)

// shades are the sampled modules of a symbol, row by row from its top left.
type shades struct {
	cols, rows int
	v          []float32
}

// sample reads each module at five places around its centre.
func (l *lattice) sample(s *sampler, cols, rows int) shades {
	sh := shades{cols, rows, make([]float32, cols*rows)}
	du, dv := 0.22/float64(cols), 0.22/float64(rows)
	for r := range rows {
		v := (float64(r) + 0.5) / float64(rows)
		for c := range cols {
			u := (float64(c) + 0.5) / float64(cols)
			x, y := l.to(u, v)
			sum := 2 * s.at(x, y)
			for _, d := range [4][2]float64{{-du, -dv}, {du, -dv}, {-du, dv}, {du, dv}} {
				x, y = l.to(u+d[0], v+d[1])
				sum += s.at(x, y)
			}
			sh.v[r*cols+c] = sum / 6
		}
	}
	return sh
}

// sharpen undoes some of the blur that runs modules into their neighbours.
func (sh shades) sharpen(k float32) shades {
	out := shades{sh.cols, sh.rows, make([]float32, len(sh.v))}
	at := func(c, r int) float32 {
		return sh.v[max(0, min(sh.rows-1, r))*sh.cols+max(0, min(sh.cols-1, c))]
	}
	for r := range sh.rows {
		for c := range sh.cols {
			m := (at(c-1, r) + at(c+1, r) + at(c, r-1) + at(c, r+1)) / 4
			v := at(c, r)
			out.v[r*sh.cols+c] = v + k*(v-m)
		}
	}
	return out
}

// A plane is a shade that changes linearly over the symbol: uneven light.
type plane struct{ a, b, c float64 }

func (p plane) at(u, v float64) float32 { return float32(p.a + p.b*(u-0.5) + p.c*(v-0.5)) }

func (p plane) lifted(by float64) plane { return plane{p.a + by, p.b, p.c} }

// fitPlane lays a plane through shades at places of the unit square.
func fitPlane(u, v []float64, z []float32) plane {
	n := float64(len(z))
	if n == 0 {
		return plane{}
	}
	var mean, suu, suv, svv, suz, svz, mu, mv float64
	for i := range z {
		mean += float64(z[i]) / n
		mu += u[i] / n
		mv += v[i] / n
	}
	for i := range z {
		du, dv, dz := u[i]-mu, v[i]-mv, float64(z[i])-mean
		suu += du * du
		suv += du * dv
		svv += dv * dv
		suz += du * dz
		svz += dv * dz
	}
	// Damped, so that probes along one line don't tip the plane.
	suu += 0.02 * n
	svv += 0.02 * n
	det := suu*svv - suv*suv
	if n < 6 || math.Abs(det) < 1e-12 {
		return plane{a: mean}
	}
	p := plane{b: (suz*svv - svz*suv) / det, c: (svz*suu - suz*suv) / det}
	p.a = mean - p.b*(mu-0.5) - p.c*(mv-0.5)
	return p
}

// index is that of the module in which a place lies.
func (sh shades) index(u, v float64) int {
	return int(v*float64(sh.rows))*sh.cols + int(u*float64(sh.cols))
}

// A cut is a symbol's modules in dark and light, and how far each of them can be
// trusted: 0 not at all, in no unit.
type cut struct {
	m     *gozxing.BitMatrix
	trust []float32
}

// cut cuts at the middle between dark and light.
func (sh shades) cut(l levels) cut {
	m, err := gozxing.NewBitMatrix(sh.cols, sh.rows)
	if err != nil {
		return cut{}
	}
	out := cut{m, make([]float32, len(sh.v))}
	for r := range sh.rows {
		for c := range sh.cols {
			k := r*sh.cols + c
			d := sh.v[k] - l.mid.at((float64(c)+0.5)/float64(sh.cols), (float64(r)+0.5)/float64(sh.rows))
			switch {
			case d < 0:
				m.Set(c, r)
				out.trust[k] = -d
			default:
				out.trust[k] = d
			}
			if l.glare != nil {
				out.trust[k] *= l.glare[k]
			}
		}
	}
	return out
}

// variants are the ways to cut shades into dark and light, likeliest first.
func (sh shades) variants(l levels, probes []probe) []cut {
	out := []cut{sh.cut(l)}
	for _, k := range []float32{0.5, 1.1} {
		sharp := sh.sharpen(k)
		out = append(out, sharp.cut(sharp.levels(probes)))
	}
	// By the neighbourhood; glare shows there as a want of contrast.
	return append(out, sh.local(2).cut(levels{}), sh.sharpen(0.5).local(3).cut(levels{}))
}

// local subtracts from each module the mid shade of its neighbourhood, for
// glare and stains that no plane follows; cut at zero.
func (sh shades) local(radius int) shades {
	out := shades{sh.cols, sh.rows, make([]float32, len(sh.v))}
	for r := range sh.rows {
		for c := range sh.cols {
			lo, hi := float32(math.Inf(1)), float32(math.Inf(-1))
			for j := max(0, r-radius); j <= min(sh.rows-1, r+radius); j++ {
				for _, v := range sh.v[j*sh.cols+max(0, c-radius) : j*sh.cols+min(sh.cols, c+radius+1)] {
					lo, hi = min(lo, v), max(hi, v)
				}
			}
			out.v[r*sh.cols+c] = sh.v[r*sh.cols+c] - (lo+hi)/2
		}
	}
	return out
}
