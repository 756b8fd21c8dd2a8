package picture_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"

	"lotbook/scanner/picture"
)

// corners is a picture of 40x24 whose quarters are red, green, blue and white,
// from the top left row by row.
func corners(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetRGBA(x, y, [4]color.RGBA{{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}, {255, 255, 255, 255}}[2*(2*y/h)+2*x/w])
		}
	}
	return m
}

// asJPEGWith writes a JPEG with an Exif segment that has an orientation and a
// place (a GPS directory's tag 0x8825), in either byte order.
func asJPEGWith(t testing.TB, m image.Image, orientation uint16, order binary.AppendByteOrder) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 100}); err != nil {
		t.Fatal(err)
	}
	tiff := []byte("MM\x00*")
	if order == binary.AppendByteOrder(binary.LittleEndian) {
		tiff = []byte("II*\x00")
	}
	tiff = order.AppendUint32(tiff, 8)
	tiff = order.AppendUint16(tiff, 2)
	tiff = order.AppendUint32(order.AppendUint16(order.AppendUint16(tiff, 0x8825), 4), 1)
	tiff = append(tiff, "GPS!"...)
	tiff = order.AppendUint32(order.AppendUint16(order.AppendUint16(tiff, 0x0112), 3), 1)
	tiff = order.AppendUint16(order.AppendUint16(tiff, orientation), 0)
	seg := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte("\xff\xd8\xff\xe1"), byte((len(seg)+2)>>8), byte(len(seg)+2))
	return append(append(out, seg...), b.Bytes()[2:]...)
}

// What TIFF 6.0 (section 8, Orientation; Exif takes it over) says of where the
// first row and the first column are to be seen, as the corners in which the
// quarters red, green, blue and white then lie: top left, top right, bottom left,
// bottom right.
var orientations = map[uint16]string{
	1: "rgbw", // row 0 top, column 0 left
	2: "grwb", // top, right
	3: "wbgr", // bottom, right
	4: "bwrg", // bottom, left
	5: "rbgw", // left, top
	6: "brwg", // right, top
	7: "wgbr", // right, bottom
	8: "gwrb", // left, bottom
	9: "rgbw", // there is none
}

func seen(m image.Image) (s string) {
	b := m.Bounds()
	for _, p := range []image.Point{{1, 1}, {3, 1}, {1, 3}, {3, 3}} {
		r, g, bl, _ := m.At(p.X*b.Dx()/4, p.Y*b.Dy()/4).RGBA()
		switch {
		case r > 0xc000 && g > 0xc000 && bl > 0xc000:
			s += "w"
		case r > 0xc000:
			s += "r"
		case g > 0xc000:
			s += "g"
		case bl > 0xc000:
			s += "b"
		default:
			s += "?"
		}
	}
	return s
}

func TestKeptPictureIsUpright(t *testing.T) {
	for orientation, want := range orientations {
		for _, order := range []binary.AppendByteOrder{binary.BigEndian, binary.LittleEndian} {
			src := asJPEGWith(t, corners(80, 48), orientation, order)
			k, err := picture.Keep(t.Context(), src, picture.Options{}, 1<<20)
			if err != nil {
				t.Fatal(err)
			}
			m, err := jpeg.Decode(bytes.NewReader(k.JPEG))
			if err != nil {
				t.Fatal(err)
			}
			if got := seen(m); got != want {
				t.Errorf("orientation %d, %v: %s, want %s", orientation, order, got, want)
			}
			w, h := 80, 48
			if orientation >= 5 && orientation <= 8 {
				w, h = 48, 80
			}
			if k.Width != w || k.Height != h || m.Bounds().Dx() != w || m.Bounds().Dy() != h {
				t.Errorf("orientation %d: %dx%d, decoded %v", orientation, k.Width, k.Height, m.Bounds())
			}
			if !bytes.Contains(src, []byte("GPS!")) || bytes.Contains(k.JPEG, []byte("GPS!")) || bytes.Contains(k.JPEG, []byte("Exif")) {
				t.Error("what the camera wrote beside it is kept")
			}
		}
	}
}

// Whatever the picture: within the sides and the bytes, the same bytes each time,
// and colours and places stay.
func TestKeptPictureIsBounded(t *testing.T) {
	for _, size := range [][2]int{{4000, 3000}, {1600, 1200}, {1601, 3}, {3, 5000}, {1, 1}, {1000, 4100}} {
		var b bytes.Buffer
		if err := png.Encode(&b, corners(size[0], size[1])); err != nil {
			t.Fatal(err)
		}
		k, err := picture.Keep(t.Context(), b.Bytes(), picture.Options{}, 1<<20)
		if err != nil {
			t.Fatal(err)
		}
		if max(k.Width, k.Height) > picture.KeptSide || max(k.Width, k.Height) < min(picture.KeptSide, max(size[0], size[1])) {
			t.Errorf("%v is kept as %dx%d", size, k.Width, k.Height)
		}
		m, err := jpeg.Decode(bytes.NewReader(k.JPEG))
		if err != nil {
			t.Fatal(err)
		}
		if got := seen(m); min(size[0], size[1]) > 10 && got != "rgbw" {
			t.Errorf("%v: %s", size, got)
		}
		again, err := picture.Keep(t.Context(), b.Bytes(), picture.Options{}, 1<<20)
		if err != nil || !bytes.Equal(again.JPEG, k.JPEG) {
			t.Errorf("%v: kept otherwise the second time: %v", size, err)
		}
	}
	noise := image.NewGray(image.Rect(0, 0, 2000, 2000))
	rnd := rand.New(rand.NewPCG(1, 2))
	for i := range noise.Pix {
		noise.Pix[i] = uint8(rnd.Uint32())
	}
	var b bytes.Buffer
	if err := png.Encode(&b, noise); err != nil {
		t.Fatal(err)
	}
	k, err := picture.Keep(t.Context(), b.Bytes(), picture.Options{}, 300<<10)
	if err != nil || len(k.JPEG) > 300<<10 {
		t.Errorf("noise: %v", err)
	}
	if _, err := picture.Keep(t.Context(), b.Bytes(), picture.Options{}, 100); err == nil {
		t.Error("a picture of 100 bytes")
	}
}

func TestKeepRefuses(t *testing.T) {
	asPNG, asJPEG := photo(t)
	for name, tc := range map[string]struct {
		in   []byte
		want error
	}{
		"nothing":       {nil, picture.ErrFormat},
		"HEIC":          {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), picture.ErrHEIF},
		"HEIC is none":  {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), picture.ErrFormat},
		"cut in half":   {asPNG[:len(asPNG)/2], picture.ErrDamaged},
		"a JPEG cut":    {asJPEG[:len(asJPEG)/2], picture.ErrDamaged},
		"too many":      {pngHeader(5001, 5000), picture.ErrTooLarge},
		"a text":        {[]byte("(01)09521234543213(10)A7F42"), picture.ErrFormat},
		"Exif cut":      {asJPEGWith(t, corners(8, 8), 6, binary.BigEndian)[:30], picture.ErrDamaged},
		"an empty Exif": {[]byte("\xff\xd8\xff\xe1\x00\x02\xff\xe1\x00\x08Exif\x00\x00"), picture.ErrDamaged},
	} {
		if _, err := picture.Keep(t.Context(), tc.in, picture.Options{MaxPixels: 25_000_000}, 1<<20); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, want %v", name, err, tc.want)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := picture.Keep(ctx, asPNG, picture.Options{}, 1<<20); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// FuzzKeep: nothing in a file's marks ends the program or makes a picture too
// large.
func FuzzKeep(f *testing.F) {
	for o := range orientations {
		f.Add(asJPEGWith(f, corners(8, 6), o, binary.LittleEndian))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		k, err := picture.Keep(t.Context(), b, picture.Options{MaxPixels: 20_000}, 60<<10)
		if err == nil && (len(k.JPEG) > 60<<10 || k.Width*k.Height > 20_000) {
			t.Errorf("%d bytes, %dx%d", len(k.JPEG), k.Width, k.Height)
		}
	})
}

func BenchmarkKeep(b *testing.B) {
	var src bytes.Buffer
	if err := jpeg.Encode(&src, corners(4000, 3000), nil); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := picture.Keep(b.Context(), src.Bytes(), picture.Options{}, 800<<10); err != nil {
			b.Fatal(err)
		}
	}
}
