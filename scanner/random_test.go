package scanner_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"lotbook/scanner"
	"lotbook/scanner/gs1"
	"lotbook/scanner/wedge"
)

// fill draws a value by a mask: 9 a digit, A a capital, X either, a a small
// letter, every other character itself.
func fill(r *rand.Rand, mask string) string {
	b := []byte(mask)
	for i, c := range b {
		switch c {
		case '9':
			b[i] = byte('0' + r.IntN(10))
		case 'A':
			b[i] = byte('A' + r.IntN(26))
		case 'a':
			b[i] = byte('a' + r.IntN(26))
		case 'X':
			b[i] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"[r.IntN(36)]
		}
	}
	return string(b)
}

var masks = []string{
	"999999", "99999999", "9999999999", "A999", "AA9999", "99A99", "AAA-999", "XXXXXX", "XXXXXXXX", "99/999", "999-99A",
	"9999A9", "A99", "9999", "99", "XX/XX", "A9_9999", "99999999999999", "99.999",
}

func someGTIN(r *rand.Rand) string {
	body := fill(r, "9") + []string{"950", "952"}[r.IntN(2)] + fill(r, "999999999")
	c, _ := gs1.CheckDigit(body)
	return body + string(c)
}

// someLabel makes labels as even draws make them; rapid prefers small values.
func someLabel(r *rand.Rand) label {
	date := func(years ...string) string {
		return years[r.IntN(len(years))] + []string{"01", "06", "11", "12"}[r.IntN(4)] + []string{"01", "15", "28", "30"}[r.IntN(4)]
	}
	pool := label{
		{AI: "17", Value: date("27", "28", "29", "30")},
		{AI: "10", Value: fill(r, masks[r.IntN(len(masks))])},
		{AI: "21", Value: fill(r, masks[r.IntN(len(masks))])},
		{AI: "11", Value: date("24", "25", "26")},
		{AI: "30", Value: fill(r, "99")},
		{AI: "240", Value: fill(r, masks[r.IntN(len(masks))])},
		{AI: "91", Value: fill(r, "XXXX")},
		{AI: "710", Value: fill(r, "99999999")},
	}
	weights := []int{90, 95, 50, 40, 12, 10, 4, 4}
	l := label{{AI: "01", Value: someGTIN(r)}}
	for _, i := range order(r) {
		if r.IntN(100) < weights[i] {
			l = append(l, pool[i])
		}
	}
	return l
}

// order is 17, 10, 21 and the rest in half of the cases, else any order.
func order(r *rand.Rand) []int {
	if r.IntN(2) == 0 {
		return []int{0, 1, 2, 3, 4, 5, 6, 7}
	}
	return r.Perm(8)
}

// fatal lets judge be used with a testing.T.
type fatal interface{ Fatalf(string, ...any) }

// Labels by even draws, with lost and replaced separators. The figures that are
// logged say how long the lists of readings are.
func TestLostSeparatorEvenly(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var single, listed, total, firstRight int
	for range 20_000 {
		l := someLabel(r)
		text := strings.ReplaceAll(l.encode(), "\x1d", standIns[r.IntN(len(standIns))])
		cs := scanner.Read(text, opts)
		if len(cs) != 1 {
			t.Fatalf("%q: %d codes", text, len(cs))
		}
		judge(t, l, cs[0], false)
		if n := len(cs[0].Candidates); n == 0 {
			single++
		} else {
			listed++
			total += n
			if l.is(cs[0].Candidates[0].Elements) {
				firstRight++
			}
		}
	}
	t.Logf("%d read alone, %d with a list of %.1f readings on average, the right one first in %.0f%%",
		single, listed, float64(total)/float64(listed), 100*float64(firstRight)/float64(listed))
}

// Two labels run together with nothing between them: each is right or in doubt,
// or the line is refused.
func TestRunTogether(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 20_000 {
		a, b := someLabel(r), someLabel(r)
		cs := scanner.Read(a.encode()+b.encode(), opts)
		switch {
		case len(cs) == 2:
			judge(t, a, cs[0], true)
			judge(t, b, cs[1], true)
		default:
			judge(t, a, cs[0], true)
		}
	}
}

// Two packs of one product, run together, are never one pack.
func TestSameProductRunTogether(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 5_000 {
		a, b := someLabel(r), someLabel(r)
		b[0] = a[0]
		cs := scanner.Read(a.encode()+b.encode(), opts)
		if len(cs) == 1 {
			judge(t, a, cs[0], true)
		}
	}
}

// The order and the masks of earlier scans single the true reading out, and a
// product whose order has changed is not read by the old one.
func TestKnownEvenly(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	var asked, chosen, wrong int
	// Masks with free letters and digits differ from scan to scan.
	fixed := slices.DeleteFunc(slices.Clone(masks), func(m string) bool { return strings.Contains(m, "X") })
	for range 5_000 {
		m1, m2 := fixed[r.IntN(len(fixed))], fixed[r.IntN(len(fixed))]
		draw := func(changed bool) label {
			l := label{{AI: "01", Value: someGTIN(r)}, {AI: "17", Value: "280630"}, {AI: "10", Value: fill(r, m1)}, {AI: "21", Value: fill(r, m2)}}
			if changed {
				l[2], l[3] = l[3], l[2]
			}
			return l
		}
		changed := r.IntN(4) == 0
		l := draw(changed)
		k := &wedge.Known{}
		for range 3 {
			k.Learn(draw(false).elements())
		}
		o := opts
		o.Known = func(string) *wedge.Known { return k }
		c := scanner.Read(strings.ReplaceAll(l.encode(), "\x1d", ""), o)[0]
		if !slices.ContainsFunc(c.Candidates, func(k scanner.Candidate) bool { return l.is(k.Elements) }) && !l.is(c.Elements) {
			t.Fatalf("%v is not in %+v", l, c)
		}
		switch {
		case changed && c.Lot != "" && c.Lot != l.value("10"):
			wrong++ // chosen with a warning and the list; counted below
		case !changed && c.Lot == l.value("10") && c.Serial == l.value("21"):
			chosen++
		}
		if !changed {
			asked++
		}
	}
	t.Logf("chosen rightly in %.1f%%; the order had changed and another reading was chosen (with the list) in %d of 1250", 100*float64(chosen)/float64(asked), wrong)
	if chosen*100 < asked*90 {
		t.Errorf("chosen in %d of %d", chosen, asked)
	}
}
