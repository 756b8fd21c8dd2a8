package picture_test

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"io"
	"math/rand/v2"
	"testing"

	"lotbook/scanner/picture"
	"lotbook/scanner/picture/internal/camera"
)

// A spot is a place of glare: its middle and radii as shares of the symbol's
// width and height.
type spot struct{ x, y, rx, ry float64 }

// glareFrames are pictures of one symbol, each from another hand and under other
// glare.
func glareFrames(d drawn, module float64, spots ...spot) []image.Image {
	r := rand.New(rand.NewPCG(41, uint64(len(d.Name))))
	b := d.art.Bounds()
	w, h := float64(b.Dx())/d.Scale*module, float64(b.Dy())/d.Scale*module
	var out []image.Image
	for _, g := range spots {
		p := camera.Pose{
			Centre: camera.Point{X: w/2 + 40 + 9*r.Float64(), Y: h/2 + 40 + 9*r.Float64()}, Module: module * (0.9 + 0.2*r.Float64()),
			Rotation: 0.3 * (r.Float64() - 0.5), TiltX: 0.3 * (r.Float64() - 0.5), TiltY: 0.3 * (r.Float64() - 0.5),
			Dark: 35, Light: 205, Plain: 3,
		}
		s := camera.NewScene(int(w)+100, int(h)+100, 150, r)
		s.Place(d.art, d.Scale, p)
		c := camera.Point{X: p.Centre.X + (g.x-0.5)*w, Y: p.Centre.Y + (g.y-0.5)*h}
		s.Glare(c, g.rx*w, g.ry*h, 0, 400)
		s.Blur(0.6)
		s.Noise(2, 1)
		out = append(out, s.Gray())
	}
	return out
}

// TestGlareInEachFrame gives pictures of a symbol in none of which it can be read,
// and wants it from all of them.
func TestGlareInEachFrame(t *testing.T) {
	for name, tc := range map[string]struct {
		symbol string
		module float64
		spots  []spot
	}{
		"DataMatrix":                   {"dm", 4, []spot{{0.76, 0.3, 0.25, 0.25}, {0.42, 0.58, 0.2, 0.2}}},
		"DataMatrix, rectangle, three": {"dm-rect", 4, []spot{{0.25, 0.5, 0.15, 0.4}, {0.5, 0.5, 0.15, 0.4}, {0.75, 0.5, 0.15, 0.4}}},
		"QR":                           {"qr", 4, []spot{{0.56, 0.55, 0.18, 0.12}, {0.75, 0.68, 0.14, 0.2}}},
		"GS1-128 across all bars":      {"128-separators", 2.2, []spot{{0.35, 0.5, 0.09, 3}, {0.65, 0.5, 0.09, 3}}},
		"GS1-128, the ends":            {"128-separators", 2.2, []spot{{0.08, 0.5, 0.15, 3}, {0.92, 0.5, 0.15, 3}}},
	} {
		t.Run(name, func(t *testing.T) {
			d := drawnNamed(t, tc.symbol)
			frames := glareFrames(d, tc.module, tc.spots...)
			for i, f := range frames {
				alone, err := picture.Read(context.Background(), f, picture.Options{Deadline: -1})
				if err != nil || len(alone) > 0 {
					t.Fatalf("picture %d alone: %v, %v; it should be too bad to be read", i, alone, err)
				}
			}
			got, err := picture.ReadFrames(context.Background(), frames, picture.Options{Deadline: -1})
			if err != nil {
				t.Fatal(err)
			}
			wantOnly(t, got, d)
		})
	}
}

// TestFramesOfSeveralSymbols: what one picture shows is there once, and what two
// packs would show is not mixed.
func TestFramesOfSeveralSymbols(t *testing.T) {
	one := packOf(t, false, 4, drawnNamed(t, "dm"), drawnNamed(t, "128"))
	two := packOf(t, false, -7, drawnNamed(t, "dm"), drawnNamed(t, "ean13"))
	var told int
	got, err := picture.DecodeFrames(context.Background(), []io.Reader{bytes.NewReader(one), bytes.NewReader(two)},
		picture.Options{Deadline: -1, Found: func(picture.Symbol) { told++ }})
	if err != nil || told != 3 {
		t.Errorf("%v, and Found was told of %d, not 3", err, told)
	}
	wantOnly(t, got, drawnNamed(t, "dm"), drawnNamed(t, "128"), drawnNamed(t, "ean13"))
	for _, s := range got {
		if want := btoi(s.Symbology == "]E0"); s.Frame != want {
			t.Errorf("%s is said to be in picture %d, not %d", s.Symbology, s.Frame, want)
		}
	}
	twice := packOf(t, false, 15, drawnNamed(t, "dm"), drawnNamed(t, "dm"))
	got, err = picture.DecodeFrames(context.Background(), []io.Reader{bytes.NewReader(one), bytes.NewReader(twice)}, picture.Options{Deadline: -1})
	if err != nil {
		t.Fatal(err)
	}
	wantOnly(t, got, drawnNamed(t, "dm"), drawnNamed(t, "dm"), drawnNamed(t, "128"))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// TestFramesAreOfOneSymbol: two symbols of one size, each under glare, must not
// make a third one.
func TestFramesAreOfOneSymbol(t *testing.T) {
	a, b := drawnNamed(t, "dm"), drawnNamed(t, "dm-separators")
	x := glareFrames(a, 4, spot{0.65, 0.4, 0.25, 0.25})
	y := glareFrames(b, 4, spot{0.4, 0.6, 0.25, 0.25})
	got, err := picture.ReadFrames(context.Background(), append(x, y...), picture.Options{Deadline: -1})
	if err != nil || len(got) > 0 {
		t.Errorf("read %v, %v from halves of two symbols", got, err)
	}
}

func TestFramesRefuse(t *testing.T) {
	asPNG, asJPEG := photo(t)
	ctx := context.Background()
	if _, err := picture.DecodeFrames(ctx, nil, picture.Options{}); !errors.Is(err, picture.ErrFrames) {
		t.Errorf("no picture: %v", err)
	}
	if _, err := picture.ReadFrames(ctx, make([]image.Image, picture.MaxFrames+1), picture.Options{}); !errors.Is(err, picture.ErrFrames) {
		t.Errorf("too many pictures: %v", err)
	}
	var bad *picture.FrameError
	got, err := picture.DecodeFrames(ctx, []io.Reader{bytes.NewReader(asPNG), bytes.NewReader(asJPEG[:300])}, picture.Options{Deadline: -1})
	if !errors.As(err, &bad) || bad.Frame != 1 || !errors.Is(err, picture.ErrDamaged) || len(got) != 1 {
		t.Errorf("a damaged second picture: %d symbols, %v; want that of the first, and which is damaged", len(got), err)
	}
	img, err := png.Decode(bytes.NewReader(asPNG))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := picture.ReadFrames(ctx, []image.Image{img}, picture.Options{MaxPixels: 100}); !errors.Is(err, picture.ErrTooLarge) {
		t.Errorf("too large a picture: %v", err)
	}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := picture.ReadFrames(cancelled, []image.Image{img}, picture.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
