package picture

import "slices"

// A dmSize is a size of DataMatrix symbol in modules, of its data regions
// without their finder and timing modules, and the code words that it holds:
// data of all blocks together, check words of each (ISO/IEC 16022 table 7; the
// DMRE sizes ISO/IEC 21471 table 7).
type dmSize struct {
	rows, cols             int
	regionRows, regionCols int
	data, check, blocks    int
	extension              bool // DMRE
}

func dmSizes() []dmSize {
	return []dmSize{
		{10, 10, 8, 8, 3, 5, 1, false},
		{12, 12, 10, 10, 5, 7, 1, false},
		{14, 14, 12, 12, 8, 10, 1, false},
		{16, 16, 14, 14, 12, 12, 1, false},
		{18, 18, 16, 16, 18, 14, 1, false},
		{20, 20, 18, 18, 22, 18, 1, false},
		{22, 22, 20, 20, 30, 20, 1, false},
		{24, 24, 22, 22, 36, 24, 1, false},
		{26, 26, 24, 24, 44, 28, 1, false},
		{32, 32, 14, 14, 62, 36, 1, false},
		{36, 36, 16, 16, 86, 42, 1, false},
		{40, 40, 18, 18, 114, 48, 1, false},
		{44, 44, 20, 20, 144, 56, 1, false},
		{48, 48, 22, 22, 174, 68, 1, false},
		{52, 52, 24, 24, 204, 42, 2, false},
		{64, 64, 14, 14, 280, 56, 2, false},
		{72, 72, 16, 16, 368, 36, 4, false},
		{80, 80, 18, 18, 456, 48, 4, false},
		{88, 88, 20, 20, 576, 56, 4, false},
		{96, 96, 22, 22, 696, 68, 4, false},
		{104, 104, 24, 24, 816, 56, 6, false},
		{120, 120, 18, 18, 1050, 68, 6, false},
		{132, 132, 20, 20, 1304, 62, 8, false},
		{144, 144, 22, 22, 1558, 62, 10, false},
		{8, 18, 6, 16, 5, 7, 1, false},
		{8, 32, 6, 14, 10, 11, 1, false},
		{12, 26, 10, 24, 16, 14, 1, false},
		{12, 36, 10, 16, 22, 18, 1, false},
		{16, 36, 14, 16, 32, 24, 1, false},
		{16, 48, 14, 22, 49, 28, 1, false},
		{8, 48, 6, 22, 18, 15, 1, true},
		{8, 64, 6, 14, 24, 18, 1, true},
		{8, 80, 6, 18, 32, 22, 1, true},
		{8, 96, 6, 22, 38, 28, 1, true},
		{8, 120, 6, 18, 49, 32, 1, true},
		{8, 144, 6, 22, 63, 36, 1, true},
		{12, 64, 10, 14, 43, 27, 1, true},
		{12, 88, 10, 20, 64, 36, 1, true},
		{16, 64, 14, 14, 62, 36, 1, true},
		{20, 36, 18, 16, 44, 28, 1, true},
		{20, 44, 18, 20, 56, 34, 1, true},
		{20, 64, 18, 14, 84, 42, 1, true},
		{22, 48, 20, 22, 72, 38, 1, true},
		{24, 48, 22, 22, 80, 41, 1, true},
		{24, 64, 22, 14, 108, 46, 1, true},
		{26, 40, 24, 18, 70, 38, 1, true},
		{26, 48, 24, 22, 90, 42, 1, true},
		{26, 64, 24, 14, 118, 50, 1, true},
	}
}

var (
	allDMSizes = dmSizes()
	dmCounts   = sideCounts(allDMSizes)
)

// sideCounts are the counts of modules that a side can have.
func sideCounts(sizes []dmSize) []int {
	var out []int
	for _, z := range sizes {
		out = append(out, z.rows, z.cols)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// onSide is the size as a mirrored symbol stands in the picture before it is
// turned over: rows and columns exchanged.
func (z dmSize) onSide() dmSize {
	z.rows, z.cols, z.regionRows, z.regionCols = z.cols, z.rows, z.regionCols, z.regionRows
	return z
}
