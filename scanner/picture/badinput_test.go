package picture_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"lotbook/scanner/picture"
)

// pngHeader is the beginning of a PNG that claims a size, with a right check
// sum (PNG specification, 11.2.2): enough for a reader to trust it.
func pngHeader(w, h uint32) []byte {
	b := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR")
	b = binary.BigEndian.AppendUint32(b, w)
	b = binary.BigEndian.AppendUint32(b, h)
	b = append(b, 8, 0, 0, 0, 0)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[12:29]))
}

// jpegHeader is the beginning of a JPEG up to a frame header that claims a
// size (ITU-T T.81, B.2.2).
func jpegHeader(w, h uint16) []byte {
	b := []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xc0\x00\x0b\x08")
	b = binary.BigEndian.AppendUint16(b, h)
	b = binary.BigEndian.AppendUint16(b, w)
	return append(b, 1, 1, 0x11, 0)
}

func photo(t testing.TB) (asPNG, asJPEG []byte) {
	t.Helper()
	d := drawnNamed(t, "dm")
	var b bytes.Buffer
	if err := jpeg.Encode(&b, d.art, nil); err != nil {
		t.Fatal(err)
	}
	return d.png, b.Bytes()
}

func TestRefusesBadInput(t *testing.T) {
	asPNG, asJPEG := photo(t)
	for name, tc := range map[string]struct {
		in   []byte
		want error
	}{
		"nothing":                {nil, picture.ErrFormat},
		"one byte":               {[]byte{0x89}, picture.ErrFormat},
		"text":                   {[]byte("(01)09521234543213(10)A7F42"), picture.ErrFormat},
		"GIF":                    {[]byte("GIF89a\x01\x00\x01\x00\x80\x00\x00\xff\xff\xff\x00\x00\x00;"), picture.ErrFormat},
		"PNG magic only":         {asPNG[:8], picture.ErrDamaged},
		"PNG cut in its header":  {asPNG[:20], picture.ErrDamaged},
		"PNG cut in its pixels":  {asPNG[:len(asPNG)/2], picture.ErrDamaged},
		"PNG with a wrong byte":  {flipped(asPNG, len(asPNG)/2), picture.ErrDamaged},
		"PNG of no width":        {pngHeader(0, 100), picture.ErrDamaged},
		"JPEG magic only":        {asJPEG[:3], picture.ErrDamaged},
		"JPEG cut in its header": {asJPEG[:100], picture.ErrDamaged},
		"JPEG cut in its pixels": {asJPEG[:len(asJPEG)*2/3], picture.ErrDamaged},
		"PNG of 2³¹ columns":     {pngHeader(1<<31-1, 1<<31-1), picture.ErrDamaged},
		"PNG of 3.6 gigapixels":  {pngHeader(60000, 60000), picture.ErrTooLarge},
		"PNG of 100 megapixels":  {pngHeader(10000, 10000), picture.ErrTooLarge},
		"JPEG of 4 gigapixels":   {jpegHeader(65535, 65535), picture.ErrTooLarge},
	} {
		t.Run(name, func(t *testing.T) {
			syms, err := picture.Decode(context.Background(), bytes.NewReader(tc.in), picture.Options{})
			if !errors.Is(err, tc.want) || len(syms) > 0 {
				t.Errorf("%d symbols, error %v; want none and %v", len(syms), err, tc.want)
			}
		})
	}
}

func flipped(b []byte, at int) []byte {
	b = bytes.Clone(b)
	b[at] ^= 0x55
	return b
}

// TestSizeIsRefusedBeforeThePixels gives a header and then a stream that must
// not be read: 400 MB would be allocated for the pixels claimed.
func TestSizeIsRefusedBeforeThePixels(t *testing.T) {
	rest := &countingReader{}
	in := io.MultiReader(bytes.NewReader(pngHeader(20000, 20000)), rest)
	_, err := picture.Decode(context.Background(), in, picture.Options{})
	var size *picture.SizeError
	if !errors.As(err, &size) || size.Width != 20000 || size.Height != 20000 || size.Max != picture.DefaultMaxPixels {
		t.Errorf("error %v, want a SizeError of 20000×20000", err)
	}
	if rest.n > 1<<20 {
		t.Errorf("%d bytes were read behind the header", rest.n)
	}
	_, err = picture.Read(context.Background(), image.NewGray(image.Rect(0, 0, 11, 10)), picture.Options{MaxPixels: 109})
	if !errors.As(err, &size) {
		t.Errorf("Read: error %v, want a SizeError", err)
	}
}

type countingReader struct{ n int }

func (c *countingReader) Read(p []byte) (int, error) {
	c.n += len(p)
	return len(p), nil
}

type brokenReader struct{ err error }

func (b brokenReader) Read([]byte) (int, error) { return 0, b.err }

func TestPassesOnTheReadersError(t *testing.T) {
	asPNG, _ := photo(t)
	broken := errors.New("the line broke")
	for _, n := range []int{0, 5, 60} {
		in := io.MultiReader(bytes.NewReader(asPNG[:n]), brokenReader{broken})
		if _, err := picture.Decode(context.Background(), in, picture.Options{}); !errors.Is(err, broken) {
			t.Errorf("after %d bytes: error %v, want the reader's own", n, err)
		}
	}
}

// noise is a picture of random pixels: the worst case for every finder.
func noise(w, h int) *image.Gray {
	g := image.NewGray(image.Rect(0, 0, w, h))
	r := rand.New(rand.NewPCG(11, 13))
	for i := range g.Pix {
		g.Pix[i] = uint8(r.Uint32())
	}
	return g
}

func TestReadsNothingInNoise(t *testing.T) {
	smooth := image.NewGray(image.Rect(0, 0, 400, 300))
	bars := image.NewGray(smooth.Rect)
	checks := image.NewGray(smooth.Rect)
	for y := range 300 {
		for x := range 400 {
			i := y*400 + x
			smooth.Pix[i] = uint8((x + y) / 3)
			bars.Pix[i] = uint8(255 * (x / 3 % 2))
			checks.Pix[i] = uint8(255 * ((x/4 + y/4) % 2))
		}
	}
	for name, img := range map[string]image.Image{
		"white noise": noise(400, 300), "thin noise": noise(1, 900), "a gradient": smooth,
		"even bars": bars, "checks": checks, "no pixels": image.NewGray(image.Rectangle{}), "a pixel": noise(1, 1),
	} {
		syms, err := picture.Read(context.Background(), img, picture.Options{Deadline: -1})
		if err != nil || len(syms) != 0 {
			t.Errorf("%s: %v, %v; want nothing", name, syms, err)
		}
	}
}

func TestEndsWithTheContext(t *testing.T) {
	asPNG, _ := photo(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := picture.Decode(ctx, bytes.NewReader(asPNG), picture.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("Decode, cancelled: error %v", err)
	}
	big := noise(3000, 2000)
	if _, err := picture.Read(ctx, big, picture.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("Read, cancelled: error %v", err)
	}
	late, stop := context.WithDeadline(context.Background(), time.Unix(0, 0))
	defer stop()
	_, err := picture.Read(late, big, picture.Options{})
	if !errors.Is(err, context.DeadlineExceeded) || errors.Is(err, picture.ErrDeadline) {
		t.Errorf("the caller's deadline: error %v, want context.DeadlineExceeded", err)
	}
	_, err = picture.Read(context.Background(), big, picture.Options{Deadline: time.Millisecond})
	if !errors.Is(err, picture.ErrDeadline) {
		t.Errorf("a millisecond for six megapixels of noise: error %v, want ErrDeadline", err)
	}
	if _, err = picture.Decode(context.Background(), &neverEnding{}, picture.Options{Deadline: 20 * time.Millisecond}); !errors.Is(err, picture.ErrDeadline) {
		t.Errorf("a stream that never ends: error %v, want ErrDeadline", err)
	}
}

// neverEnding is a JPEG whose header never comes to an end: comment after
// comment.
type neverEnding struct{ n int }

func (e *neverEnding) Read(p []byte) (int, error) {
	const comment = "\xff\xfe\x00\x02"
	for i := range p {
		if e.n < 2 {
			p[i] = "\xff\xd8"[e.n]
		} else {
			p[i] = comment[(e.n-2)%len(comment)]
		}
		e.n++
	}
	return len(p), nil
}

func FuzzDecode(f *testing.F) {
	asPNG, asJPEG := photo(f)
	f.Add(asPNG)
	f.Add(asJPEG)
	f.Add(asJPEG[:200])
	f.Add(pngHeader(40, 40))
	f.Add([]byte("RIFF\x1a\x00\x00\x00WEBPVP8L\x0d\x00\x00\x00\x2f\x00\x00\x00"))
	f.Add(drawnNamed(f, "128-check97").png)
	f.Add(drawnNamed(f, "qr").png)
	f.Fuzz(func(t *testing.T, b []byte) {
		syms, err := picture.Decode(context.Background(), bytes.NewReader(b), picture.Options{MaxPixels: 20_000, Deadline: 50 * time.Millisecond})
		if err != nil && len(syms) > 0 && !errors.Is(err, picture.ErrDeadline) {
			t.Errorf("%v together with %v", syms, err)
		}
		for _, s := range syms {
			if len(s.Symbology) != 3 || s.Symbology[0] != ']' || s.Text == "" {
				t.Errorf("symbol %q %q", s.Symbology, s.Text)
			}
		}
		if err == nil {
			if _, e := png.DecodeConfig(bytes.NewReader(b)); e != nil && bytes.HasPrefix(b, []byte("\x89PNG")) {
				t.Errorf("read a PNG whose header is damaged: %v", e)
			}
		}
	})
}
