package picture

import (
	"cmp"
	"slices"

	"github.com/makiuchi-d/gozxing/common/reedsolomon"
)

// spare is how many check words are left unused when erasures are filled in:
// with none over, any block at all can be "corrected".
const spare = 3

// mend corrects one Reed-Solomon block in place. With erasing, ever more of its
// least trusted words are taken as lost (generalized minimum distance decoding,
// Forney, Concatenated Codes, 1966): blur and glare make many words doubtful, and
// an error at a place that is known costs half as much.
func mend(f *reedsolomon.GenericGF, block []int, check int, trust []float32, erasing bool) bool {
	if !erasing {
		return correct(f, block, check, nil)
	}
	order := make([]int, len(block))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(trust[a], trust[b]) })
	whole := slices.Clone(block)
	for n := 0; n <= check-spare; n += max(2, check/8) {
		copy(block, whole)
		if correct(f, block, check, order[:n]) {
			return true
		}
	}
	return false
}

// correct mends one Reed-Solomon block of code words in place; check are its
// last words. holes are the indices of words that can't be trusted: each costs
// one check word, an error at an unknown place two. Without holes it is
// gozxing's decoder.
//
// With holes: the syndromes are multiplied by the polynomial of the holes
// (Forney's modified syndromes), the unknown errors found by Berlekamp and
// Massey's algorithm, and all magnitudes by Forney's formula. The result is
// checked by its syndromes.
func correct(f *reedsolomon.GenericGF, block []int, check int, holes []int) bool {
	if len(holes) == 0 {
		_, err := guarded(func() (struct{}, error) {
			return struct{}{}, reedsolomon.NewReedSolomonDecoder(f).Decode(block, check)
		})
		return err == nil
	}
	if len(holes) > check-spare {
		return false
	}
	e := erasures{f: f, block: block, check: check}
	s, clean := e.syndromes()
	if clean {
		return true
	}
	gamma := []int{1}
	for _, h := range holes {
		gamma = e.mul(gamma, []int{1, e.locator(h)})
	}
	errors, ok := e.errorLocator(e.mul(gamma, s), len(holes))
	if !ok {
		return false
	}
	return e.fill(e.mul(gamma, errors), s)
}

// erasures is the work on one block; polynomials have their lowest power
// first.
type erasures struct {
	f     *reedsolomon.GenericGF
	block []int
	check int
}

// locator is the field element that stands for a place in the block.
func (e *erasures) locator(index int) int { return e.f.Exp(len(e.block) - 1 - index) }

func (e *erasures) syndromes() (s []int, clean bool) {
	clean = true
	s = make([]int, e.check)
	for i := range s {
		x := e.f.Exp(i + e.f.GetGeneratorBase())
		for _, w := range e.block {
			s[i] = e.f.Multiply(s[i], x) ^ w
		}
		clean = clean && s[i] == 0
	}
	return s, clean
}

// mul multiplies polynomials, up to the power of the number of check words.
func (e *erasures) mul(a, b []int) []int {
	out := make([]int, min(len(a)+len(b)-1, e.check+1))
	for i, x := range a {
		for k, y := range b {
			if i+k < len(out) {
				out[i+k] ^= e.f.Multiply(x, y)
			}
		}
	}
	return out
}

func (e *erasures) at(p []int, x int) int {
	v := 0
	for i := len(p) - 1; i >= 0; i-- {
		v = e.f.Multiply(v, x) ^ p[i]
	}
	return v
}

func (e *erasures) inverse(x int) int {
	v, _ := e.f.Inverse(x) // x is never 0
	return v
}

// errorLocator finds the shortest polynomial that the modified syndromes
// beyond the holes obey (Berlekamp and Massey).
func (e *erasures) errorLocator(t []int, holes int) ([]int, bool) {
	c, before := []int{1}, []int{1}
	length, gap, last := 0, 1, 1
	for n := range e.check - holes {
		d := 0
		for i := range min(length, len(c)-1) + 1 {
			if n >= i {
				d ^= e.f.Multiply(c[i], t[holes+n-i])
			}
		}
		if d == 0 {
			gap++
			continue
		}
		k := e.f.Multiply(d, e.inverse(last))
		next := append([]int(nil), c...)
		for i, b := range before {
			for len(next) <= i+gap {
				next = append(next, 0)
			}
			next[i+gap] ^= e.f.Multiply(k, b)
		}
		if 2*length <= n {
			before, last = c, d
			length, gap = n+1-length, 1
		} else {
			gap++
		}
		c = next
	}
	return c, 2*length+holes <= e.check-spare
}

// fill corrects at every root of the locator polynomial, holes and errors
// alike.
func (e *erasures) fill(locator, s []int) bool {
	for len(locator) > 1 && locator[len(locator)-1] == 0 {
		locator = locator[:len(locator)-1]
	}
	omega := e.mul(locator, s)
	omega = omega[:min(len(omega), e.check)]
	roots := 0
	for i := range e.block {
		x := e.locator(i)
		inv := e.inverse(x)
		if e.at(locator, inv) != 0 {
			continue
		}
		roots++
		slope := 0 // of the locator, by its odd powers
		for k := 1; k < len(locator); k += 2 {
			v := locator[k]
			for range k - 1 {
				v = e.f.Multiply(v, inv)
			}
			slope ^= v
		}
		if slope == 0 {
			return false
		}
		v := e.f.Multiply(e.at(omega, inv), e.inverse(slope))
		if e.f.GetGeneratorBase() == 0 {
			v = e.f.Multiply(v, x)
		}
		e.block[i] ^= v
	}
	if roots != len(locator)-1 {
		return false
	}
	_, clean := e.syndromes()
	return clean
}
