package picture_test

import (
	"context"
	"image"
	"math/rand/v2"
	"strings"
	"testing"

	"lotbook/scanner/picture"
)

// TestReadsAtAnyScale looks straight at each symbol of the encoder, at sizes of
// a module and places that are no whole pixels: what a screenshot or a scan
// of a sheet shows. Nothing else may be read in them.
func TestReadsAtAnyScale(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, d := range drawnSymbols(t) {
		for range 2 {
			scale := 1.8 + 3.5*r.Float64()
			if strings.Contains(d.Name, "1x") || d.art.Bounds().Dx() > 400 {
				scale = 2.5 + r.Float64() // large: keep the picture small
			}
			img := resized(d, scale, r.Float64(), r.Float64())
			got, err := picture.Read(context.Background(), img, picture.Options{Deadline: -1})
			if err != nil {
				t.Fatal(err)
			}
			if len(got) != 1 || got[0].Symbology != d.Symbology || got[0].Text != d.Text {
				t.Errorf("%s at %.3f pixels a module: read %v, want %s %q", d.Name, scale, got, d.Symbology, d.Text)
			}
		}
	}
}

// resized draws a symbol's art again, each pixel the mean of 16 places in it.
func resized(d drawn, scale, dx, dy float64) *image.Gray {
	b := d.art.Bounds()
	k := d.Scale / scale // art pixels a pixel
	g := image.NewGray(image.Rect(0, 0, int(float64(b.Dx())/k)+1, int(float64(b.Dy())/k)+1))
	dark := make([]bool, b.Dx()*b.Dy())
	for y := range b.Dy() {
		for x := range b.Dx() {
			v, _, _, _ := d.art.At(b.Min.X+x, b.Min.Y+y).RGBA()
			dark[y*b.Dx()+x] = v < 0x8000
		}
	}
	for y := range g.Rect.Dy() {
		for x := range g.Rect.Dx() {
			n := 0
			for i := range 16 {
				u := int((float64(x) + (float64(i%4)+0.5)/4 - dx) * k)
				v := int((float64(y) + (float64(i/4)+0.5)/4 - dy) * k)
				if u >= 0 && v >= 0 && u < b.Dx() && v < b.Dy() && dark[v*b.Dx()+u] {
					n++
				}
			}
			g.Pix[y*g.Stride+x] = uint8(255 - n*255/16)
		}
	}
	return g
}
