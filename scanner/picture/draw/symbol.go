package draw

import (
	"fmt"
	"strings"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix/encoder"
	"github.com/makiuchi-d/gozxing/oned"

	"lotbook/scanner/gs1"
)

// A Symbol is a grid of modules, without the quiet zone around it.
type Symbol struct {
	// Rows has a row of modules each, true for dark; a linear symbol has
	// one row.
	Rows [][]bool
	// Quiet is the width of the quiet zone in modules that the symbology
	// wants on each side; a linear symbol needs none above and below.
	Quiet int
}

// Linear reports whether the symbol's bars may be of any height.
func (s *Symbol) Linear() bool { return len(s.Rows) == 1 }

// Encode draws a text as the symbology of an AIM identifier: ]C0 (Code 128), ]C1
// (GS1-128), ]d1 (DataMatrix) or ]d2 (GS1 DataMatrix). The text is ASCII; in the
// GS1 kinds U+001D stands for a separator, and FNC1 is put in front.
func Encode(symbology, text string) (*Symbol, error) {
	for i := range len(text) {
		if text[i] > '~' {
			return nil, fmt.Errorf("draw %s: only ASCII can be drawn, not %q", symbology, text)
		}
	}
	var s *Symbol
	var err error
	switch symbology {
	case "]C0":
		s, err = code128(text)
	case "]C1":
		s, err = code128(fnc1 + strings.ReplaceAll(text, string(gs1.Separator), fnc1))
	case "]d1":
		s, err = dataMatrix(ascii(nil, text, false))
	case "]d2":
		s, err = dataMatrix(ascii([]byte{fnc1Word}, text, true))
	default:
		return nil, fmt.Errorf("draw: there is no drawing of symbology %q", symbology)
	}
	if err != nil {
		return nil, fmt.Errorf("draw %s: %w", symbology, err)
	}
	return s, nil
}

// fnc1 is what gozxing's writer takes for FNC1.
const fnc1 = "\u00f1"

func code128(text string) (*Symbol, error) {
	m, err := oned.NewCode128Writer().EncodeWithoutHint(text, gozxing.BarcodeFormat_CODE_128, 0, 1)
	if err != nil {
		return nil, err
	}
	row := make([]bool, m.GetWidth())
	first, last := -1, 0
	for x := range row {
		if row[x] = m.Get(x, 0); row[x] {
			if first < 0 {
				first = x
			}
			last = x
		}
	}
	return &Symbol{Rows: [][]bool{row[first : last+1]}, Quiet: 10}, nil // ISO/IEC 15417, 4.3
}

// Code words of DataMatrix's ASCII encodation (ISO/IEC 16022, table 2).
const (
	padWord    = 129
	digitWords = 130 // and a number of two digits
	fnc1Word   = 232
)

// ascii appends a text to code words.
func ascii(words []byte, text string, separators bool) []byte {
	digit := func(i int) bool { return i < len(text) && '0' <= text[i] && text[i] <= '9' }
	for i := 0; i < len(text); i++ {
		switch {
		case separators && text[i] == gs1.Separator:
			words = append(words, fnc1Word)
		case digit(i) && digit(i+1):
			words = append(words, digitWords+10*(text[i]-'0')+text[i+1]-'0')
			i++
		default:
			words = append(words, text[i]+1)
		}
	}
	return words
}

func dataMatrix(words []byte) (*Symbol, error) {
	info, err := encoder.SymbolInfo_Lookup(len(words), encoder.SymbolShapeHint_FORCE_SQUARE, nil, nil, true)
	if err != nil {
		return nil, err
	}
	words, err = encoder.ErrorCorrection_EncodeECC200(padded(words, info.GetDataCapacity()), info)
	if err != nil {
		return nil, err
	}
	data := encoder.NewDefaultPlacement(words, info.GetSymbolDataWidth(), info.GetSymbolDataHeight())
	data.Place()
	w, h := info.GetMatrixWidth()+2, info.GetMatrixHeight()+2 // of a region with its borders
	rows := make([][]bool, info.GetSymbolHeight())
	for y := range rows {
		rows[y] = make([]bool, info.GetSymbolWidth())
		for x := range rows[y] {
			switch inX, inY := x%w, y%h; {
			case inX == 0 || inY == h-1: // the solid sides, left and below
				rows[y][x] = true
			case inY == 0:
				rows[y][x] = inX%2 == 0
			case inX == w-1:
				rows[y][x] = inY%2 == 1
			default:
				rows[y][x] = data.GetBit(x/w*(w-2)+inX-1, y/h*(h-2)+inY-1)
			}
		}
	}
	return &Symbol{Rows: rows, Quiet: 1}, nil // ISO/IEC 16022, 7.3
}

// padded fills code words up with pad characters, of which all but the first
// are scrambled by their place (ISO/IEC 16022, 5.2.4.2 and annex B.1).
func padded(words []byte, capacity int) []byte {
	for first := true; len(words) < capacity; first = false {
		w := padWord
		if !first {
			if w += (149*(len(words)+1))%253 + 1; w > 254 {
				w -= 254
			}
		}
		words = append(words, byte(w))
	}
	return words
}
