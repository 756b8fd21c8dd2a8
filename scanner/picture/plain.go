package picture

import (
	"strconv"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// luminance lends a gray picture to gozxing's binarizers, as it is or
// inverted.
type luminance struct {
	gozxing.LuminanceSourceBase
	g      *gray
	invert bool
}

func newLuminance(g *gray, invert bool) gozxing.LuminanceSource {
	return &luminance{LuminanceSourceBase: gozxing.LuminanceSourceBase{Width: g.w, Height: g.h}, g: g, invert: invert}
}

func (l *luminance) GetRow(y int, row []byte) ([]byte, error) {
	row = append(row[:0], l.g.row(y)...)
	if l.invert {
		for i, v := range row {
			row[i] = 255 - v
		}
	}
	return row, nil
}

func (l *luminance) GetMatrix() []byte {
	m := make([]byte, l.g.w*l.g.h)
	for y := range l.g.h {
		copy(m[y*l.g.w:], l.g.row(y))
	}
	if l.invert {
		for i, v := range m {
			m[i] = 255 - v
		}
	}
	return m
}

func (l *luminance) Invert() gozxing.LuminanceSource { return newLuminance(l.g, !l.invert) }

func (l *luminance) String() string {
	return "luminance " + strconv.Itoa(l.g.w) + "x" + strconv.Itoa(l.g.h)
}

// plainMax is the largest picture, in pixels, that gozxing's whole-picture
// readers are given: they know no context, and take seconds for noise of tens
// of megapixels.
const plainMax = 2_500_000

// plain runs gozxing's own whole-picture readers over the larger levels: one
// symbol of each kind at most, axis-led, and a second opinion on pictures
// where our own finders see nothing. Not its linear readers: they believe one
// row of pixels, and then read EAN codes out of any texture.
func (s *search) plain() {
	levels := 0
	for k, g := range s.levels {
		if g.w*g.h > plainMax {
			continue
		}
		if levels++; levels > 2 {
			return
		}
		scale := float64(int(1) << k)
		for _, invert := range []bool{false, true} {
			src := newLuminance(g, invert)
			for _, bin := range []gozxing.Binarizer{gozxing.NewHybridBinarizer(src), gozxing.NewGlobalHistgramBinarizer(src)} {
				bmp, err := gozxing.NewBinaryBitmap(bin)
				if err != nil {
					continue
				}
				for _, r := range plainReaders() {
					if s.stopped() {
						return
					}
					s.plainOne(r, bmp, scale)
				}
			}
		}
	}
}

func plainReaders() []gozxing.Reader {
	return []gozxing.Reader{
		datamatrix.NewDataMatrixReader(), qrcode.NewQRCodeReader(),
	}
}

func (s *search) plainOne(r gozxing.Reader, bmp *gozxing.BinaryBitmap, scale float64) {
	hints := map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_TRY_HARDER: true}
	res, err := guarded(func() (*gozxing.Result, error) { return r.Decode(bmp, hints) })
	if err != nil || res == nil {
		return
	}
	sym := Symbol{Corners: cornersOf(res.GetResultPoints(), scale)}
	switch res.GetBarcodeFormat() {
	case gozxing.BarcodeFormat_DATA_MATRIX, gozxing.BarcodeFormat_QR_CODE:
		id, _ := res.GetResultMetadata()[gozxing.ResultMetadataType_SYMBOLOGY_IDENTIFIER].(string)
		sym.Symbology, sym.Text = id, matrixText(id, res.GetText())
	default:
		return
	}
	s.add(sym)
}

// cornersOf makes a quadrilateral of gozxing's points: two ends of a scan
// line, three finder centres, or four corners.
func cornersOf(pts []gozxing.ResultPoint, scale float64) [4]Point {
	p := make([]Point, 0, 4)
	for _, r := range pts {
		if r != nil {
			p = append(p, Point{X: r.GetX() * scale, Y: r.GetY() * scale})
		}
	}
	switch {
	case len(p) == 0:
		return [4]Point{}
	case len(p) == 1:
		return [4]Point{p[0], p[0], p[0], p[0]}
	case len(p) == 2:
		return [4]Point{p[0], p[1], p[1], p[0]}
	case len(p) == 3: // bottom left, top left, top right
		d := Point{X: p[0].X + p[2].X - p[1].X, Y: p[0].Y + p[2].Y - p[1].Y}
		return [4]Point{p[1], p[2], d, p[0]}
	}
	return [4]Point{p[0], p[1], p[2], p[3]}
}
