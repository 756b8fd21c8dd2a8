package picture

import (
	"math"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"
)

// rowReader is what gozxing's linear readers have in common.
type rowReader interface {
	DecodeRow(rowNumber int, row *gozxing.BitArray, hints map[gozxing.DecodeHintType]interface{}) (*gozxing.Result, error)
}

// A barReader reads one region of bars. Every reading is a vote; a symbol is
// believed when strips at different heights agree on it.
type barReader struct {
	s      *search
	reg    barRegion
	votes  map[[2]string]*ballot
	rows   map[string]*stackedRow
	halves [2]map[omniPart]*ballot
	ends   [2]ends128 // as read along the region, and against it
	hope   int        // strips in which something looked like a symbol
	alike  float64    // what alongBars found, plus 2, or 0
}

// A ballot counts the strips that agree on one text and keeps where they
// crossed it.
type ballot struct {
	strips map[int]bool
	need   int
	ends   [][2]Point
}

// bars looks for linear symbols on one level.
func (s *search) bars(level, most int) {
	f := s.field(level)
	var seen []barRegion
	for _, r := range f.barRegions(level) {
		if s.stopped() || len(seen) >= most {
			return
		}
		if s.taken(r.centre) {
			continue
		}
		seen = append(seen, r)
		for _, src := range []*search{s, nil} {
			if src == nil {
				src = s.inverse()
			}
			b := &barReader{s: src, reg: r, votes: map[[2]string]*ballot{}, rows: map[string]*stackedRow{}}
			if b.read() {
				break
			}
		}
	}
}

// read reports whether something was believed. What was seen and not believed is
// kept as evidence, should there be other pictures of the same.
func (b *barReader) read() bool {
	if b.strips() || b.joinEnds() {
		return true
	}
	if b.hope > 0 {
		b.s.keepBars(b)
	}
	return false
}

// joinEnds puts a Code 128 together that no line crosses whole.
func (b *barReader) joinEnds() bool {
	if len(b.votes) > 0 {
		return false
	}
	for i := range b.ends {
		e := &b.ends[i]
		id, text, ok := join128(e.forward.words(), e.back.words(), length128(&e.forward, &e.back))
		if ok {
			b.s.add(Symbol{Symbology: id, Text: text, Corners: b.corners(&ballot{ends: [][2]Point{{e.forward.at, e.back.at}}})})
			return true
		}
	}
	return false
}

// someHope is how often something has to look like a symbol for a region to be
// looked at further, if its lines aren't alike.
const someHope = 2

// strips tries lines at several heights, thin ones first, then thick and
// sharpened ones; it reports whether something was believed.
func (b *barReader) strips() bool {
	r := b.reg
	smp := sampler{g: b.s.levels[max(0, r.level-1)], scale: 1 / float64(int(1)<<max(0, r.level-1))}
	pixel := float64(int(1) << max(0, r.level-1))
	type pass struct {
		thick   float64 // picture pixels
		sharpen float32
		turn    float64 // radians off the region's mean direction
	}
	passes := []pass{
		{2 * pixel, 0, 0},
		{min(8*pixel, r.height*0.3), 0.7, 0},
		{min(20*pixel, r.height*0.5), 1.5, 0},
		{4 * pixel, 0.7, 0.05},
		{4 * pixel, 0.7, -0.05},
	}
	heights := []float64{0.05, -0.25, 0.3, -0.5, 0.55, -0.75, 0.8}
	strip := 0
	for i, p := range passes {
		if i > 0 && b.hope < someHope && (b.hope == 0 && (i > 1 || b.s.positive != nil) || !b.alongBars(&smp)) {
			return false // print, or a texture
		}
		quiet := true // no edges at all: no use going on
		for k, h := range heights {
			if b.s.stopped() {
				return false
			}
			if k > len(heights)/2 && b.hope == 0 {
				break
			}
			strip++
			n := b.strip(&smp, h*r.height, p.thick, p.sharpen, p.turn, strip)
			quiet = quiet && n < 20
			if b.elect() {
				return true
			}
		}
		if i == 0 && b.s.positive == nil && b.blurred(&smp) {
			return true
		}
		if quiet {
			return false
		}
	}
	return false
}

// line is the shade along a line through the whole region, turned off its
// direction, and offset along the bars.
func (b *barReader) line(smp *sampler, offset, thick, turn float64) profile {
	r := b.reg
	ext := r.reach*1.12 + float64(int(12)<<r.level)
	rise := ext * (r.slant + math.Tan(turn))
	return profileOf(smp, r.at(-ext, offset-rise), r.at(ext, offset+rise), r.along(), thick)
}

// strip reads one line; it returns how many runs it crossed.
func (b *barReader) strip(smp *sampler, offset, thick float64, sharpen float32, turn float64, id int) int {
	p := b.line(smp, offset, thick, turn)
	most := 0
	swings := []float32{0.18}
	if sharpen > 0 {
		swings = []float32{0.12, 0.25}
	}
	for _, swing := range swings {
		q := p
		if sharpen > 0 {
			// Sharpen at the distance of about one module.
			e := p.edges(swing)
			if e.len() < 9 {
				continue
			}
			q = p.sharpen(sharpen, max(1, int(e.narrow(e.len()/2)+0.5)))
		}
		e := q.edges(swing)
		most = max(most, e.len())
		if e.len() < 20 {
			continue
		}
		b.runs(e, p, id)
	}
	return most
}

func (b *barReader) runs(e runs, p profile, strip int) {
	for dir, r := range [2]runs{e, e.reversed()} {
		place := func(at float64) Point {
			if dir == 1 {
				at = e.at[len(e.at)-1] + e.at[0] - at
			}
			return lerp(p.from, p.to, at/float64(len(p.v)))
		}
		b.code128(r, place, strip, dir)
		b.pieces(r, place, strip)
		b.dataBar(r, place, strip, dir)
	}
}

func (b *barReader) code128(r runs, place func(float64) Point, strip, dir int) {
	for _, i := range starts128(r) {
		words, used, ok := snap128(r, i)
		if used >= 18 { // three characters
			b.hope++
		}
		if !ok {
			if used >= 18 && r.clearBefore(i) {
				b.ends[dir].start(words, place(r.at[i]), (r.at[i+6]-r.at[i])/11, strip)
			}
			continue
		}
		if !r.clearAround(i, used) {
			continue
		}
		if id, text, err := code128Text(words); err == nil && text != "" {
			b.vote(id, text, place(r.at[i]), place(r.at[i+used]), strip, 2)
		}
	}
	for _, i := range stops128(r) {
		if words, used := snapBack128(r, i); used >= 18 {
			b.ends[dir].stop(words, place(r.at[i]), (r.at[i+6]-r.at[i])/11, strip)
		}
	}
}

// clearBefore says whether there is clear space before run i.
func (r runs) clearBefore(i int) bool { return i == 0 || r.width(i-1) > 4*(r.at[i+6]-r.at[i])/11 }

// clearAround says whether a Code 128 of so many runs from run i on can be
// believed. A short one is easily seen in a part of something else: it needs
// two characters between start and check, and with less than six clear space
// on both sides. (The standard wants ten modules of it, but packs often leave
// less, so long ones need none.)
func (r runs) clearAround(i, used int) bool {
	const few, short = 4*6 + 7, 8*6 + 7
	if used < few {
		return false
	}
	clear := 4 * (r.at[i+6] - r.at[i]) / 11
	before := r.clearBefore(i)
	after := i+used >= r.len() || r.width(i+used) > clear
	return used >= short || before && after
}

// pieces reads the kinds that have no start character to speak of: what lies
// between two quiet zones must have exactly the right number of runs.
func (b *barReader) pieces(r runs, place func(float64) Point, strip int) {
	for _, p := range r.pieces() {
		n := p.len()
		var reader gozxing.Reader
		need := 2
		switch {
		case n == 59:
			reader = oned.NewEAN13Reader()
		case n == 43:
			reader, need = oned.NewEAN8Reader(), 3
		case n == 33:
			reader, need = oned.NewUPCEReader(), 3
		case n == 77:
			reader = oned.NewITFReader()
		case n >= 49 && n%10 == 9 && looksCode39(p):
			reader = oned.NewCode39Reader()
		default:
			continue
		}
		b.hope++
		from, to := place(p.at[0]), place(p.at[n])
		for _, bias := range []float64{0, -0.25, 0.25} {
			if b.row(reader, p.row(bias), p, from, to, strip, need) {
				break
			}
		}
	}
}

// looksCode39 says whether the first and last character are the asterisk:
// narrow, wide space, narrow, narrow, wide bar, narrow, wide bar, narrow,
// narrow (ISO/IEC 16388).
func looksCode39(p runs) bool {
	wide := [9]bool{1: true, 4: true, 6: true}
	for _, at := range [2]int{0, p.len() - 9} {
		var narrowMax, wideMin float64 = 0, math.Inf(1)
		for k := range 9 {
			if wide[k] {
				wideMin = min(wideMin, p.width(at+k))
			} else {
				narrowMax = max(narrowMax, p.width(at+k))
			}
		}
		if wideMin < 1.1*narrowMax {
			return false
		}
	}
	return true
}

// dataBar looks for the kinds of GS1 DataBar.
func (b *barReader) dataBar(r runs, place func(float64) Point, strip, dir int) {
	b.limited(r, place, strip)
	b.expanded(r, place, strip, dir)
	b.omni(r, place, strip, dir)
}

// row hands a row to one of gozxing's readers and counts what it says.
// Where measured runs are given, the text is drawn again and has to come out
// like them.
func (b *barReader) row(reader gozxing.Reader, row *gozxing.BitArray, measured runs, from, to Point, strip, need int) bool {
	rr, ok := reader.(rowReader)
	if !ok || row == nil {
		return false
	}
	res, err := guarded(func() (*gozxing.Result, error) { return rr.DecodeRow(0, row, nil) })
	if err != nil || res == nil {
		return false
	}
	id, text, ok := linearText(res)
	if !ok || measured.len() > 0 && !drawnAlike(measured, res) {
		return false
	}
	b.vote(id, text, from, to, strip, need)
	return true
}

// vote counts a strip for a text; need is how many have to agree on it.
func (b *barReader) vote(id, text string, from, to Point, strip, need int) {
	k := [2]string{id, text}
	v := b.votes[k]
	if v == nil {
		v = &ballot{strips: map[int]bool{}, need: need}
		b.votes[k] = v
	}
	if !v.strips[strip] {
		v.strips[strip] = true
		v.ends = append(v.ends, [2]Point{from, to})
	}
}

// elect believes the text that enough strips agree on, if no other text in the
// same place has nearly as many.
func (b *barReader) elect() bool {
	for k, v := range b.votes {
		if len(v.strips) < v.need {
			continue
		}
		rival := 0
		for o, w := range b.votes {
			if o != k {
				rival = max(rival, len(w.strips))
			}
		}
		if rival > 0 && len(v.strips) < 3*rival+1 {
			continue
		}
		b.s.add(Symbol{Symbology: k[0], Text: k[1], Corners: b.corners(v)})
		return true
	}
	return false
}

// corners bounds the bars: the ends of the strips, drawn out to the height of
// the region.
func (b *barReader) corners(v *ballot) [4]Point {
	var l, r Point
	n := float64(len(v.ends))
	for _, e := range v.ends {
		l.X += e[0].X / n
		l.Y += e[0].Y / n
		r.X += e[1].X / n
		r.Y += e[1].Y / n
	}
	al := b.reg.along()
	// Onto the region's middle line.
	mid := func(p Point) Point {
		dx, dy := b.reg.centre.X-p.X, b.reg.centre.Y-p.Y
		o := dx*al.X + dy*al.Y - b.reg.slant*(dx*b.reg.across.X+dy*b.reg.across.Y)
		return Point{p.X + o*al.X, p.Y + o*al.Y}
	}
	l, r = mid(l), mid(r)
	h := b.reg.height
	if (r.X-l.X)*al.Y-(r.Y-l.Y)*al.X < 0 {
		h = -h
	}
	return [4]Point{
		{l.X - h*al.X, l.Y - h*al.Y},
		{r.X - h*al.X, r.Y - h*al.Y},
		{r.X + h*al.X, r.Y + h*al.Y},
		{l.X + h*al.X, l.Y + h*al.Y},
	}
}
