package draw_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"io"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"lotbook/scanner/picture"
	sheet "lotbook/scanner/picture/draw"
	"lotbook/scanner/wedge"
)

// page paints the rectangles of an SVG document at some pixels a millimetre.
func page(t *testing.T, doc []byte, perMM float64) image.Image {
	t.Helper()
	var img *image.Gray
	dec := xml.NewDecoder(bytes.NewReader(doc))
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return img
		}
		if err != nil {
			t.Fatal(err)
		}
		el, ok := tok.(xml.StartElement)
		if !ok || el.Name.Local != "rect" {
			continue
		}
		v, fill := map[string]int{}, color.Gray{}
		for _, a := range el.Attr {
			if a.Name.Local == "fill" {
				fill = color.Gray{255}
				continue
			}
			f, err := strconv.ParseFloat(a.Value, 64)
			if err != nil {
				t.Fatal(err)
			}
			v[a.Name.Local] = int(math.Round(f * perMM))
		}
		r := image.Rect(v["x"], v["y"], v["x"]+v["width"], v["y"]+v["height"])
		if img == nil {
			img = image.NewGray(r)
		}
		if !r.In(img.Rect) {
			t.Fatalf("%v lies outside the paper %v", r, img.Rect)
		}
		draw.Draw(img, r, image.NewUniform(fill), image.Point{}, draw.Src)
	}
}

// The sheet, as drawn, has the four codes, each with its symbology and exact
// text. The reader shares gozxing's tables with the drawing.
func TestSheetCanBeRead(t *testing.T) {
	for _, p := range []sheet.Paper{sheet.A4, sheet.Letter} {
		var doc bytes.Buffer
		if err := sheet.Sheet(&doc, p); err != nil {
			t.Fatal(err)
		}
		syms, err := picture.Read(context.Background(), page(t, doc.Bytes(), 10), picture.Options{Deadline: -1})
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]string{}
		for _, c := range wedge.SheetCodes() {
			want[c.Text] = c.Symbology
		}
		for _, s := range syms {
			if want[s.Text] != s.Symbology {
				t.Errorf("%s: read %s %q, which is not on the sheet", p.Name, s.Symbology, s.Text)
			}
			delete(want, s.Text)
		}
		for text := range want {
			t.Errorf("%s: not read: %q", p.Name, text)
		}
	}
}

// painted is a symbol with its quiet zone and two modules more, at scale pixels
// a module. A linear one has bars of 15 modules.
func painted(s *sheet.Symbol, scale int) *image.Gray {
	quiet, h := s.Quiet+2, len(s.Rows)
	if s.Linear() {
		h = 15
	}
	img := image.NewGray(image.Rect(0, 0, (len(s.Rows[0])+2*quiet)*scale, (h+2*quiet)*scale))
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			c, r := x/scale-quiet, y/scale-quiet
			if c < 0 || r < 0 || c >= len(s.Rows[0]) || r >= h || !s.Rows[r%len(s.Rows)][c] {
				img.SetGray(x, y, color.Gray{255})
			}
		}
	}
	return img
}

// comesBack draws a text, reads the drawing and wants exactly that.
func comesBack(t rapid.TB, id, text string, scale int) {
	t.Helper()
	s, err := sheet.Encode(id, text)
	if err != nil {
		t.Fatal(err)
	}
	syms, err := picture.Read(context.Background(), painted(s, scale), picture.Options{Deadline: -1})
	if err != nil || len(syms) != 1 || syms[0].Symbology != id || syms[0].Text != text {
		t.Errorf("%s %q, %d pixels a module, was read as %+v, %v", id, text, scale, syms, err)
	}
}

// Random texts come back as they were drawn, FNC1 and all.
func TestDrawnSymbolsAreRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.SampledFrom([]string{"]C0", "]C1", "]d1", "]d2"}).Draw(t, "symbology")
		text := rapid.StringMatching(`[A-Za-z0-9]{6,14}`).Draw(t, "text")
		if id == "]C1" || id == "]d2" {
			text = "10" + text + "\x1d" + "21" + rapid.StringMatching(`[A-Za-z0-9]{3,20}`).Draw(t, "more")
		}
		comesBack(t, id, text, rapid.IntRange(2, 4).Draw(t, "scale"))
	})
}

// What random texts have found.
func TestDrawnSymbolsOnceNotRead(t *testing.T) {
	for _, c := range [][2]string{
		{"]C1", "1000001M\x1d21jV10"}, // a character within was taken for the stop pattern
	} {
		for scale := 2; scale <= 4; scale++ {
			comesBack(t, c[0], c[1], scale)
		}
	}
}

func TestEncodeRefuses(t *testing.T) {
	for _, c := range [][2]string{{"]Q1", "A"}, {"]d2", "é"}, {"]C0", ""}, {"]C0", string(make([]byte, 200))}, {"]d1", string(make([]byte, 4000))}} {
		if s, err := sheet.Encode(c[0], c[1]); err == nil {
			t.Errorf("%q was drawn as %+v", c, s)
		}
	}
}
