package picture

import (
	"cmp"
	"math"
	"slices"
)

// A barPath is the beginning of a symbol as one guess has it: the words so far,
// and the clock and the shades that they were read with.
type barPath struct {
	kind     *barKind
	blur     int // index of blurs
	words    []byte
	hash     uint64    // of the words
	begin    float64   // where the symbol begins, in samples of the profile
	at       float64   // where the next word begins
	module   float64   // samples a module there
	light    float64   // the shade of the label there
	contrast float64   // light less dark
	cost     float64   // squared shades: what the words so far don't explain
	bins     int       // over so many
	misfits  []float32 // of the words but the lead, squared
	tail     []float32 // of the last word's blur, from lagBins before its end on
}

// noise is the variance of a shade, as far as can be told.
func (p *barPath) noise() float64 {
	return 1 + 4e-4*p.contrast*p.contrast + p.cost/float64(max(1, p.bins))
}

// A barReading is a whole symbol.
type barReading struct {
	symbology, text string
	from, to        float64 // in samples of the profile
	misfit          float64 // root mean square, as a share of the contrast
	votes           int     // how many lines have to agree
	lead            float64 // how much likelier than the next text, in nats
}

// A barSearch looks for the likeliest symbol along one line.
type barSearch struct {
	line    ribbon
	samples int
	stopped func() bool
	budget  *int // counted down: how much may still be tried
	window  [200]float32
	resid   [200]float32
	error   [200]float32
	dark    [202]float32
	costs   []wordCost
	found   []barStart
}

type wordCost struct {
	word int
	cost float64
}

const (
	// beamWidth is how many beginnings are kept, refined how many words are
	// tried with a clock and shades of their own, and twins how many may have
	// the same words.
	beamWidth = 24
	refined   = 8
	twins     = 3
	mostWords = 60
)

// A symbol is believed if the misfit of the whole is at most roughLine, that of
// each word at most roughWord, as shares of the contrast, and not much more than
// that of most (what glare or dirt covers stands out, though a wrong word may fit
// it), and no other text comes nearer than leastLead, in nats. Of 369 readings of
// lines that were blurred, cut and covered, many past what can be read, 320 were
// right; 267 of those pass, and none of the 49 wrong ones, nor would any with half
// of the demands on single words taken away.
const (
	roughLine = 0.045
	roughWord = 0.075
	uneven    = 3 // times the middle of the words' misfits, and 0.01
	leastLead = 20
)

// read follows the beginnings, all of one kind, to the end of the symbol.
func (s *barSearch) read(paths []barPath) (barReading, bool) {
	var done []barPath
	for place := 0; len(paths) > 0 && place < mostWords; place++ {
		if s.stopped() || *s.budget <= 0 {
			return barReading{}, false
		}
		var next []barPath
		for i := range paths {
			p := &paths[i]
			if p.at > float64(s.samples) {
				continue
			}
			if stop := p.kind.stop(len(p.words)); stop != nil {
				if _, _, ok := p.kind.text(p.words); ok {
					done = s.extend(p, stop, p.kind.clear*binsPerModule+lagBins, done)
				}
			}
			if a := p.kind.next(place); a != nil {
				next = s.extend(p, a, 0, next)
			}
		}
		paths = best(next)
		if len(paths) > 0 && paths[0].misfit() > 1.5*roughLine {
			break
		}
	}
	return s.choose(done)
}

func (p *barPath) misfit() float64 {
	return math.Sqrt(p.cost/float64(max(1, p.bins))) / max(1, p.contrast)
}

// best are the cheapest paths, not too many with the same words.
func best(paths []barPath) []barPath {
	slices.SortFunc(paths, func(a, b barPath) int { return cmp.Compare(a.cost, b.cost) })
	out := paths[:0]
	for _, p := range paths {
		same := 0
		for i := range out {
			if out[i].hash == p.hash {
				same++
			}
		}
		if same < twins {
			out = append(out, p)
		}
		if len(out) == beamWidth {
			break
		}
	}
	return out
}

// extend appends to out the likeliest ways to go on from p by a word of an
// alphabet. Behind the last word, more bins of clear space are judged with it.
func (s *barSearch) extend(p *barPath, a *alphabet, more int, out []barPath) []barPath {
	*s.budget -= 1 + len(a.words)/50
	n := a.bins + more
	if n > len(s.window) {
		return out
	}
	y, r := s.window[:n], s.resid[:n]
	bin := p.module / binsPerModule
	s.line.bins(p.at-lagBins*bin, bin, y)
	light, contrast := float32(p.light), float32(p.contrast)
	var rest float32
	for i, v := range y {
		r[i] = light - v
		if i < len(p.tail) {
			r[i] -= contrast * p.tail[i]
		}
		rest += r[i] * r[i]
	}
	inks := a.blurred(p.blur)
	s.costs = s.costs[:0]
	for w := range inks {
		ink := &inks[w]
		dark := ink.dark[:min(n, len(ink.dark))]
		square := ink.square
		if more > 0 {
			square = dot(dark, dark)
		}
		s.costs = append(s.costs, wordCost{w, float64(rest - 2*contrast*dot(dark, r[:len(dark)]) + contrast*contrast*square)})
	}
	slices.SortFunc(s.costs, func(a, b wordCost) int { return cmp.Compare(a.cost, b.cost) })
	for _, c := range s.costs[:min(refined, len(s.costs))] {
		q := s.settled(p, &inks[c.word], r, c.cost, a.bins)
		if q.contrast < 0.3*p.contrast || q.module < 0.5*p.module {
			continue
		}
		q.words = append(append(make([]byte, 0, len(p.words)+1), p.words...), byte(c.word))
		q.hash = (p.hash + uint64(c.word) + 1) * 0x9E3779B97F4A7C15
		if more > 0 {
			q.words, q.hash = p.words, p.hash
		}
		out = append(out, q)
	}
	return out
}

// drift is how much clock and shades may change: standard deviations, in modules,
// shares of a module's width, and shares of the contrast.
type drift struct{ place, module, contrast, light float64 }

// wordDrift is from one word to the next.
var wordDrift = drift{0.12, 0.012, 0.05, 0.03}

// settled is p with one word more, with clock and shades moved to where the word
// fits best. What is left in r is light less the shade less the tail's.
func (s *barSearch) settled(p *barPath, ink *ink, r []float32, cost float64, bins int) barPath {
	dark := s.dark[:len(r)+2]
	for i := range dark {
		dark[i] = at(p.tail, i-1) + at(ink.dark, i-1)
	}
	e := s.error[:len(r)]
	for i, left := range r {
		e[i] = float32(p.contrast)*at(ink.dark, i) - left
	}
	x, less := fitted(e, dark, p.contrast, float64(bins)/2-0.5, p.noise(), wordDrift)
	cost = max(0, cost-less)
	q := *p
	q.cost += cost
	q.bins += len(r)
	q.misfits = append(append(make([]float32, 0, len(p.misfits)+1), p.misfits...), float32(cost/float64(len(r))/(p.contrast*p.contrast)))
	width := float64(bins) / binsPerModule
	q.at += (width + x.place + x.module*(width/2+lagBins/binsPerModule)) * p.module
	q.module *= 1 + x.module
	q.contrast += x.contrast
	q.light += x.light
	q.tail = ink.dark[bins:]
	return q
}

// fitted is by how much clock and shades are to be moved, and how much less of
// the squared error e is left then: a step of ridge regression on the model
//
//	shade = light - contrast * dark(place)
//
// The module is stretched around a bin, the centre. Dark begins a bin before e.
func fitted(e, dark []float32, contrast, centre, noise float64, sd drift) (x drift, less float64) {
	var g [4][4]float64
	var b [4]float64
	for i, v := range e {
		slope := contrast * float64(dark[i+2]-dark[i]) * binsPerModule / 2
		f := [4]float64{slope, slope * (float64(i) - centre) / binsPerModule, -float64(dark[i+1]), 1}
		for k := range 4 {
			b[k] += f[k] * float64(v)
			for l := 0; l <= k; l++ {
				g[k][l] += f[k] * f[l]
			}
		}
	}
	for k, sd := range [4]float64{sd.place, sd.module, sd.contrast * contrast, sd.light * contrast} {
		g[k][k] += noise / (sd * sd)
	}
	y := solve4(&g, &b)
	for k := range 4 {
		less += y[k] * b[k]
	}
	return drift{y[0], y[1], y[2], y[3]}, less
}

// at is a bin, where there are some; before the first it is as there.
func at(v []float32, i int) float32 {
	if i >= len(v) {
		return 0
	}
	return v[max(0, i)]
}

// solve4 solves a symmetric positive definite system, given by its lower half.
func solve4(g *[4][4]float64, b *[4]float64) (x [4]float64) {
	var l [4][4]float64
	for i := range 4 {
		for j := 0; j <= i; j++ {
			v := g[i][j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(max(v, 1e-12))
			} else {
				l[i][j] = v / l[j][j]
			}
		}
	}
	for i := range 4 {
		v := b[i]
		for k := range i {
			v -= l[i][k] * x[k]
		}
		x[i] = v / l[i][i]
	}
	for i := 3; i >= 0; i-- {
		v := x[i]
		for k := i + 1; k < 4; k++ {
			v -= l[k][i] * x[k]
		}
		x[i] = v / l[i][i]
	}
	return x
}

// choose takes the whole symbol that explains the line best, a bin, and says how
// far the next other text is behind.
func (s *barSearch) choose(done []barPath) (out barReading, ok bool) {
	slices.SortFunc(done, func(a, b barPath) int {
		return cmp.Compare(a.cost/float64(a.bins), b.cost/float64(b.bins))
	})
	if len(done) == 0 {
		return barReading{}, false
	}
	p := &done[0]
	if p.misfit() > roughLine || !p.even() {
		return barReading{}, false
	}
	out.symbology, out.text, ok = p.kind.text(p.words)
	out.from, out.to, out.misfit, out.votes, out.lead = p.begin, p.at, p.misfit(), p.kind.votes, math.Inf(1)
	for i := range done {
		q := &done[i]
		if _, t, _ := q.kind.text(q.words); t != out.text {
			n := float64(p.bins)
			// Bins of less than a sample are not independent.
			n *= min(1, p.module/binsPerModule)
			out.lead = 0.5 * n * math.Log(q.cost/float64(q.bins)/(p.cost/float64(p.bins)))
			break
		}
	}
	return out, ok && out.lead >= leastLead
}

// even says whether no word fits much worse than the others.
func (p *barPath) even() bool {
	m := slices.Sorted(slices.Values(p.misfits))
	worst, middle := math.Sqrt(float64(m[len(m)-1])), math.Sqrt(float64(m[len(m)/2]))
	return worst <= roughWord && worst <= uneven*middle+0.01
}
