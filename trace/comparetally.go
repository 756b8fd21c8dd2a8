package trace

import (
	"slices"
	"strings"

	"lotbook/inventory"
)

// What is counted is counted for each of the two.
const (
	amongOthers = iota
	amongCases
)

func side(isCase bool) int {
	if isCase {
		return amongCases
	}
	return amongOthers
}

// counts are how many met a factor, and of how many it is not known, of others
// and of cases.
type counts struct{ met, unknown [2]int64 }

// split returns the counts of one side, of so many in all.
func (n *counts) split(side int, all int64) Split {
	return Split{n.met[side], all - n.met[side] - n.unknown[side], n.unknown[side]}
}

// concerns tells of each factor which classes of treatments may have met it
// unrecorded.
func (g *gathered) concerns() [][]bool {
	out := make([][]bool, len(g.factors))
	known := map[string][]bool{}
	for i := range g.factors {
		var key strings.Builder
		for _, d := range g.factors[i].doubts {
			key.WriteString(string(d))
			key.WriteByte(0)
		}
		row, ok := known[key.String()]
		if !ok {
			row = make([]bool, len(g.classes))
			for j, class := range g.classes {
				row[j] = overlap(class, g.factors[i].doubts)
			}
			known[key.String()] = row
		}
		out[i] = row
	}
	return out
}

func overlap(a, b []doubt) bool {
	for _, x := range a {
		for _, y := range b {
			if x == y {
				return true
			}
		}
	}
	return false
}

// A tally is everything counted.
type tally struct {
	treatments, oneEach, patients []counts
	// all is how many of each there are, by side.
	allTreatments, allOneEach, allPatients [2]int64
	// like is a fingerprint of the treatments that met a factor.
	like []uint64
}

// mixable notes which lots may have gone into a batch of which nothing is on
// record: those of products that went into others.
func (g *gathered) mixable() {
	mixed := map[inventory.ProductID]bool{}
	for i := range g.factors {
		if f := &g.factors[i]; slices.Contains(f.Via, HolderBatch) {
			mixed[f.Product] = true
		}
	}
	for i := range g.factors {
		if f := &g.factors[i]; f.Kind == FactorLot && mixed[f.Product] {
			f.doubts = append(f.doubts, madeDoubt)
		}
	}
}

// counted counts treatments and patients.
func (g *gathered) counted() *tally {
	g.mixable()
	concerns := g.concerns()
	out := &tally{patients: make([]counts, len(g.factors)), like: make([]uint64, len(g.factors))}
	for i := range g.treatments {
		for _, f := range g.treatments[i].met {
			out.like[f] += fingerprint(uint64(i))
		}
	}
	out.treatments, out.allTreatments = g.countTreatments(concerns, false)
	out.oneEach, out.allOneEach = out.treatments, out.allTreatments
	if g.markAgain() {
		out.oneEach, out.allOneEach = g.countTreatments(concerns, true)
	}
	g.countPatients(out, concerns)
	return out
}

// markAgain marks of each patient all cases but one, and reports whether there
// are any.
func (g *gathered) markAgain() (any bool) {
	one := make([]*compared, len(g.patients))
	for i := range g.treatments {
		t := &g.treatments[i]
		if !t.isCase {
			continue
		}
		switch o := one[t.patient]; {
		case o == nil:
			one[t.patient] = t
			continue
		case t.draw < o.draw:
			one[t.patient], o.again = t, true
		default:
			t.again = true
		}
		any = true
	}
	return any
}

// countTreatments counts treatments, or of each patient one case only.
func (g *gathered) countTreatments(concerns [][]bool, oneEach bool) (list []counts, all [2]int64) {
	list = make([]counts, len(g.factors))
	classes := make([][2]int64, len(g.classes))
	for i := range g.treatments {
		t := &g.treatments[i]
		if oneEach && t.again {
			continue
		}
		at := side(t.isCase)
		all[at]++
		classes[t.class][at]++
		for _, f := range t.met {
			list[f].met[at]++
			if concerns[f][t.class] {
				list[f].unknown[at]-- // it is known
			}
		}
		for _, f := range t.maybe {
			if !concerns[f][t.class] {
				list[f].unknown[at]++
			}
		}
	}
	for f := range list {
		for class, n := range classes {
			if concerns[f][class] {
				for at := range n {
					list[f].unknown[at] += n[at]
				}
			}
		}
	}
	return list, all
}

// countPatients counts each patient once: one who met something in any of the
// treatments that were looked at met it. What came after a reaction counts too:
// to leave it out would give cases less time to meet anything than others, and
// what they did not meet for that would stand out.
func (g *gathered) countPatients(out *tally, concerns [][]bool) {
	type known struct {
		state   []byte // 0 not met, 1 may have, 2 met
		classes map[int]bool
	}
	of := make([]known, len(g.patients))
	for i := range g.treatments {
		t := &g.treatments[i]
		k := &of[t.patient]
		if k.state == nil {
			k.state, k.classes = make([]byte, len(g.factors)), map[int]bool{}
		}
		for _, f := range t.met {
			k.state[f] = 2
		}
		for _, f := range t.maybe {
			k.state[f] = max(k.state[f], 1)
		}
		k.classes[t.class] = true
	}
	for p, k := range of {
		if k.state == nil {
			continue
		}
		at := side(g.reacted[p])
		out.allPatients[at]++
		for f, state := range k.state {
			if state == 0 {
				for class := range k.classes {
					if concerns[f][class] {
						state = 1
						break
					}
				}
			}
			switch state {
			case 1:
				out.patients[f].unknown[at]++
			case 2:
				out.patients[f].met[at]++
			}
		}
	}
}

// fingerprint spreads a number over 64 bits, so that sums of different sets
// differ but for a chance in 2^64 (the finalizer of splitmix64, Steele, Lea and
// Flood, OOPSLA 2014).
func fingerprint(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// some counts those treatments that met a factor, or may have, of which one
// says yes, but for cases that do not count.
func (g *gathered) some(factor int, row []bool, one func(*compared) bool) (n counts, all [2]int64) {
	for i := range g.treatments {
		t := &g.treatments[i]
		if t.again || !one(t) {
			continue
		}
		at := side(t.isCase)
		all[at]++
		switch {
		case contains(t.met, factor):
			n.met[at]++
		case contains(t.maybe, factor) || row[t.class]:
			n.unknown[at]++
		}
	}
	return n, all
}

func contains(sorted []int, x int) bool {
	_, ok := slices.BinarySearch(sorted, x)
	return ok
}
