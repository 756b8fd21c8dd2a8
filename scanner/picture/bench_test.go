package picture_test

import (
	"bytes"
	"context"
	"image/png"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lotbook/scanner/picture"
	"lotbook/scanner/picture/internal/camera"
)

// BenchmarkPack reads JPEG pictures of 1600 by 1200 of packs in clutter, each
// with one to three symbols, whole: until nothing more is looked for. Reported
// besides the mean: the 95th percentile, and the symbols read of those there.
func BenchmarkPack(b *testing.B) {
	all := drawnSymbols(b)
	var packs [][]byte
	var want []int
	for seed := range uint64(12) {
		p, n := scene(b, all, seed, 1600, 1200)
		packs, want = append(packs, p), append(want, n)
	}
	var took []float64
	read, there := 0, 0
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		k := i % len(packs)
		start := time.Now()
		syms, err := picture.Decode(context.Background(), bytes.NewReader(packs[k]), picture.Options{Deadline: -1})
		if err != nil {
			b.Fatal(err)
		}
		took = append(took, float64(time.Since(start).Microseconds())/1000)
		read += len(syms)
		there += want[k]
	}
	slices.Sort(took)
	b.ReportMetric(took[min(len(took)-1, len(took)*95/100)], "p95-ms")
	b.ReportMetric(float64(read)/float64(there), "read/symbol")
}

// BenchmarkTwelveMegapixels reads one photograph of a phone's full size; B/op
// bounds the memory.
func BenchmarkTwelveMegapixels(b *testing.B) {
	p, _ := scene(b, drawnSymbols(b), 1, 4000, 3000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := picture.Decode(context.Background(), bytes.NewReader(p), picture.Options{Deadline: -1}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFirstSymbol is how long a clean picture takes until its symbol is
// there.
func BenchmarkFirstSymbol(b *testing.B) {
	for _, name := range []string{"dm", "dm-rect", "128-separators", "ean13", "itf14", "qr"} {
		b.Run(name, func(b *testing.B) {
			d := drawnNamed(b, name)
			for b.Loop() {
				syms, err := picture.Decode(context.Background(), bytes.NewReader(d.png), picture.Options{Limit: 1, Deadline: -1})
				if err != nil || len(syms) != 1 {
					b.Fatal(syms, err)
				}
			}
		})
	}
}

// BenchmarkNoise is the worst case: nothing there, and edges everywhere.
func BenchmarkNoise(b *testing.B) {
	var img bytes.Buffer
	if err := png.Encode(&img, noise(1600, 1200)); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := picture.Decode(context.Background(), bytes.NewReader(img.Bytes()), picture.Options{Deadline: -1}); err != nil {
			b.Fatal(err)
		}
	}
}

// scene is a JPEG of a pack in clutter with one to three of the symbols, and
// how many.
func scene(b *testing.B, all []drawn, seed uint64, w, h int) ([]byte, int) {
	b.Helper()
	r := rand.New(rand.NewPCG(seed, 17))
	s := camera.NewScene(w, h, 110+100*r.Float32(), r)
	s.Clutter(12, 30)
	s.Grain(3)
	zoom := math.Sqrt(float64(w*h) / (1600 * 1200))
	at := []camera.Point{{X: 0.27, Y: 0.3}, {X: 0.7, Y: 0.33}, {X: 0.45, Y: 0.74}}
	n := 1 + int(seed%3)
	for i := range n {
		d := all[r.IntN(len(all))]
		module := (2.4 + 2*r.Float64()) * zoom
		if float64(d.art.Bounds().Dx())/d.Scale > 130 {
			module = (1.6 + 0.6*r.Float64()) * zoom
		}
		s.Place(d.art, d.Scale, camera.Pose{
			Centre: camera.Point{X: at[i].X * float64(w), Y: at[i].Y * float64(h)}, Module: module,
			Rotation: (r.Float64() - 0.5) * 0.9, TiltX: (r.Float64() - 0.5) * 0.6, TiltY: (r.Float64() - 0.5) * 0.6,
			Dark: 30 + 40*r.Float32(), Light: 180 + 50*r.Float32(), Plain: 2,
		})
	}
	s.Light(0.6, 1.05, 6*r.Float64())
	s.Blur(0.6 + 0.5*r.Float64())
	s.Noise(2, 2)
	out, err := s.JPEG(80)
	if err != nil {
		b.Fatal(err)
	}
	return out, n
}
