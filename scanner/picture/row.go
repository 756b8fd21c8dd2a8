package picture

import (
	"math"

	"github.com/makiuchi-d/gozxing"
)

const (
	rowModule = 8  // bits a module in the rows given to gozxing's readers
	rowQuiet  = 12 // modules of clear space added at either end
)

// row draws the runs as the row of bits that gozxing's readers take, with the
// bars made wider by a share of a module to undo what ink and blur did.
func (r runs) row(bias float64) *gozxing.BitArray {
	n := r.len()
	module := r.narrow(-2)
	if n > 40 {
		module = (module + r.narrow(n/2)) / 2
	}
	k := rowModule / module
	total := int((r.at[n]-r.at[0])*k) + 2*rowQuiet*rowModule + 2
	if total > 60000 {
		return nil
	}
	bits := gozxing.NewBitArray(total)
	at := func(i int) int {
		x := (r.at[i]-r.at[0])*k + rowQuiet*rowModule
		if i%2 == 0 {
			x -= bias / 2 * rowModule
		} else {
			x += bias / 2 * rowModule
		}
		return int(math.Round(x))
	}
	for i := 0; i < n; i += 2 {
		if a, b := at(i), at(i+1); b > a && a >= 0 {
			_ = bits.SetRange(a, b)
		}
	}
	return bits
}
