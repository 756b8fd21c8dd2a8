package picture

import (
	"github.com/makiuchi-d/gozxing"
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

// words reads the code words of an upright symbol, and which of them have a
// module for which lost is true.
func (z dmSize) words(m *gozxing.BitMatrix, lost func(c, r int) bool) (words []int, erased []bool) {
	rows, cols, module := z.mapped()
	placed := dmPlacement(rows, cols)[:z.data+z.blocks*z.check]
	words, erased = make([]int, len(placed)), make([]bool, len(placed))
	for i, w := range placed {
		for _, k := range w {
			c, r := module(k)
			words[i] <<= 1
			if m.Get(c, r) {
				words[i] |= 1
			}
			erased[i] = erased[i] || lost != nil && lost(c, r)
		}
	}
	return words, erased
}

// corrected returns the data code words of an upright symbol after error
// correction. Where modules are lost, their code words count as erasures.
func (z dmSize) corrected(m *gozxing.BitMatrix, lost func(c, r int) bool) ([]byte, bool) {
	words, erased := z.words(m, lost)
	data := make([]byte, z.data)
	field := reedsolomon.GenericGF_DATA_MATRIX_FIELD_256
	for b := range z.blocks {
		// Blocks are interleaved word by word, the check words like the data:
		// in the largest size, whose last two blocks are a word shorter, the
		// check words go on with the block where the data left off.
		var at []int
		for i := b; i < len(words); i += z.blocks {
			at = append(at, i)
		}
		block := make([]int, len(at))
		var holes []int
		for k, i := range at {
			block[k] = words[i]
			if erased[i] {
				holes = append(holes, k)
			}
		}
		if !correct(field, block, z.check, holes) {
			return nil, false
		}
		for k, i := range at[:len(at)-z.check] {
			data[i] = byte(block[k])
		}
	}
	return data, true
}
