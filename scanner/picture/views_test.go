package picture_test

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lotbook/scanner/picture/internal/camera"
)

// A view is one way to look at a symbol.
type view struct {
	name  string
	pose  func(*camera.Pose)
	spoil func(*camera.Scene, camera.Pose)
	jpeg  int // quality, 0 for PNG
}

const degree = math.Pi / 180

func turned(degrees float64) func(*camera.Pose) {
	return func(p *camera.Pose) { p.Rotation = degrees * degree }
}

var views = []view{
	{name: "upright"},
	{name: "JPEG 90", jpeg: 90},
	{name: "JPEG 40", jpeg: 40},
	{name: "turned 90", pose: turned(90)},
	{name: "turned 180", pose: turned(180)},
	{name: "turned 270", pose: turned(270)},
	{name: "turned 7", pose: turned(7)},
	{name: "turned 20", pose: turned(20)},
	{name: "turned 45", pose: turned(45)},
	{name: "half size", pose: func(p *camera.Pose) { p.Module *= 0.6 }},
	{name: "double size", pose: func(p *camera.Pose) { p.Module *= 2 }},
	{name: "tilted", pose: func(p *camera.Pose) { p.TiltX, p.TiltY = 0.3, 0.25 }},
	{name: "low contrast", spoil: func(s *camera.Scene, _ camera.Pose) { s.Contrast(0.2, 120) }},
	{name: "dark", spoil: func(s *camera.Scene, _ camera.Pose) { s.Contrast(0.25, 10) }},
	{name: "inverted", spoil: func(s *camera.Scene, _ camera.Pose) { s.Invert() }},
	{name: "mirrored", pose: func(p *camera.Pose) { p.Mirror = true }},
	{name: "blurred", spoil: func(s *camera.Scene, p camera.Pose) { s.Blur(0.35 * p.Module) }},
	{name: "shaded", spoil: func(s *camera.Scene, _ camera.Pose) { s.Light(0.3, 1, 0.6) }},
	{name: "noisy", spoil: func(s *camera.Scene, _ camera.Pose) { s.Noise(8, 8) }},
}

// seenBy returns the symbol as that view shows it, as a PNG or JPEG.
func seenBy(t testing.TB, d drawn, v view) []byte {
	t.Helper()
	r := rand.New(rand.NewPCG(7, uint64(len(d.Name))))
	b := d.art.Bounds()
	p := camera.Pose{Module: 3.6, Dark: 45, Light: 215, Plain: 2}
	if !strings.HasPrefix(d.Symbology, "]d") && !strings.HasPrefix(d.Symbology, "]Q") {
		p.Module = 2.4
	}
	if v.pose != nil {
		v.pose(&p)
	}
	w, h := float64(b.Dx())/d.Scale*p.Module, float64(b.Dy())/d.Scale*p.Module
	side := int(math.Hypot(w, h)) + 50
	p.Centre = camera.Point{X: float64(side)/2 + 3.3, Y: float64(side)/2 - 2.6}
	s := camera.NewScene(side, side, 180, r)
	s.Place(d.art, d.Scale, p)
	s.Blur(0.4)
	if v.spoil != nil {
		v.spoil(s, p)
	}
	s.Noise(1, 1)
	if v.jpeg > 0 {
		out, err := s.JPEG(v.jpeg)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	var out bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(&out, s.Gray()); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// viewed are the symbols that are looked at from every view: one of each kind.
var viewed = []string{
	"dm", "dm-separators", "dm-rect", "dmre-20x44", "dm-plain", "128-separators", "128-plain",
	"39", "ean13", "ean8", "itf14", "databar", "databar-limited", "databar-expanded-gtin", "databar-expandedstacked-gtin",
	"qr-separators", "qr-plain",
}

func TestReadsFromEveryView(t *testing.T) {
	all := map[string]drawn{}
	for _, d := range drawnSymbols(t) {
		all[d.Name] = d
	}
	for _, v := range views {
		t.Run(v.name, func(t *testing.T) {
			t.Parallel()
			for _, name := range viewed {
				t.Run(name, func(t *testing.T) {
					d, ok := all[name]
					if !ok {
						t.Fatalf("no symbol %q", name)
					}
					wantOnly(t, decode(t, seenBy(t, d, v)), d)
				})
			}
		})
	}
}

// TestReadsFromAside looks at bars from so far aside and above that the label is no
// rectangle any more: no line square to the bars crosses them all.
func TestReadsFromAside(t *testing.T) {
	for _, name := range []string{"128-separators", "128-plain", "39", "ean13", "itf14"} {
		d := drawnNamed(t, name)
		for _, v := range []view{
			{pose: func(p *camera.Pose) { p.TiltX, p.TiltY = 0.7, 0.65 }},
			{pose: func(p *camera.Pose) { p.TiltX, p.TiltY, p.Rotation = 0.65, -0.6, 30*degree }},
		} {
			wantOnly(t, decode(t, seenBy(t, d, v)), d)
		}
	}
}

// TestReadsWithoutQuietZone cuts the artwork at the outermost modules, as a
// tight crop of a screenshot does.
func TestReadsWithoutQuietZone(t *testing.T) {
	for _, name := range []string{"dm", "dm-small", "dm-rect", "dm-eci-two", "dmre-20x44"} {
		d := drawnNamed(t, name)
		b := d.art.Bounds().Inset(int(2 * d.Scale))
		crop := image.NewGray(b)
		draw.Draw(crop, b, d.art, b.Min, draw.Src)
		var out bytes.Buffer
		if err := png.Encode(&out, crop); err != nil {
			t.Fatal(err)
		}
		t.Run(name, func(t *testing.T) { wantOnly(t, decode(t, out.Bytes()), d) })
	}
}
