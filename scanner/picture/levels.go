package picture

import (
	"math"
	"slices"
)

// levels says how dark and how light a symbol's modules are.
type levels struct {
	mid   plane     // the shade half way between dark and light
	half  float32   // from there to either
	glare []float32 // of each module: 0 under glare, where it may be anything, a little beside it, else 1
	agree float64   // the share of the modules known beforehand, less those under glare, on their side of mid
}

// saturated is the shade from which on a camera sees white only.
const saturated = 249

// levels are taken from the probes within the symbol.
func (sh shades) levels(probes []probe) levels {
	inside := probes[:0:0]
	var k [2]known
	for _, p := range probes {
		if p.u >= 0 && p.v >= 0 && p.u < 1 && p.v < 1 {
			inside = append(inside, p)
			k[btoi(p.dark)].add(p, sh.v[sh.index(p.u, p.v)])
		}
	}
	if len(k[0].z) == 0 || len(k[1].z) == 0 {
		return levels{}
	}
	// What glare made light must not lift the dark level, nor the light one: at
	// first what is saturated, unless the label is, then what stands out.
	white := float32(math.Inf(1))
	if k[0].quantile(0.3) < saturated-8 {
		white = saturated
		k[0].below(plane{a: saturated})
		k[1].below(plane{a: saturated})
	}
	light, dark := k[0].plane(), k[1].plane()
	over := max(6, 0.06*(light.a-dark.a), 3.5*k[0].spread(light))
	if k[0].below(light.lifted(over))+k[1].below(light.lifted(-0.1*(light.a-dark.a))) > 0 {
		light, dark = k[0].plane(), k[1].plane()
	}
	out := levels{
		mid:   plane{(light.a + dark.a) / 2, (light.b + dark.b) / 2, (light.c + dark.c) / 2},
		half:  float32(light.a-dark.a) / 2,
		glare: sh.trusted(light.lifted(over), white),
	}
	good, hidden := 0, 0
	for _, p := range inside {
		switch k := sh.index(p.u, p.v); {
		case out.glare[k] < 1:
			hidden++
		case (sh.v[k] < out.mid.at(p.u, p.v)) == p.dark:
			good++
		}
	}
	if 5*hidden < 2*len(inside) { // else there is too little to go by
		out.agree = float64(good) / float64(len(inside)-hidden)
	}
	return out
}

// known are modules that should be all light or all dark, and their shades.
type known struct {
	u, v []float64
	z    []float32
}

func (k *known) add(p probe, shade float32) {
	k.u, k.v, k.z = append(k.u, p.u), append(k.v, p.v), append(k.z, shade)
}

func (k *known) plane() plane { return fitPlane(k.u, k.v, k.z) }

func (k *known) quantile(q float64) float32 {
	z := slices.Sorted(slices.Values(k.z))
	return z[int(q*float64(len(z)-1))]
}

// spread is the noise about a plane, by the median deviation (times 1.48: the
// standard deviation, if it is normal).
func (k *known) spread(p plane) float64 {
	d := make([]float64, len(k.z))
	for i, z := range k.z {
		d[i] = math.Abs(float64(z - p.at(k.u[i], k.v[i])))
	}
	slices.Sort(d)
	return 1.48 * d[len(d)/2]
}

// below drops what is lighter than a plane, unless that is nearly all, and says
// how many that were.
func (k *known) below(p plane) int {
	var left known
	for i, z := range k.z {
		if z < p.at(k.u[i], k.v[i]) {
			left.u, left.v, left.z = append(left.u, k.u[i]), append(left.v, k.v[i]), append(left.z, z)
		}
	}
	n := len(k.z) - len(left.z)
	if len(left.z) < 5 {
		return 0
	}
	*k = left
	return n
}

// besideGlare is how far a module next to glare can be trusted: its edges are soft.
const besideGlare = 0.2

// trusted finds the modules that are lighter than a plane or than white.
func (sh shades) trusted(p plane, white float32) []float32 {
	hit := make([]bool, len(sh.v))
	for k, v := range sh.v {
		c, r := k%sh.cols, k/sh.cols
		hit[k] = v >= white || v > p.at((float64(c)+0.5)/float64(sh.cols), (float64(r)+0.5)/float64(sh.rows))
	}
	out := make([]float32, len(hit))
	for k := range hit {
		c, r := k%sh.cols, k/sh.cols
		n := 0
		for y := max(0, r-1); y <= min(sh.rows-1, r+1); y++ {
			for x := max(0, c-1); x <= min(sh.cols-1, c+1); x++ {
				n += btoi(hit[y*sh.cols+x])
			}
		}
		switch {
		case hit[k]:
		case n >= 2:
			out[k] = besideGlare
		default:
			out[k] = 1
		}
	}
	return out
}
