package picture

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	paint "image/draw"
	"image/jpeg"
)

// KeptSide is the longer side, in pixels, of a picture that is kept: print on a
// pack can be read in it.
const KeptSide = 1600

// A Kept is a picture as it is put on record: redrawn as a JPEG of bounded size,
// the right way up, without anything that a camera writes beside it, such as
// where it was taken.
type Kept struct {
	JPEG          []byte
	Width, Height int
}

// errTooDetailed says that a picture can't be made small enough.
var errTooDetailed = errors.New("the picture can't be made small enough")

// Keep redraws a PNG, JPEG or WebP picture for the record, with at most maxBytes.
// Pictures of more than Options.MaxPixels are refused by their header. Beside the
// decoded picture it needs some rows of it and the picture that it draws. The
// errors are those of Decode.
func Keep(ctx context.Context, src []byte, o Options, maxBytes int) (*Kept, error) {
	limit := o.MaxPixels
	if limit == 0 {
		limit = DefaultMaxPixels
	}
	img, err := decodeImage(ctx, bytes.NewReader(src), limit)
	if err != nil {
		return nil, err
	}
	if b := img.Bounds(); b.Empty() {
		return nil, fmt.Errorf("read picture: %w: it has no pixels", ErrDamaged)
	}
	turn := orientation(src)
	for side := KeptSide; side >= KeptSide/4; side /= 2 {
		small, err := shrink(ctx, img, side)
		if err != nil {
			return nil, err
		}
		upright := turned(small, turn)
		for _, quality := range []int{85, 70, 50} {
			var b bytes.Buffer
			if err := jpeg.Encode(&b, upright, &jpeg.Options{Quality: quality}); err != nil {
				return nil, fmt.Errorf("draw picture: %w", err)
			}
			if b.Len() <= maxBytes {
				return &Kept{b.Bytes(), upright.Bounds().Dx(), upright.Bounds().Dy()}, nil
			}
		}
	}
	return nil, fmt.Errorf("draw picture: %w", errTooDetailed)
}

// shrink draws an image on white so that its longer side is at most so many
// pixels: each of its pixels is the mean of those that it stands for. A strip of
// the source at a time is turned into RGB.
func shrink(ctx context.Context, img image.Image, side int) (*image.RGBA, error) {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if long := max(w, h); long > side {
		w, h = max(1, w*side/long), max(1, h*side/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	var strip *image.RGBA
	for y := range h {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		top, bottom := y*b.Dy()/h, max(y*b.Dy()/h+1, (y+1)*b.Dy()/h)
		if strip == nil || strip.Rect.Dy() < bottom-top {
			strip = image.NewRGBA(image.Rect(0, 0, b.Dx(), bottom-top))
		}
		part := image.Rect(0, 0, b.Dx(), bottom-top)
		paint.Draw(strip, part, image.White, image.Point{}, paint.Src)
		paint.Draw(strip, part, img, image.Pt(b.Min.X, b.Min.Y+top), paint.Over)
		for x := range w {
			left, right := x*b.Dx()/w, max(x*b.Dx()/w+1, (x+1)*b.Dx()/w)
			out.SetRGBA(x, y, mean(strip, left, right, bottom-top))
		}
	}
	return out, nil
}

// mean returns the mean colour of columns left to right-1 of the first rows.
func mean(m *image.RGBA, left, right, rows int) color.RGBA {
	var sum [3]int
	for y := range rows {
		row := m.Pix[y*m.Stride+4*left : y*m.Stride+4*right]
		for i := 0; i < len(row); i += 4 {
			sum[0] += int(row[i])
			sum[1] += int(row[i+1])
			sum[2] += int(row[i+2])
		}
	}
	n := rows * (right - left)
	at := func(i int) uint8 { return uint8((sum[i] + n/2) / n) }
	return color.RGBA{at(0), at(1), at(2), 0xff}
}

// turned draws an image as Exif's orientation says that it is to be looked at
// (Exif 2.32, tag 0x0112: 1 upright, 2 to 8 mirrored or turned).
func turned(m *image.RGBA, orientation int) *image.RGBA {
	right, bottom := m.Rect.Dx()-1, m.Rect.Dy()-1
	var from func(x, y int) (int, int) // where a pixel of the upright picture is
	switch orientation {
	case 2:
		from = func(x, y int) (int, int) { return right - x, y }
	case 3:
		from = func(x, y int) (int, int) { return right - x, bottom - y }
	case 4:
		from = func(x, y int) (int, int) { return x, bottom - y }
	case 5:
		from = func(x, y int) (int, int) { return y, x }
	case 6:
		from = func(x, y int) (int, int) { return y, bottom - x }
	case 7:
		from = func(x, y int) (int, int) { return right - y, bottom - x }
	case 8:
		from = func(x, y int) (int, int) { return right - y, x }
	default:
		return m
	}
	out := image.NewRGBA(m.Rect)
	if orientation >= 5 {
		out = image.NewRGBA(image.Rect(0, 0, bottom+1, right+1))
	}
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			fx, fy := from(x, y)
			out.SetRGBA(x, y, m.RGBAAt(fx, fy))
		}
	}
	return out
}

// orientation returns how a JPEG says that it is to be turned, 1 if it doesn't
// say so: the tag 0x0112 in the first directory of its Exif segment (JPEG: ITU-T
// T.81, B.1.1; TIFF 6.0, section 2).
func orientation(src []byte) int {
	if !bytes.HasPrefix(src, []byte("\xff\xd8")) {
		return 1
	}
	for b := src[2:]; len(b) >= 4 && b[0] == 0xff && b[1] != 0xda; {
		n := int(binary.BigEndian.Uint16(b[2:]))
		if n < 2 || len(b) < 2+n {
			return 1
		}
		if tiff, ok := bytes.CutPrefix(b[4:2+n], []byte("Exif\x00\x00")); ok && b[1] == 0xe1 {
			return tiffOrientation(tiff)
		}
		b = b[2+n:]
	}
	return 1
}

func tiffOrientation(b []byte) int {
	var order binary.ByteOrder = binary.BigEndian
	switch {
	case len(b) < 8:
		return 1
	case bytes.HasPrefix(b, []byte("II*\x00")):
		order = binary.LittleEndian
	case !bytes.HasPrefix(b, []byte("MM\x00*")):
		return 1
	}
	at := int64(order.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return 1
	}
	b = b[at:]
	for n, e := int(order.Uint16(b)), b[2:]; n > 0 && len(e) >= 12; n, e = n-1, e[12:] {
		if order.Uint16(e) == 0x0112 && order.Uint16(e[2:]) == 3 {
			if v := int(order.Uint16(e[8:])); v >= 1 && v <= 8 {
				return v
			}
			return 1
		}
	}
	return 1
}

// ErrHEIF is ErrFormat of a picture as some cameras write it by default.
var ErrHEIF = fmt.Errorf("%w: it is a HEIF picture (HEIC, AVIF)", ErrFormat)

// isHEIF reports whether a picture's first bytes are those of a HEIF file
// (ISO/IEC 23008-12: a box "ftyp" with one of its brands; AVIF's from memory).
func isHEIF(magic []byte) bool {
	if len(magic) < 12 || string(magic[4:8]) != "ftyp" {
		return false
	}
	switch string(magic[8:12]) {
	case "heic", "heix", "hevc", "hevx", "heim", "heis", "mif1", "msf1", "avif", "avis":
		return true
	}
	return false
}
