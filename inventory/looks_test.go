package inventory_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lotbook/inventory"
)

// LooksLike goes character by character; held against the same said with whole
// texts: the fold, the letters that are read as digits, zeros in front.
func TestLooksLike(t *testing.T) {
	whole := func(s string) string {
		return strings.TrimLeft(strings.NewReplacer("D", "0", "Q", "0", "S", "5", "B", "8", "Z", "2", "G", "6").Replace(inventory.Fold(s)), "0")
	}
	number := rapid.StringOfN(rapid.SampledFrom([]rune("00OoDdQ1IlL5S8bB2Z6gé -./AX")), 0, 6, -1)
	alike := 0
	rapid.Check(t, func(t *rapid.T) {
		a, b := number.Draw(t, "a"), ""
		for _, r := range a {
			group := string(r)
			for _, g := range []string{"0OoDQ", "1IlL", "5S", "8bB", "2Z", "6g", "- ./"} {
				if strings.ContainsRune(g, r) {
					group = g
				}
			}
			b += string(rapid.SampledFrom([]rune(group)).Draw(t, "instead"))
		}
		b += rapid.SampledFrom([]string{"", "", " ", "X"}).Draw(t, "behind")
		want := a != b && whole(a) == whole(b) && whole(a) != ""
		if want {
			alike++
		}
		if got := inventory.LooksLike(a, b); got != want {
			t.Fatalf("%q and %q look alike: %v, by their forms %q and %q %v", a, b, got, whole(a), whole(b), want)
		}
		// One published notice printed a lot as 04015309 and as 04D15309.
		if !inventory.LooksLike(a+"04015309", a+"04D15309") {
			t.Fatalf("%q in front of the published pair", a)
		}
	})
	if alike == 0 {
		t.Error("no pair looked alike: the test checked nothing")
	}
}
