package picture

import (
	"math"

	"github.com/makiuchi-d/gozxing/common/reedsolomon"
)

// A dmWord is where the eight bits of one code word lie, as indices into the
// mapping matrix (the symbol without its finder and timing modules), the most
// significant first.
type dmWord [8]int

// dmPlacement lists the code words of a mapping matrix in their order (ISO/IEC
// 16022 annex F; for the wide symbols of DMRE a bit may also run out at the
// bottom, ISO/IEC 21471).
func dmPlacement(rows, cols int) []dmWord {
	p := dmPlacer{rows: rows, cols: cols, used: make([]bool, rows*cols)}
	row, col := 4, 0
	for row < rows || col < cols {
		switch {
		case row == rows && col == 0:
			p.word([8][2]int{{rows - 1, 0}, {rows - 1, 1}, {rows - 1, 2}, {0, cols - 2}, {0, cols - 1}, {1, cols - 1}, {2, cols - 1}, {3, cols - 1}})
		case row == rows-2 && col == 0 && cols%4 != 0:
			p.word([8][2]int{{rows - 3, 0}, {rows - 2, 0}, {rows - 1, 0}, {0, cols - 4}, {0, cols - 3}, {0, cols - 2}, {0, cols - 1}, {1, cols - 1}})
		case row == rows-2 && col == 0 && cols%8 == 4:
			p.word([8][2]int{{rows - 3, 0}, {rows - 2, 0}, {rows - 1, 0}, {0, cols - 2}, {0, cols - 1}, {1, cols - 1}, {2, cols - 1}, {3, cols - 1}})
		case row == rows+4 && col == 2 && cols%8 == 0:
			p.word([8][2]int{{rows - 1, 0}, {rows - 1, cols - 1}, {0, cols - 3}, {0, cols - 2}, {0, cols - 1}, {1, cols - 3}, {1, cols - 2}, {1, cols - 1}})
		}
		for ; ; row, col = row-2, col+2 { // up and to the right
			if row < rows && col >= 0 {
				p.utah(row, col)
			}
			if row-2 < 0 || col+2 >= cols {
				row, col = row-2+1, col+2+3
				break
			}
		}
		for ; ; row, col = row+2, col-2 { // down and to the left
			if row >= 0 && col < cols {
				p.utah(row, col)
			}
			if row+2 >= rows || col-2 < 0 {
				row, col = row+2+3, col-2+1
				break
			}
		}
	}
	return p.words
}

type dmPlacer struct {
	rows, cols int
	used       []bool
	words      []dmWord
}

// utah places a word in its usual shape, with its last bit at a place, unless
// that is taken.
func (p *dmPlacer) utah(r, c int) {
	if !p.used[r*p.cols+c] {
		p.word([8][2]int{{r - 2, c - 2}, {r - 2, c - 1}, {r - 1, c - 2}, {r - 1, c - 1}, {r - 1, c}, {r, c - 2}, {r, c - 1}, {r, c}})
	}
}

func (p *dmPlacer) word(at [8][2]int) {
	var w dmWord
	for i, rc := range at {
		r, c := rc[0], rc[1]
		if r < 0 {
			r += p.rows
			c += 4 - (p.rows+4)%8
		}
		if c < 0 {
			c += p.cols
			r += 4 - (p.cols+4)%8
		}
		if r >= p.rows {
			r -= p.rows
		}
		w[i] = r*p.cols + c
		p.used[w[i]] = true
	}
	p.words = append(p.words, w)
}

// mapped returns the size of the mapping matrix, and the function that says
// which module of the symbol an index into it is.
func (z dmSize) mapped() (rows, cols int, module func(int) (c, r int)) {
	rows = z.rows / (z.regionRows + 2) * z.regionRows
	cols = z.cols / (z.regionCols + 2) * z.regionCols
	return rows, cols, func(i int) (c, r int) {
		r, c = i/cols, i%cols
		return c + 1 + c/z.regionCols*2, r + 1 + r/z.regionRows*2
	}
}

// words reads the code words of an upright symbol, and how far each can be
// trusted: as far as its least trusted module.
func (z dmSize) words(c cut) (words []int, trust []float32) {
	rows, cols, module := z.mapped()
	placed := dmPlacement(rows, cols)[:z.data+z.blocks*z.check]
	words, trust = make([]int, len(placed)), make([]float32, len(placed))
	for i, w := range placed {
		trust[i] = float32(math.Inf(1))
		for _, k := range w {
			x, y := module(k)
			words[i] <<= 1
			if c.m.Get(x, y) {
				words[i] |= 1
			}
			if c.trust != nil {
				trust[i] = min(trust[i], c.trust[y*z.cols+x])
			}
		}
	}
	return words, trust
}

// corrected returns the data code words of an upright symbol after error
// correction; with erasing, see mend.
func (z dmSize) corrected(c cut, erasing bool) ([]byte, bool) {
	words, trust := z.words(c)
	data := make([]byte, z.data)
	for b := range z.blocks {
		// Blocks are interleaved word by word, the check words like the data:
		// in the largest size, whose last two blocks are a word shorter, the
		// check words go on with the block where the data left off.
		var at []int
		for i := b; i < len(words); i += z.blocks {
			at = append(at, i)
		}
		block, doubt := make([]int, len(at)), make([]float32, len(at))
		for k, i := range at {
			block[k], doubt[k] = words[i], trust[i]
		}
		if !mend(reedsolomon.GenericGF_DATA_MATRIX_FIELD_256, block, z.check, doubt, erasing) {
			return nil, false
		}
		for k, i := range at[:len(at)-z.check] {
			data[i] = byte(block[k])
		}
	}
	return data, true
}

// padsRight says whether the words behind the first pad are padding as the
// standard scrambles it (ISO/IEC 16022, 5.2.4.2 and annex B.1). Asked where the
// error correction had to go far: it can't be so by chance.
func padsRight(words []byte, from int) bool {
	for i := from; i < len(words); i++ {
		w := 129 + 149*(i+1)%253 + 1
		if w > 254 {
			w -= 254
		}
		if int(words[i]) != w {
			return false
		}
	}
	return true
}
