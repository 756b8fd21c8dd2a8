package picture

import (
	"math"
	"sync"
)

// How a blurred bar code is read, in barmodel.go, barkinds.go, barstart.go,
// barbeam.go and barlikely.go: where blur has run narrow bars together there are
// no edges left to measure, but each word still leaves its own shade. So the
// shade along a line is taken as the symbol's bars, blurred by a kernel of
// unknown width, times an unknown contrast, plus noise; and the words are sought
// that make this most likely (maximum likelihood sequence estimation, as in
// receivers of data over channels whose symbols run into each other; the search
// keeps the best few beginnings, each with its own clock and contrast, which is
// known as per-survivor processing).

const (
	binsPerModule = 4
	// lagBins is how far behind a word's own end it is judged: nearer to the
	// end, the next word's blur shows.
	lagBins = 2 * binsPerModule
	// tailBins is how far the blur of a word is followed beyond its end.
	tailBins = 4 * binsPerModule
)

// A blur is what a point of light is spread to along the line: a bell of a
// standard deviation, and a box of a width, as motion makes it. Gain is how much
// wider ink has made the bars. All in modules.
type blur struct{ bell, box, gain float64 }

// blurs are those that are tried. Wider ones leave nothing to tell the words by.
var blurs = [...]blur{
	{0.25, 0, 0},
	{0.35, 0, 0},
	{0.45, 0, 0},
	{0.55, 0, 0},
	{0.65, 0, 0},
	{0.75, 0, 0},
	{0.85, 0, 0},
	{0.95, 0, 0},
	{1.07, 0, 0},
	{0.3, 1.2, 0},
	{0.3, 1.7, 0},
	{0.35, 2.2, 0},
	{0.3, 0, 0.25},
	{0.5, 0, 0.25},
	{0.7, 0, 0.25},
	{0.9, 0, 0.25},
	{0.3, 0, -0.25},
	{0.5, 0, -0.25},
	{0.7, 0, -0.25},
	{0.9, 0, -0.25},
}

// edgeBins is how far the blur of an edge is followed, to where nothing changes
// any more.
const edgeBins = tailBins + 2

// An edge is what a step from light to dark is blurred to: how dark the bins are
// before it and behind it.
type edge [2*edgeBins + 1]float32

// at is how dark a bin is, counted from the edge.
func (e *edge) at(bin int) float32 { return e[max(0, min(2*edgeBins, bin+edgeBins))] }

// edge is an edge moved by so many modules.
func (b blur) edge(moved float64) *edge {
	const h = 1.0 / binsPerModule
	var e edge
	for i := range e {
		x := float64(i-edgeBins)*h - moved
		e[i] = float32((b.dark(x+h) - b.dark(x)) / h)
	}
	return &e
}

// dark is the sum of the darkness that an edge at 0 leaves up to x.
func (b blur) dark(x float64) (sum float64) {
	n := 1
	if b.box > 0 {
		n = 8
	}
	for i := range n {
		y := x - ((float64(i)+0.5)/float64(n)-0.5)*b.box
		sum += y*0.5*math.Erfc(-y/b.bell/math.Sqrt2) + b.bell*math.Exp(-y*y/(2*b.bell*b.bell))/math.Sqrt(2*math.Pi)
	}
	return sum / float64(n)
}

// An ink is how dark a word is in each bin, from lagBins before its begin to
// tailBins behind its end: 0 is the label, 1 a wide bar. Sum and square are the sums of dark and of dark² up to
// lagBins before its end.
type ink struct {
	dark        []float32
	sum, square float32
}

// An alphabet is a set of words of one width; each is given as widths in
// modules, of a bar, a space, a bar and so on, in multiples of a bin. The first
// bar may be 0 wide.
type alphabet struct {
	bins  int // the width
	words [][]float64
	once  [len(blurs)]sync.Once
	inks  [len(blurs)][]ink
}

// newAlphabet takes the width from the first word.
func newAlphabet(words [][]float64) *alphabet {
	var modules float64
	for _, w := range words[0] {
		modules += w
	}
	return &alphabet{bins: int(math.Round(modules * binsPerModule)), words: words}
}

// blurred are the alphabet's words under blur k.
func (a *alphabet) blurred(k int) []ink {
	a.once[k].Do(func() {
		begin, end := blurs[k].edge(-blurs[k].gain/2), blurs[k].edge(blurs[k].gain/2)
		for _, w := range a.words {
			a.inks[k] = append(a.inks[k], inkOf(w, a.bins, begin, end))
		}
	})
	return a.inks[k]
}

func inkOf(widths []float64, bins int, begin, end *edge) ink {
	out := ink{dark: make([]float32, lagBins+bins+tailBins)}
	at := lagBins
	for i, w := range widths {
		to := at + int(math.Round(w*binsPerModule))
		if i%2 == 0 && to > at {
			for k := range out.dark {
				out.dark[k] += begin.at(k-at) - end.at(k-to)
			}
		}
		at = to
	}
	for _, d := range out.dark[:bins] {
		out.sum += d
		out.square += d * d
	}
	return out
}

// A ribbon is a profile that gives means over any stretch of it.
type ribbon struct{ sum []float64 }

func ribbonOf(v []float32) ribbon {
	r := ribbon{make([]float64, len(v)+1)}
	for i, x := range v {
		r.sum[i+1] = r.sum[i] + float64(x)
	}
	return r
}

func (r ribbon) until(x float64) float64 {
	n := len(r.sum) - 1
	switch {
	case x <= 0:
		return x * r.sum[1]
	case x >= float64(n):
		return r.sum[n] + (x-float64(n))*(r.sum[n]-r.sum[n-1])
	}
	i := int(x)
	return r.sum[i] + (x-float64(i))*(r.sum[i+1]-r.sum[i])
}

// bins fills out with the means over stretches of a width, from x on; both in
// samples of the profile.
func (r ribbon) bins(x, width float64, out []float32) {
	before := r.until(x)
	k := 1 / width
	for i := range out {
		x += width
		v := r.until(x)
		out[i] = float32((v - before) * k)
		before = v
	}
}
