package picture_test

import (
	"context"
	"image"
	"math"
	"testing"

	"lotbook/scanner/picture"
)

// TestReadsUnevenModules draws symbols of the encoder again with columns and
// rows of different widths, which no projective map follows.
func TestReadsUnevenModules(t *testing.T) {
	same := func(t float64) float64 { return t }
	for _, how := range []struct {
		name string
		x, y func(float64) float64 // of the drawing, from 0 to 1, how far along it is put
	}{
		{"columns narrow towards the right", func(t float64) float64 { return (1.35*t - 0.35*t*t) }, same},
		{"columns narrow towards the left", func(t float64) float64 { return (0.65*t + 0.35*t*t) }, same},
		{"rows narrow towards the top", same, func(t float64) float64 { return (0.65*t + 0.35*t*t) }},
		{"in steps, as the feed slows down", steps(4, 3, 3, 2), same},
		{"in the middle wide", steps(2, 3, 3, 2), steps(2, 3, 3, 2)},
		// A vial seen straight on: from 50° on the left to 50° on the right.
		{"around a vial", func(t float64) float64 {
			half := 50 * degree
			return (math.Sin((2*t-1)*half)/math.Sin(half) + 1) / 2
		}, same},
		// The same, seen from aside.
		{"around a vial, from aside", func(t float64) float64 {
			from, to := -10*degree, 60*degree
			return (math.Sin(from+t*(to-from)) - math.Sin(from)) / (math.Sin(to) - math.Sin(from))
		}, same},
	} {
		t.Run(how.name, func(t *testing.T) {
			for _, name := range []string{"dm", "dm-separators", "dm-plain", "dm-16x16", "dm-20x20", "dm-26x26", "dm-32x32", "dm-12x26"} {
				d := drawnNamed(t, name)
				img := warped(resized(d, 9, 0, 0), 5/9.0, how.x, how.y)
				got, err := picture.Read(context.Background(), img, picture.Options{Deadline: -1})
				if err != nil {
					t.Fatal(err)
				}
				wantOnly(t, got, d)
			}
		})
	}
}

// TestReadsUnevenModulesFromEveryView turns, tilts and spoils such a symbol too.
func TestReadsUnevenModulesFromEveryView(t *testing.T) {
	for _, name := range []string{"dm", "dm-separators", "dm-plain", "dm-rect"} {
		d := drawnNamed(t, name)
		d.art = warped(resized(d, 9, 0, 0), 1, steps(4, 3, 3, 2), steps(1, 1))
		d.Scale = 9
		for _, v := range views {
			t.Run(name+" "+v.name, func(t *testing.T) {
				got := decode(t, seenBy(t, d, v))
				if v.name == "blurred" && len(got) == 0 {
					return // for the narrowest columns that is blur of more than half a module
				}
				wantOnly(t, got, d)
			})
		}
	}
}

// steps is a way along whose four quarters go by at these speeds.
func steps(speeds ...float64) func(float64) float64 {
	all := 0.0
	for _, v := range speeds {
		all += v
	}
	return func(t float64) float64 {
		at, n := 0.0, float64(len(speeds))
		for i, v := range speeds {
			at += v / all * max(0, min(1, t*n-float64(i)))
		}
		return at
	}
}

// warped puts each place of a picture where x and y, which grow from 0 to 1, say,
// each pixel the mean of 16 places, and scales it.
func warped(g *image.Gray, scale float64, x, y func(float64) float64) *image.Gray {
	back := func(f func(float64) float64, at float64) float64 {
		lo, hi := 0.0, 1.0
		for range 30 {
			if mid := (lo + hi) / 2; f(mid) < at {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	w, h := int(scale*float64(g.Rect.Dx())), int(scale*float64(g.Rect.Dy()))
	from := func(f func(float64) float64, n, size int) []int {
		at := make([]int, 4*n)
		for i := range at {
			at[i] = min(size-1, int(back(f, (float64(i)+0.5)/float64(4*n))*float64(size)))
		}
		return at
	}
	xs, ys := from(x, w, g.Rect.Dx()), from(y, h, g.Rect.Dy())
	out := image.NewGray(image.Rect(0, 0, w, h))
	for i := range h {
		for j := range w {
			sum := 0
			for _, v := range ys[4*i : 4*i+4] {
				for _, u := range xs[4*j : 4*j+4] {
					sum += int(g.Pix[v*g.Stride+u])
				}
			}
			out.Pix[i*out.Stride+j] = uint8(sum / 16)
		}
	}
	return out
}
