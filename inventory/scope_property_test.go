package inventory_test

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"lotbook/inventory"
)

// Lots of one form, of which only the number in one place changes, lie in a
// range as their numbers do, which plain arithmetic knows. A lot so written that
// it could be taken for one in the range, or for a bound, is never left out.
func TestScopeRangeProperty(t *testing.T) {
	const seed = 20261126
	rng := rand.New(rand.NewPCG(seed, 1))
	letters := func() string {
		b := make([]byte, rng.IntN(4))
		for i := range b {
			b[i] = byte('A' + rng.IntN(26))
		}
		return string(b)
	}
	confusable := strings.NewReplacer("0", "O", "1", "I", "5", "S", "8", "B", "2", "Z")
	inside, outside := 0, 0
	for i := range 20000 {
		prefix, suffix, width := letters(), letters(), 1+rng.IntN(6)
		top := 1
		for range width {
			top *= 10
		}
		a, b, n := rng.IntN(top), rng.IntN(top), rng.IntN(top)
		if a > b {
			a, b = b, a
		}
		if rng.IntN(4) == 0 {
			n = []int{a, b, max(a-1, 0), min(b+1, top-1)}[rng.IntN(4)]
		}
		of := func(n int) string { return prefix + fmt.Sprintf("%0*d", width, n) + suffix }
		scope := inventory.Scope{{Kind: inventory.ScopeRange, From: of(a), To: of(b)}}
		if err := scope.Check(); err != nil {
			t.Fatalf("seed %d, %d: %v", seed, i, err)
		}
		want := inventory.NotMeant
		if a <= n && n <= b {
			want = inventory.Meant
			inside++
		} else {
			outside++
		}
		if m := scope.Match(&inventory.Pieces{Lot: of(n)}); m.Verdict != want {
			// Outside, it may still read almost as one inside; it is never meant.
			if want != inventory.NotMeant || m.Verdict != inventory.Doubtful {
				t.Fatalf("seed %d: %s in %s: %s (%s), want %s", seed, of(n), scope[0].Words(), m.Verdict, m.Why, want)
			}
		}
		if want != inventory.Meant {
			continue
		}
		for _, written := range []string{
			strings.ToLower(of(n)), confusable.Replace(of(n)), of(n) + " ", "0" + of(n), prefix + "-" + fmt.Sprintf("%0*d", width, n) + suffix,
			prefix + strconv.Itoa(n) + suffix,
		} {
			if m := scope.Match(&inventory.Pieces{Lot: written}); m.Verdict == inventory.NotMeant {
				t.Fatalf("seed %d: %q, for %s in %s, is left out: %s", seed, written, of(n), scope[0].Words(), m.Why)
			}
		}
	}
	if inside < 1000 || outside < 1000 {
		t.Errorf("%d inside, %d outside: nothing was tried", inside, outside)
	}
}

// Whatever a scope and a lot hold, it is judged, and what is listed is meant.
func FuzzScope(f *testing.F) {
	f.Add("A0100", "A0250", "A*", "A0180")
	f.Add("", "9", "?#*", "O")
	f.Add("é", "\xff", "**", "-")
	f.Fuzz(func(t *testing.T, from, to, pattern, lot string) {
		s := inventory.Scope{
			{Kind: inventory.ScopeRange, From: from, To: to},
			{Kind: inventory.ScopePattern, Pattern: pattern},
			{Kind: inventory.ScopeLots, Lots: []string{from}, SerialFrom: to, SerialTo: pattern},
		}
		p := &inventory.Pieces{Lot: lot, Serial: pattern}
		m := s.Match(p)
		if m.Why == "" {
			t.Errorf("%+v of %q: no reason", m, lot)
		}
		if lot == from && lot != "" && (inventory.Scope{{Kind: inventory.ScopeLots, Lots: []string{from}}}).Match(p).Verdict != inventory.Meant {
			t.Errorf("%q is listed and not meant", lot)
		}
	})
}
