package picture_test

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lotbook/scanner/picture"
)

// A drawn is one symbol of testdata/symbols.json: drawn by an independent
// encoder (bwip-js 4.11.4, see testdata/README.md), with the identifier and
// text that a reader must give.
type drawn struct {
	Name      string
	Symbology string
	Text      string
	Scale     float64 // pixels a module
	art       image.Image
	png       []byte
}

func drawnSymbols(t testing.TB) []drawn {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "symbols.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all []drawn
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	if len(all) < 40 {
		t.Fatalf("%d symbols in symbols.json, want at least 40", len(all))
	}
	for i := range all {
		d := &all[i]
		if d.png, err = os.ReadFile(filepath.Join("testdata", "symbols", d.Name+".png")); err != nil {
			t.Fatal(err)
		}
		if d.art, err = png.Decode(bytes.NewReader(d.png)); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

func drawnNamed(t testing.TB, name string) drawn {
	t.Helper()
	for _, d := range drawnSymbols(t) {
		if d.Name == name {
			return d
		}
	}
	t.Fatalf("no symbol %q in symbols.json", name)
	return drawn{}
}

func decode(t *testing.T, b []byte) []picture.Symbol {
	t.Helper()
	// No deadline: what is read must not depend on how busy the computer is.
	syms, err := picture.Decode(context.Background(), bytes.NewReader(b), picture.Options{Deadline: -1})
	if err != nil {
		t.Fatal(err)
	}
	return syms
}

func TestReadsEverySymbolOfTheEncoder(t *testing.T) {
	for _, d := range drawnSymbols(t) {
		t.Run(d.Name, func(t *testing.T) {
			wantOnly(t, decode(t, d.png), d)
		})
	}
}

// wantOnly fails unless exactly the given symbols were read, in any order.
func wantOnly(t *testing.T, got []picture.Symbol, want ...drawn) {
	t.Helper()
	left := append([]drawn(nil), want...)
	for _, g := range got {
		found := false
		for i, w := range left {
			if g.Symbology == w.Symbology && g.Text == w.Text {
				left = append(left[:i], left[i+1:]...)
				found = true
				break
			}
		}
		if !found {
			t.Errorf("read %s %q at %v, which isn't in the picture", g.Symbology, g.Text, g.Corners)
		}
	}
	for _, w := range left {
		t.Errorf("not read: %s %s %q", w.Name, w.Symbology, w.Text)
	}
}

// TestTrapsAreInTheCorpus makes sure that the symbols with the trap values are
// what they say, by computing the check character from the drawn widths.
func TestTrapsAreInTheCorpus(t *testing.T) {
	for name, want := range map[string]int{
		"128-check102": 102, "128-check97": 97, "128-check102-c": 102,
		"128-check102-separator": 102, "128-check97-separator": 97,
	} {
		if got := checkDrawn(t, drawnNamed(t, name)); got != want {
			t.Errorf("%s: the check character drawn is %d, want %d", name, got, want)
		}
	}
}

// checkDrawn measures the check character in the artwork: the widths of the
// last six runs before the stop pattern, looked up by the two values that the
// traps need (ISO/IEC 15417 table 1).
func checkDrawn(t *testing.T, d drawn) int {
	t.Helper()
	b := d.art.Bounds()
	y := b.Min.Y + b.Dy()/2
	var runs []int
	dark := false
	for x := b.Min.X; x < b.Max.X; x++ {
		r, _, _, _ := d.art.At(x, y).RGBA()
		if now := r < 0x8000; now != dark || len(runs) == 0 {
			runs = append(runs, 0)
			dark = now
		}
		runs[len(runs)-1]++
	}
	runs = runs[1 : len(runs)-1] // the quiet zones
	if len(runs)%6 != 1 {
		t.Fatalf("%s: %d runs, not a Code 128", d.Name, len(runs))
	}
	var widths strings.Builder
	for _, w := range runs[len(runs)-13 : len(runs)-7] {
		widths.WriteByte(byte('0' + int(math.Round(float64(w)/d.Scale))))
	}
	value, ok := map[string]int{"411131": 102, "411113": 97}[widths.String()]
	if !ok {
		t.Fatalf("%s: check character drawn as %s", d.Name, widths.String())
	}
	return value
}

// TestCornersBoundTheSymbol compares with where the encoder was told to draw:
// a quiet zone of 2 modules around a DataMatrix, 4 around a QR code.
func TestCornersBoundTheSymbol(t *testing.T) {
	for _, d := range drawnSymbols(t) {
		quiet := 2.0
		switch {
		case strings.HasPrefix(d.Symbology, "]Q"):
			quiet = 4
		case !strings.HasPrefix(d.Symbology, "]d"):
			continue
		}
		got := decode(t, d.png)
		if len(got) != 1 {
			t.Errorf("%s: %d symbols", d.Name, len(got))
			continue
		}
		q := quiet * d.Scale
		w, h := float64(d.art.Bounds().Dx()), float64(d.art.Bounds().Dy())
		for _, want := range [4]picture.Point{{X: q, Y: q}, {X: w - q, Y: q}, {X: w - q, Y: h - q}, {X: q, Y: h - q}} {
			nearest := math.Inf(1)
			for _, c := range got[0].Corners {
				nearest = min(nearest, math.Hypot(c.X-want.X, c.Y-want.Y))
			}
			if nearest > d.Scale {
				t.Errorf("%s: no corner within a module of %v: %v", d.Name, want, got[0].Corners)
			}
		}
	}
}

// TestCornersBoundTheBars compares with the first and last dark column of what
// the encoder drew. A frame around the bars is not part of what is read.
func TestCornersBoundTheBars(t *testing.T) {
	for _, d := range drawnSymbols(t) {
		if strings.HasPrefix(d.Symbology, "]Q") || strings.HasPrefix(d.Symbology, "]d") || strings.HasPrefix(d.Name, "itf14") {
			continue
		}
		got := decode(t, d.png)
		if len(got) != 1 {
			t.Errorf("%s: %d symbols", d.Name, len(got))
			continue
		}
		want := darkPart(d.art)
		left, right, top, bottom := math.Inf(1), 0.0, math.Inf(1), 0.0
		for _, c := range got[0].Corners {
			left, right, top, bottom = min(left, c.X), max(right, c.X), min(top, c.Y), max(bottom, c.Y)
		}
		if a, b := float64(want.Min.X), float64(want.Max.X); math.Abs(left-a) > 3*d.Scale || math.Abs(right-b) > 3*d.Scale {
			t.Errorf("%s: bars read from %.1f to %.1f, they go from %.0f to %.0f (%.0f pixels a module)", d.Name, left, right, a, b, d.Scale)
		}
		if a, b := float64(want.Min.Y), float64(want.Max.Y); top < a-12 || bottom > b+12 || bottom-top < 0.5*(b-a) {
			t.Errorf("%s: bars read from %.1f down to %.1f, they go from %.0f to %.0f", d.Name, top, bottom, a, b)
		}
	}
}

// darkPart bounds the dark pixels.
func darkPart(img image.Image) (r image.Rectangle) {
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if v, _, _, _ := img.At(x, y).RGBA(); v < 0x8000 {
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return r.Sub(b.Min)
}
