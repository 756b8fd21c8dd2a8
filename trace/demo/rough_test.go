package demo_test

import (
	"fmt"
	"testing"
)

// A unit in which far more goes wrong than in a real one.
func TestAnswersAgainstTruthOfARoughUnit(t *testing.T) {
	var all sum
	for seed := uint64(1); seed <= 6; seed++ {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			o := small(seed, 0.3)
			o.Stations = 18
			o.CountErrors, o.Loss, o.Borrowed, o.Unwritten, o.Late, o.Mistyped = 0.9, 0.02, 0.05, 0.1, 0.15, 0.04
			all.add(makeUnit(t, o).holdAgainstTruth(t))
		})
	}
	t.Log(all)
}
