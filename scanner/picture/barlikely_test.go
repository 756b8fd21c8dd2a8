package picture

import (
	"encoding/json"
	"image"
	_ "image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// A row is what a linear symbol of the independent encoder's (testdata/README.md)
// looks like along a line: 1 where it is dark, so many pixels a module.
type barRow struct {
	name, symbology, text string
	scale                 float64
	dark                  []float64
}

// barRows are the linear symbols of testdata/symbols.json.
func barRows(t testing.TB) (out []barRow) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "symbols.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all []struct {
		Name, Symbology, Text string
		Scale                 float64
	}
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	for _, d := range all {
		if strings.Contains("]d1]d2]d8]Q1]Q3", d.Symbology) {
			continue
		}
		f, err := os.Open(filepath.Join("testdata", "symbols", d.Name+".png"))
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		g := grayOf(img)
		r := barRow{d.Name, d.Symbology, d.Text, d.Scale, make([]float64, g.w)}
		for x, v := range g.row(g.h / 2) {
			r.dark[x] = 1 - float64(v)/255
		}
		out = append(out, r)
	}
	if len(out) < 30 {
		t.Fatalf("%d linear symbols, want 30 at least", len(out))
	}
	return out
}

// seen is the row as a camera sees it: blurred by a bell of so many modules, with
// so many samples a module, noise in shades.
func (b barRow) seen(r *rand.Rand, bell, samples, contrast, noise float64) profile {
	step := b.scale / samples // pixels of the row
	sd := bell * b.scale
	reach := int(3*sd) + 1
	n := int(float64(len(b.dark)) / step)
	p := profile{to: Point{float64(n), 0}, v: make([]float32, n)}
	for i := range p.v {
		at := (float64(i) + 0.5) * step
		var dark, all float64
		for x := int(at) - reach; x <= int(at)+reach; x++ {
			d := (float64(x) + 0.5 - at) / sd
			w := math.Exp(-d * d / 2)
			dark += w * b.dark[max(0, min(len(b.dark)-1, x))]
			all += w
		}
		p.v[i] = float32(220 - contrast*dark/all + noise*r.NormFloat64())
	}
	return p
}

// likely says whether the row is of a kind that is read so, with clear space.
func (b barRow) likely() bool {
	return strings.Contains("]C0]C1]I1]E0", b.symbology) && b.name != "upce" && b.name != "itf14-bearer" || b.name == "39-hibc"
}

func (p profile) turned() profile {
	out := profile{p.to, p.from, make([]float32, len(p.v))}
	for i, v := range p.v {
		out.v[len(p.v)-1-i] = v
	}
	return out
}

func likeliestOf(p profile) (barReading, bool) {
	budget := barBudget
	return p.likeliest(func() bool { return false }, &budget)
}

// TestBlurredBars reads symbols whose narrow bars have run together: a bell of
// 0.75 modules leaves a twentieth of the contrast between bars and spaces of one
// module.
func TestBlurredBars(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	read := 0
	for _, row := range barRows(t) {
		if !row.likely() {
			continue
		}
		p := row.seen(r, 0.75, 3.3, 150, 0.7)
		for _, p := range []profile{p, p.turned()} {
			got, ok := likeliestOf(p)
			if !ok {
				t.Errorf("%s is not read", row.name)
				continue
			}
			if got.symbology != row.symbology || got.text != row.text {
				t.Errorf("%s: %s %q, want %s %q", row.name, got.symbology, got.text, row.symbology, row.text)
			}
			read++
		}
	}
	if read < 20 {
		t.Errorf("%d symbols tried, want 20 at least", read)
	}
}

// TestBlurredBarsAreNotMisread holds the rule that a wrong text is worse than
// none. What is seen is spoiled in one of several ways; whatever is read has to be
// what the encoder was given. LOTBOOK_LINES=6000 makes it a longer run.
func TestBlurredBarsAreNotMisread(t *testing.T) {
	rows := barRows(t)
	lines := 300
	if testing.Short() {
		lines = 60
	}
	if n, err := strconv.Atoi(os.Getenv("LOTBOOK_LINES")); err == nil {
		lines = n
	}
	read := 0
	for i := range lines {
		row, how, p := spoiledBars(rows, i)
		got, ok := likeliestOf(p)
		if !ok {
			continue
		}
		read++
		if got.text != row.text || got.symbology != row.symbology {
			t.Errorf("%d, %s, %s: read %s %q (misfit %.3f, lead %.0f)", i, row.name, how, got.symbology, got.text, got.misfit, got.lead)
		}
	}
	if read < lines/20 {
		t.Errorf("only %d of %d lines were read: this shows nothing", read, lines)
	}
	t.Logf("%d of %d lines read", read, lines)
}

// spoiledBars is a line over one of the rows, or what is left of it, and how it
// was spoiled; without text if it may not be read at all. All follows from a
// number.
func spoiledBars(rows []barRow, number int) (row barRow, how string, p profile) {
	r := rand.New(rand.NewPCG(uint64(number), barSeed))
	row = rows[r.IntN(len(rows))]
	for !row.likely() && r.IntN(4) > 0 {
		row = rows[r.IntN(len(rows))]
	}
	row.dark = append([]float64(nil), row.dark...)
	quiet := 10 * row.scale
	how = []string{"random bars", "cut", "half", "damaged", "as it is"}[number%5]
	switch how {
	case "random bars":
		row.text = ""
		for x := int(quiet); x < len(row.dark)-int(quiet); {
			for _, dark := range [2]float64{1, 0} {
				w := int(row.scale) * (1 + r.IntN(4))
				for k := x; k < min(x+w, len(row.dark)-int(quiet)); k++ {
					row.dark[k] = dark
				}
				x += w
			}
		}
	case "cut": // the label's end, or what lies over it
		row.text = ""
		from := int(quiet + (0.1+0.5*r.Float64())*float64(len(row.dark)))
		shade := float64(r.IntN(2))
		for x := from; x < len(row.dark); x++ {
			row.dark[x] = shade
		}
	case "half": // only the left or the right part, with clear space around
		row.text = ""
		from, to := 0, len(row.dark)/2
		if r.IntN(2) == 0 {
			from, to = to, len(row.dark)
		}
		for x := range row.dark {
			if x < from+int(quiet) || x >= to-int(quiet) {
				row.dark[x] = 0
			}
		}
	case "damaged": // glare or dirt over some modules
		for range 1 + r.IntN(3) {
			from, w := int(r.Float64()*float64(len(row.dark))), int(row.scale*(1+10*r.Float64()))
			shade := r.Float64()
			for x := from; x < min(from+w, len(row.dark)); x++ {
				row.dark[x] = shade
			}
		}
	}
	p = row.seen(r, 0.3+0.9*r.Float64(), 2+3*r.Float64(), 80+120*r.Float64(), 4*r.Float64()*r.Float64())
	return row, how, p
}

// barSeed is what the lines of TestBlurredBarsAreNotMisread follow from.
const barSeed = 20261126
