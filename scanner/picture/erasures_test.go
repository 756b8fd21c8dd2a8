package picture

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common/reedsolomon"
	"github.com/makiuchi-d/gozxing/datamatrix/decoder"
)

// TestErasuresAreFilledIn encodes random blocks with gozxing's encoder, which
// is not of this package, spoils some words at known and some at unknown
// places, and wants them back, up to what the theory allows less the spare.
func TestErasuresAreFilledIn(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 7))
	for name, f := range map[string]*reedsolomon.GenericGF{
		"DataMatrix": reedsolomon.GenericGF_DATA_MATRIX_FIELD_256, "QR": reedsolomon.GenericGF_QR_CODE_FIELD_256,
	} {
		for range 3000 {
			check := 5 + r.IntN(60)
			block := make([]int, 3+r.IntN(100)+check)
			for i := range block[:len(block)-check] {
				block[i] = r.IntN(256)
			}
			if err := reedsolomon.NewReedSolomonEncoder(f).Encode(block, check); err != nil {
				t.Fatal(err)
			}
			want := slices.Clone(block)
			holes := min(len(block), 1+r.IntN(check-spare))
			errors := r.IntN((check-spare-holes)/2 + 1)
			places := r.Perm(len(block))
			for _, p := range places[:min(len(block), holes+errors)] {
				block[p] ^= 1 + r.IntN(255)
			}
			if !correct(f, block, check, places[:holes]) {
				t.Fatalf("%s: %d holes and %d errors of %d check words: not corrected", name, holes, errors, check)
			}
			if !slices.Equal(block, want) {
				t.Fatalf("%s: %d holes and %d errors of %d check words: corrected to something else", name, holes, errors, check)
			}
		}
	}
}

// TestErasuresDontInvent: random words are no symbol. Three spare words let one
// in some 16 million pass.
func TestErasuresDontInvent(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	f := reedsolomon.GenericGF_DATA_MATRIX_FIELD_256
	for range 20000 {
		block := make([]int, 40)
		for i := range block {
			block[i] = r.IntN(256)
		}
		if correct(f, block, 18, r.Perm(40)[:1+r.IntN(18-spare)]) {
			t.Fatal("random words were corrected")
		}
	}
}

// TestPlacementIsTheStandards holds this package's placement, blocks and sizes
// against gozxing's decoder, on random modules, over all 48 sizes.
func TestPlacementIsTheStandards(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, z := range allDMSizes {
		m, err := gozxing.NewBitMatrix(z.cols, z.rows)
		if err != nil {
			t.Fatal(err)
		}
		// Letters, so that gozxing can make a text of it.
		data := make([]byte, z.data)
		for i := range data {
			data[i] = byte('A' + 1 + r.IntN(26))
		}
		draw(t, m, z, data)
		res, err := decoder.NewDecoder().Decode(m)
		if err != nil {
			t.Fatalf("%d×%d: gozxing doesn't read what this package places: %v", z.rows, z.cols, err)
		}
		if !slices.Equal(res.GetRawBytes(), data) {
			t.Errorf("%d×%d: gozxing reads other words", z.rows, z.cols)
		}
		if got, ok := z.corrected(cut{m: m}, false); !ok || !slices.Equal(got, data) {
			t.Errorf("%d×%d: read back other words", z.rows, z.cols)
		}
	}
}

// draw places data and check words, the latter by gozxing's encoder.
func draw(t *testing.T, m *gozxing.BitMatrix, z dmSize, data []byte) {
	t.Helper()
	words := make([]int, z.data+z.blocks*z.check)
	for b := range z.blocks {
		var at []int
		for i := b; i < len(words); i += z.blocks {
			at = append(at, i)
		}
		block := make([]int, len(at))
		for k, i := range at {
			if i < z.data {
				block[k] = int(data[i])
			}
		}
		if err := reedsolomon.NewReedSolomonEncoder(reedsolomon.GenericGF_DATA_MATRIX_FIELD_256).Encode(block, z.check); err != nil {
			t.Fatal(err)
		}
		for k, i := range at {
			words[i] = block[k]
		}
	}
	rows, cols, module := z.mapped()
	for i, w := range dmPlacement(rows, cols)[:len(words)] {
		for bit, k := range w {
			if words[i]>>(7-bit)&1 == 1 {
				m.Set(module(k))
			}
		}
	}
}
