package picture

import (
	"math"
	"math/bits"
	"strconv"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common"
	"github.com/makiuchi-d/gozxing/common/reedsolomon"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// decodeQR reads an exact module matrix, or its mirror image. With erasing, the
// words that can be trusted least are left to the error correction.
func decodeQR(c cut, erasing bool) (text, id string, ok bool) {
	if c.m == nil {
		return "", "", false
	}
	res, err := guarded(func() (*common.DecoderResult, error) {
		if erasing {
			return decodeErasing(c)
		}
		m, err := copied(c.m)
		if err != nil {
			return nil, err
		}
		return decoder.NewDecoder().Decode(m, nil)
	})
	if err != nil || res == nil {
		return "", "", false
	}
	id = "]Q" + strconv.Itoa(res.GetSymbologyModifier())
	text = matrixText(id, res.GetText())
	return text, id, text != ""
}

// decodeErasing does what gozxing's decoder does, with erasures.
func decodeErasing(c cut) (*common.DecoderResult, error) {
	words, version, level, err := qrWords(c.m)
	if err != nil {
		return nil, err
	}
	places, err := wordPlaces(c.m, len(words))
	if err != nil {
		return nil, err
	}
	// The blocks are interleaved: an index in the place of each word shows where
	// it goes.
	var low, high []byte
	for i := range words {
		low, high = append(low, byte(i)), append(high, byte(i>>8))
	}
	blocks, err := decoder.DataBlock_GetDataBlocks(words, version, level)
	if err != nil {
		return nil, err
	}
	lows, err := decoder.DataBlock_GetDataBlocks(low, version, level)
	if err != nil {
		return nil, err
	}
	highs, err := decoder.DataBlock_GetDataBlocks(high, version, level)
	if err != nil {
		return nil, err
	}
	var data []byte
	for k, b := range blocks {
		bytes := b.GetCodewords()
		block, trust := make([]int, len(bytes)), make([]float32, len(bytes))
		for i, w := range bytes {
			block[i] = int(w)
			trust[i] = float32(math.Inf(1))
			for _, module := range places[int(lows[k].GetCodewords()[i])|int(highs[k].GetCodewords()[i])<<8] {
				trust[i] = min(trust[i], c.trust[module])
			}
		}
		n := b.GetNumDataCodewords()
		if !mend(reedsolomon.GenericGF_QR_CODE_FIELD_256, block, len(block)-n, trust, true) {
			return nil, gozxing.NewChecksumException()
		}
		for _, w := range block[:n] {
			data = append(data, byte(w))
		}
	}
	return decoder.DecodedBitStreamParser_Decode(data, version, level, nil)
}

// copied is a matrix for gozxing's decoder, which changes what it is given.
func copied(m *gozxing.BitMatrix) (*gozxing.BitMatrix, error) {
	out, err := gozxing.NewSquareBitMatrix(m.GetWidth())
	if err != nil {
		return nil, err
	}
	return out, out.Xor(m)
}

// qrWords reads the code words of a matrix, which is left as it was.
func qrWords(m *gozxing.BitMatrix) ([]byte, *decoder.Version, decoder.ErrorCorrectionLevel, error) {
	var none decoder.ErrorCorrectionLevel
	own, err := copied(m)
	if err != nil {
		return nil, nil, none, err
	}
	p, err := decoder.NewBitMatrixParser(own)
	if err != nil {
		return nil, nil, none, err
	}
	v, err := p.ReadVersion()
	if err != nil {
		return nil, nil, none, err
	}
	f, err := p.ReadFormatInformation()
	if err != nil {
		return nil, nil, none, err
	}
	words, err := p.ReadCodewords()
	return words, v, f.GetErrorCorrectionLevel(), err
}

// wordPlaces lists the modules of each code word, as indices row by row. It asks
// gozxing where it takes each bit from: with the modules flipped whose index has
// a certain bit, the bits of the words that change are those of that index.
func wordPlaces(m *gozxing.BitMatrix, words int) ([][8]int, error) {
	n := m.GetWidth()
	before, _, _, err := qrWords(m)
	if err != nil {
		return nil, err
	}
	out := make([][8]int, words)
	for k := range bits.Len(uint(n * n)) {
		flipped, err := copied(m)
		if err != nil {
			return nil, err
		}
		for i := range n * n {
			if x, y := i%n, i/n; i>>k&1 == 1 && !tellsFormat(x, y, n) {
				flipped.Flip(x, y)
			}
		}
		after, _, _, err := qrWords(flipped)
		if err != nil {
			return nil, err
		}
		for w := range out {
			for b := range 8 {
				out[w][b] |= int((before[w]^after[w])>>(7-b)&1) << k
			}
		}
	}
	return out, nil
}

// tellsFormat says whether a module may be of the format or version information
// (ISO/IEC 18004, 7.9 and 7.10), with the position patterns next to them.
func tellsFormat(x, y, n int) bool {
	return x < 9 && (y < 9 || y >= n-8) || x >= n-8 && y < 9 ||
		n >= 45 && (x >= n-11 && y < 6 || y >= n-11 && x < 6)
}
