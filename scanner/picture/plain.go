package picture

import (
	"strconv"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix/detector"
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

// plain runs gozxing's own whole-picture readers over the largest level that
// they can take, if our own finders see nothing: a second opinion, axis-led, of
// one symbol of each kind at most. Not its linear readers: they believe one row
// of pixels, and then read EAN codes out of any texture.
func (s *search) plain() {
	if len(s.found) > 0 {
		return
	}
	done := false
	for k, g := range s.levels {
		if g.w*g.h > plainMax || done {
			continue
		}
		done = true
		scale := float64(int(1) << k)
		for _, invert := range []bool{false, true} {
			src := newLuminance(g, invert)
			for _, bin := range []gozxing.Binarizer{gozxing.NewHybridBinarizer(src), gozxing.NewGlobalHistgramBinarizer(src)} {
				bmp, err := gozxing.NewBinaryBitmap(bin)
				if err != nil {
					continue
				}
				if s.stopped() {
					return
				}
				s.plainOne(bmp, scale)
			}
		}
	}
}

// plainOne runs both readers on one binarization.
func (s *search) plainOne(bmp *gozxing.BinaryBitmap, scale float64) {
	_, _ = guarded(func() (struct{}, error) {
		bits, err := bmp.GetBlackMatrix()
		if err != nil {
			return struct{}{}, err
		}
		d, err := detector.NewDetector(bits)
		if err != nil {
			return struct{}{}, err
		}
		found, err := d.Detect()
		if err != nil {
			return struct{}{}, err
		}
		for _, z := range allDMSizes {
			if m := found.GetBits(); z.rows == m.GetHeight() && z.cols == m.GetWidth() && finderModules(m, z) >= z.wanted() {
				if text, id, ok := decodeDataMatrix(cut{m: m}, z, false); ok {
					s.add(Symbol{Symbology: id, Text: text, Corners: cornersOf(found.GetPoints(), scale)})
				}
			}
		}
		return struct{}{}, nil
	})
	_, _ = guarded(func() (struct{}, error) {
		hints := map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_TRY_HARDER: true}
		res, err := qrcode.NewQRCodeReader().Decode(bmp, hints)
		if err != nil {
			return struct{}{}, err
		}
		id, _ := res.GetResultMetadata()[gozxing.ResultMetadataType_SYMBOLOGY_IDENTIFIER].(string)
		s.add(Symbol{Symbology: id, Text: matrixText(id, res.GetText()), Corners: cornersOf(res.GetResultPoints(), scale)})
		return struct{}{}, nil
	})
}

// finderModules is the share of a matrix's modules known beforehand, the solid
// and the alternating sides, that are right.
func finderModules(m *gozxing.BitMatrix, z dmSize) float64 {
	right, all := 0, 0
	for _, p := range z.probes() {
		if p.u < 0 || p.v < 0 || p.u > 1 || p.v > 1 {
			continue
		}
		all++
		if m.Get(int(p.u*float64(z.cols)), int(p.v*float64(z.rows))) == p.dark {
			right++
		}
	}
	return float64(right) / float64(max(1, all))
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
