package demo_test

import (
	"flag"
	"fmt"
	"slices"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

var (
	seeds     = flag.Int("seeds", 0, "how many seeds TestFoundAndFalse and TestBacktestSeeds make units of; 0 leaves them out")
	firstSeed = flag.Uint64("first", 1, "the first of these seeds")
	lossOf    = flag.String("loss", "", "look at units with a loss of this product only")
)

// A tally adds up what was found of what was planted.
type tally struct {
	losses, found int
	late          []int // days from the start of a loss to its alarm, or to the word that it is steady
	falseAlarms   int
	// steady is of how many series it was said, at some time, that more goes
	// than comes back all the time: some of every product does get lost in the
	// demonstration, so that is no false word, and it finds no loss either.
	steady int
	months float64
}

// TestFoundAndFalse makes units of 180 days without a loss and with one of 2%
// from day 90 on, of the dialyzer used most (some 15 a day) and of the needle
// used most (some 25), looks at each once a week as a clerk would, and holds
// what is said against what is true. With -seeds 14 -first 101 -v it prints the
// figures of the README: TestALeakIsSeen is the short one.
func TestFoundAndFalse(t *testing.T) {
	if *seeds == 0 {
		t.Skip("-seeds says how many units to make: each takes some seconds")
	}
	sums := map[inventory.ProductID]*tally{}
	for _, of := range []inventory.ProductID{"", "DLZ-18", "NDL-15"} {
		if sums[of] = new(tally); *lossOf != "" && string(of) != *lossOf {
			continue
		}
		for seed := *firstSeed; seed < *firstSeed+uint64(*seeds); seed++ {
			o := demo.Defaults(until)
			o.Seed, o.Days = seed, 180
			if of != "" {
				o.Leak, o.LeakOf, o.LeakFrom = 0.02, of, 90
			}
			m := makeUnit(t, o)
			h, err := m.History(ctx, trace.Watching{From: day(&o, 0), To: day(&o, o.Days-1)})
			if err != nil {
				t.Fatal(err)
			}
			sums[of].watch(t, h, &o)
		}
		t.Logf("loss of %q: %s", of, sums[of])
	}
	if s := sums[""]; s.falseAlarms > max(2, int(s.months)/4) {
		t.Errorf("without a loss there are %s", s)
	}
	for _, of := range []inventory.ProductID{"DLZ-18", "NDL-15"} {
		if s := sums[of]; s.found < s.losses/2 {
			t.Errorf("loss of %s: %s", of, s)
		}
	}
}

// watch looks at the end of each week from the fourth on.
func (s *tally) watch(t *testing.T, h *trace.History, o *demo.Options) {
	t.Helper()
	found, before, steady := false, map[string]bool{}, map[string]int{}
	for n := 27; n < o.Days; n += 7 {
		w := h.Watch(day(o, n))
		now := map[string]bool{}
		for i := range w.Series {
			a := &w.Series[i]
			// On the day on which it begins nothing can be seen of it yet: what
			// is said then is chance.
			planted := o.Leak > 0 && a.Product == o.LeakOf && n > o.LeakFrom
			key := string(a.Product) + " " + string(a.Location)
			switch {
			case planted && a.Alarm && !found:
				found = true
				s.late = append(s.late, n-o.LeakFrom)
				t.Logf("seed %d, day %d: %s at %q: %s", o.Seed, n, a.Product, a.Location, a.Words)
			case a.Steady && !a.Alarm:
				if steady[key]++; steady[key] == 1 {
					s.steady++
				}
			case !planted && a.Alarm:
				if now[key] = true; !before[key] {
					s.falseAlarms++
					t.Logf("seed %d, day %d: FALSE: %s at %q: %s", o.Seed, n, a.Product, a.Location, a.Words)
				}
			}
		}
		before = now
	}
	s.months += float64(o.Days-27) / 30.4
	if o.Leak > 0 {
		s.losses++
		if found {
			s.found++
		}
	}
}

func (s *tally) String() string {
	late := slices.Sorted(slices.Values(s.late))
	text := fmt.Sprintf("%d of %d losses found; %d false alarms, and %d series of which more goes all the time, in %.0f months", s.found, s.losses, s.falseAlarms, s.steady, s.months)
	if len(late) > 0 {
		text += fmt.Sprintf("; found after %d days in the middle, %d at the earliest, %d at the latest", late[len(late)/2], late[0], late[len(late)-1])
	}
	return text
}
