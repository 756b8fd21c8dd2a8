package picture

import (
	"cmp"
	"math"
	"slices"
)

// A barStart is one word, under one blur, that may begin at a place, with the
// shades that suit it best.
type barStart struct {
	at, module      float64 // in samples
	word, blur      int
	contrast, light float64
	cost            float64
}

const (
	// leastModule is the narrowest module, in samples of the profile.
	leastModule = 1.5
	// likeliest is how many starts are looked at with all blurs.
	likeliest = 60
)

// coarseBlurs are the blurs that all places are tried with; a kind that has many
// words to begin with gets by with one.
var coarseBlurs = [...]int{6, 2, 10}

// starts looks for the beginnings of symbols of one kind: at the edges given, in
// samples, each with clear space before it, for all widths of a module that the
// ends leave. The likeliest are returned, best first.
func (s *barSearch) starts(k *barKind, begins, ends []float64, contrast float64) []barPath {
	coarseBlurs := coarseBlurs[:]
	if len(k.lead.words) > 50 {
		coarseBlurs = coarseBlurs[:1]
	}
	s.found = s.found[:0]
	for _, x := range begins {
		for _, m := range modulesOf(k, x, ends) {
			s.startsAt(k, x, m, contrast, coarseBlurs, -1)
		}
		if s.stopped() || *s.budget <= 0 {
			return nil
		}
	}
	slices.SortFunc(s.found, func(a, b barStart) int { return cmp.Compare(a.cost, b.cost) })
	coarse := slices.Clone(s.found[:min(likeliest, len(s.found))])
	s.found = s.found[:0]
	all := make([]int, len(blurs))
	for i := range all {
		all[i] = i
	}
	for _, c := range coarse {
		s.startsAt(k, c.at, c.module, contrast, all, c.word)
	}
	slices.SortFunc(s.found, func(a, b barStart) int { return cmp.Compare(a.cost, b.cost) })
	var out []barPath
	bins := k.clear*binsPerModule + k.lead.bins - lagBins
	for _, f := range s.found[:min(likeliest, len(s.found))] {
		f = s.settledStart(k, f)
		// Nearly the same may have been reached from another place.
		if math.Sqrt(f.cost/float64(bins)) > 2*roughLine*f.contrast || slices.ContainsFunc(out, func(p barPath) bool {
			return p.blur == f.blur && p.words[0] == byte(f.word) && math.Abs(p.begin-f.at) < 0.1*f.module
		}) {
			continue
		}
		out = append(out, barPath{
			kind: k, blur: f.blur, words: []byte{byte(f.word)}, hash: uint64(f.word) + 1,
			begin: f.at, module: f.module, at: f.at + float64(k.lead.bins)/binsPerModule*f.module,
			contrast: f.contrast, light: f.light, cost: f.cost, bins: bins,
			tail: k.lead.blurred(f.blur)[f.word].dark[k.lead.bins:],
		})
	}
	slices.SortFunc(out, func(a, b barPath) int { return cmp.Compare(a.cost, b.cost) })
	return out[:min(beamWidth, len(out))]
}

// startDrift is how far off the first guess of a start may be.
var startDrift = drift{0.4, 0.04, 0.3, 0.3}

// settledStart is a start with clock and shades moved to where it fits best.
func (s *barSearch) settledStart(k *barKind, f barStart) barStart {
	before := k.clear * binsPerModule
	n := before + k.lead.bins - lagBins
	ink := k.lead.blurred(f.blur)[f.word].dark
	y, e, dark := s.window[:n], s.error[:n], s.dark[:n+2]
	for i := range dark {
		dark[i] = 0
		if j := i - 1 - before + lagBins; j >= 0 {
			dark[i] = ink[j]
		}
	}
	// Two steps of Gauss and Newton's method; the second one's cost is what it
	// will be, near enough.
	for range 2 {
		s.line.bins(f.at-float64(k.clear)*f.module, f.module/binsPerModule, y)
		cost := 0.0
		for i, v := range y {
			e[i] = v - float32(f.light) + float32(f.contrast)*dark[i+1]
			cost += float64(e[i]) * float64(e[i])
		}
		centre := float64(n)/2 - 0.5
		x, less := fitted(e, dark, f.contrast, centre, 1, startDrift)
		f.at += (x.place - x.module*(centre-float64(before))/binsPerModule) * f.module
		f.module *= 1 + x.module
		f.contrast = max(1, f.contrast+x.contrast)
		f.light += x.light
		f.cost = max(0, cost-less)
	}
	return f
}

// modulesOf lists widths of a module, in samples, that a symbol that begins at x
// may have.
func modulesOf(k *barKind, x float64, ends []float64) (out []float64) {
	if k.modules > 0 {
		for _, e := range ends {
			m := (e - x) / k.modules
			if m < leastModule {
				continue
			}
			for _, f := range [...]float64{0.92, 0.96, 1, 1.04, 1.08} {
				out = append(out, m*f)
			}
		}
		return out
	}
	if len(ends) == 0 {
		return nil
	}
	far := slices.Max(ends) - x
	for m := max(leastModule, far/500); m < far/60; m *= 1.04 {
		out = append(out, m)
	}
	return out
}

// dot is the sum of the products of y with as many of the numbers of d, in four
// sums, since each addition waits for the one before.
func dot(d, y []float32) float32 {
	var a, b, c, e float32
	for len(y) >= 4 && len(d) >= 4 {
		a += d[0] * y[0]
		b += d[1] * y[1]
		c += d[2] * y[2]
		e += d[3] * y[3]
		d, y = d[4:], y[4:]
	}
	for i, v := range y {
		a += d[i] * v
	}
	return a + b + (c + e)
}

// startsAt adds to s.found the words that may begin at x, or the one that is
// given, under some blurs. The shades are by regression.
func (s *barSearch) startsAt(k *barKind, x, m, contrast float64, blurs []int, only int) {
	clearBins := k.clear * binsPerModule
	n := clearBins + k.lead.bins - lagBins
	if n > len(s.window) {
		return
	}
	*s.budget -= 1 + len(blurs)*len(k.lead.words)/100
	y := s.window[:n]
	s.line.bins(x-float64(k.clear)*m, m/binsPerModule, y)
	var sum, square float64
	for _, v := range y {
		sum += float64(v)
		square += float64(v) * float64(v)
	}
	count := float64(n)
	spread := square - sum*sum/count
	if spread < 0.02*contrast*contrast*count {
		return
	}
	y = y[clearBins-lagBins:]
	for _, b := range blurs {
		inks := k.lead.blurred(b)
		for w := range inks {
			if only >= 0 && w != only {
				continue
			}
			both := float64(dot(inks[w].dark, y))
			dark := float64(inks[w].sum)
			inkSpread := float64(inks[w].square) - dark*dark/count
			both -= sum * dark / count
			c := -both / inkSpread
			if c < 0.5*contrast || c > 2*contrast {
				continue
			}
			cost := spread - both*both/inkSpread
			if cost > 4*4*roughLine*roughLine*c*c*count {
				continue
			}
			s.found = append(s.found, barStart{
				at: x, module: m, word: w, blur: b,
				contrast: c, light: (sum + c*dark) / count, cost: cost,
			})
		}
	}
}
