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

// threshold returns the shade half way between the known light and the known
// dark modules, at each place, and how many of the probes within the symbol
// fall on their side of it.
func (sh shades) threshold(probes []probe) (mid plane, agree float64) {
	var u, v [2][]float64
	var z [2][]float32
	for _, p := range probes {
		if p.u < 0 || p.v < 0 || p.u >= 1 || p.v >= 1 {
			continue
		}
		i := 0
		if p.dark {
			i = 1
		}
		u[i] = append(u[i], p.u)
		v[i] = append(v[i], p.v)
		z[i] = append(z[i], sh.at(p.u, p.v))
	}
	light, dark := fitPlane(u[0], v[0], z[0]), fitPlane(u[1], v[1], z[1])
	mid = plane{(light.a + dark.a) / 2, (light.b + dark.b) / 2, (light.c + dark.c) / 2}
	good, all := 0, 0
	for i := range 2 {
		for k := range z[i] {
			all++
			if (z[i][k] < mid.at(u[i][k], v[i][k])) == (i == 1) {
				good++
			}
		}
	}
	if all == 0 {
		return mid, 0
	}
	return mid, float64(good) / float64(all)
}

func (sh shades) at(u, v float64) float32 {
	return sh.v[int(v*float64(sh.rows))*sh.cols+int(u*float64(sh.cols))]
}

// matrix cuts at a plane.
func (sh shades) matrix(mid plane) *gozxing.BitMatrix {
	m, err := gozxing.NewBitMatrix(sh.cols, sh.rows)
	if err != nil {
		return nil
	}
	for r := range sh.rows {
		for c := range sh.cols {
			if sh.v[r*sh.cols+c] < mid.at((float64(c)+0.5)/float64(sh.cols), (float64(r)+0.5)/float64(sh.rows)) {
				m.Set(c, r)
			}
		}
	}
	return m
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
