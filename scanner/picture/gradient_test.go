package picture

import (
	"math"
	"testing"
)

// TestDirectionIsTheArctangent compares with the mathematics library, for every
// kind of gradient that eight bits can make, the steepest ones too.
func TestDirectionIsTheArctangent(t *testing.T) {
	for y := int32(-1020); y <= 1020; y += 3 {
		for x := int32(-1020); x <= 1020; x += 3 {
			if abs32(x)+abs32(y) < 16 {
				continue
			}
			want := math.Atan2(float64(y), float64(x)) * 128 / math.Pi
			if d := math.Abs(math.Remainder(float64(direction(x, y))-want, 256)); d > 3 {
				t.Fatalf("direction of (%d, %d) is off by %.1f of 256", x, y, d)
			}
		}
	}
}
