package picture_test

import (
	"bytes"
	"context"
	"errors"
	"image/png"
	"math/rand/v2"
	"strings"
	"testing"

	"lotbook/scanner/picture"
	"lotbook/scanner/picture/internal/camera"
)

// packOf is a picture of a pack, 1100 by 700, with up to three symbols on it,
// each turned by its own angle in degrees.
func packOf(t testing.TB, clutter bool, degrees float64, symbols ...drawn) []byte {
	t.Helper()
	s := camera.NewScene(1100, 700, 165, rand.New(rand.NewPCG(3, 5)))
	if clutter {
		s.Clutter(6, 10)
	}
	at := []camera.Point{{X: 200, Y: 190}, {X: 640, Y: 480}, {X: 850, Y: 170}}
	for i, d := range symbols {
		p := camera.Pose{Centre: at[i], Module: 3.3, Rotation: degrees * degree * float64(i+1), TiltX: 0.15, Dark: 40, Light: 220, Plain: 3}
		if strings.HasPrefix(d.Symbology, "]C") || strings.HasPrefix(d.Symbology, "]E") {
			p.Module = 2.1
		}
		s.Place(d.art, d.Scale, p)
	}
	s.Blur(0.6)
	s.Noise(2, 2)
	var out bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(&out, s.Gray()); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestReadsAllSymbolsOfAPack(t *testing.T) {
	for name, tc := range map[string]struct {
		clutter bool
		degrees float64
		symbols []string
	}{
		"DataMatrix and GS1-128":          {false, 4, []string{"dm", "128"}},
		"three kinds":                     {false, -9, []string{"qr-separators", "128-separators", "dm-rect"}},
		"two DataMatrix and an EAN":       {false, 11, []string{"dm-separators", "ean13", "dm-plain"}},
		"the same DataMatrix twice":       {false, 15, []string{"dm", "128-plain", "dm"}},
		"three kinds among print and art": {true, 13, []string{"dm", "128-check102", "qr"}},
		"rectangle and trap among print":  {true, 6, []string{"dm-rect-long", "128-check97-separator", "dm-separators"}},
	} {
		t.Run(name, func(t *testing.T) {
			var want []drawn
			for _, n := range tc.symbols {
				want = append(want, drawnNamed(t, n))
			}
			wantOnly(t, decode(t, packOf(t, tc.clutter, tc.degrees, want...)), want...)
		})
	}
}

func TestLimitAndFound(t *testing.T) {
	pack := packOf(t, false, 4, drawnNamed(t, "dm"), drawnNamed(t, "128"))
	var told []picture.Symbol
	got, err := picture.Decode(context.Background(), bytes.NewReader(pack), picture.Options{
		Deadline: -1, Limit: 1, Found: func(s picture.Symbol) { told = append(told, s) },
	})
	if err != nil || len(got) != 1 {
		t.Fatalf("with Limit 1: %d symbols, error %v; want 1 and none", len(got), err)
	}
	if len(told) != 1 || told[0].Text != got[0].Text {
		t.Errorf("Found was told %v, Decode returned %v", told, got)
	}
}

// TestStoppedInTheMiddle stops the work after the first symbol: what was found
// comes back together with the reason.
func TestStoppedInTheMiddle(t *testing.T) {
	pack := packOf(t, true, 4, drawnNamed(t, "dm"), drawnNamed(t, "128"))
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	got, err := picture.Decode(ctx, bytes.NewReader(pack), picture.Options{
		Deadline: -1, Found: func(picture.Symbol) { cancel() },
	})
	if !errors.Is(err, context.Canceled) || len(got) != 1 {
		t.Errorf("%d symbols, error %v; want the first one and context.Canceled", len(got), err)
	}
}
