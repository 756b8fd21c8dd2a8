package associate_test

import (
	"encoding/json"
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"lotbook/trace/associate"
)

func binomial(n, k int64) *big.Int { return new(big.Int).Binomial(n, k) }

// exact works the p-values out in whole numbers: the numbers of ways, and no
// tolerance at all.
func exact(t associate.Table) (two, greater, less float64) {
	n, m, s := t.A+t.B, t.C+t.D, t.A+t.C
	ways := func(k int64) *big.Int { return new(big.Int).Mul(binomial(n, k), binomial(m, s-k)) }
	seen, sum, more, fewer := ways(t.A), new(big.Int), new(big.Int), new(big.Int)
	first := max(0, s-m)
	for k, w := first, ways(first); k <= min(n, s); k++ {
		if w.Cmp(seen) <= 0 {
			sum.Add(sum, w)
		}
		if k >= t.A {
			more.Add(more, w)
		}
		if k <= t.A {
			fewer.Add(fewer, w)
		}
		w.Mul(w, big.NewInt((n-k)*(s-k)))
		w.Quo(w, big.NewInt((k+1)*(m-s+k+1)))
	}
	all := new(big.Float).SetPrec(200).SetInt(binomial(n+m, s))
	share := func(x *big.Int) float64 {
		f, _ := new(big.Float).Quo(new(big.Float).SetPrec(200).SetInt(x), all).Float64()
		return f
	}
	return share(sum), share(more), share(fewer)
}

func agrees(t interface{ Errorf(string, ...any) }, table associate.Table, within float64) {
	two, greater, less := associate.Fisher(table)
	t2, tg, tl := exact(table)
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"p", two, t2}, {"p for more", greater, tg}, {"p for fewer", less, tl}} {
		if !(math.Abs(c.got-c.want) <= within*c.want) {
			t.Errorf("%+v: %s is %v, exactly %v", table, c.what, c.got, c.want)
		}
	}
}

// Every table of up to 14 agrees with whole numbers.
func TestSmallTables(t *testing.T) {
	n := 0
	for a := int64(0); a <= 14; a++ {
		for b := int64(0); a+b <= 14; b++ {
			for c := int64(0); a+b+c <= 14; c++ {
				for d := int64(0); a+b+c+d <= 14; d++ {
					agrees(t, associate.Table{A: a, B: b, C: c, D: d}, 1e-12)
					n++
				}
			}
		}
	}
	if n != 3060 { // C(18, 4)
		t.Errorf("%d tables", n)
	}
}

// So do large ones, where probabilities are far below what a float64 holds of
// a factorial. Tables that differ by less than one part in ten million in their
// probability, but do differ, are the only ones where the tolerance could show;
// at these sizes there are none.
func TestLargeTables(t *testing.T) {
	for _, table := range []associate.Table{
		{A: 300, B: 200, C: 4_000, D: 6_000},
		{A: 20, B: 80, C: 500, D: 9_400},
		{A: 1_000, B: 1_000, C: 1_500, D: 500},
		{A: 0, B: 2_000, C: 90, D: 3_000},
	} {
		agrees(t, table, 1e-9)
	}
}

// Millions are counted without overflow, and a table as expected is nothing
// unusual.
func TestMillions(t *testing.T) {
	m := associate.Measure(associate.Table{A: 30_000, B: 70_000, C: 3_000_000, D: 7_000_000}, 0.95)
	near(t, "p", m.P, 1, 1e-6)
	near(t, "the odds ratio", float64(m.OddsRatio), 1, 1e-6)
	// The interval of large counts is Woolf's, exp(±1.96·√(1/A+1/B+1/C+1/D)) (Annals
	// of Human Genetics 19, 1955): 0.98650 to 1.01369 here.
	near(t, "the lower bound", float64(m.Low), 0.98650, 1e-4)
	near(t, "the upper bound", float64(m.High), 1.01369, 1e-4)
}

func drawTable(most int64) *rapid.Generator[associate.Table] {
	return rapid.Custom(func(t *rapid.T) associate.Table {
		cell := func(name string) int64 { return rapid.Int64Range(0, most).Draw(t, name) }
		return associate.Table{A: cell("A"), B: cell("B"), C: cell("C"), D: cell("D")}
	})
}

func same(t *rapid.T, what string, got, want associate.Ratio) {
	g, w := float64(got), float64(want)
	if got.Defined() != want.Defined() || (got.Defined() && g != w && math.Abs(g-w) > 1e-8*w) {
		t.Errorf("%s: %v and %v", what, g, w)
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(120).Draw(t, "table")
		level := rapid.SampledFrom([]float64{0.9, 0.95, 0.99}).Draw(t, "level")
		m := associate.Measure(table, level)
		if two, greater, less := associate.Fisher(table); two != m.P || greater != m.Greater || less != m.Less {
			t.Errorf("%+v: two answers", table)
		}
		// Turned over its diagonal, a table is the same question.
		turned := associate.Measure(associate.Table{A: table.A, B: table.C, C: table.B, D: table.D}, level)
		if math.Abs(turned.P-m.P) > 1e-10 || math.Abs(turned.Greater-m.Greater) > 1e-10 {
			t.Errorf("turned over, %v is %v", m, turned)
		}
		same(t, "turned over", turned.OddsRatio, m.OddsRatio)
		same(t, "turned over", turned.Low, m.Low)
		// Cases and others exchanged, it is the opposite one.
		swapped := associate.Measure(associate.Table{A: table.C, B: table.D, C: table.A, D: table.B}, level)
		if math.Abs(swapped.P-m.P) > 1e-10 || math.Abs(swapped.Less-m.Greater) > 1e-10 {
			t.Errorf("exchanged, %v is %v", m, swapped)
		}
		same(t, "exchanged", swapped.OddsRatio, 1/m.OddsRatio)
		same(t, "exchanged", swapped.Low, 1/m.High)
		if !table.Defined() {
			if m.OddsRatio.Defined() || m.P != 1 || m.Low != 0 || !m.High.Infinite() {
				t.Errorf("%+v says %+v", table, m)
			}
			return
		}
		if !(m.Low <= m.OddsRatio && m.OddsRatio <= m.High) || !(m.P > 0 && m.P <= 1) {
			t.Errorf("%+v: %+v", table, m)
		}
		if zero := table.A == 0 || table.D == 0; zero != (m.OddsRatio == 0) || zero != (m.Low == 0) {
			t.Errorf("%+v: %+v", table, m)
		}
		if zero := table.B == 0 || table.C == 0; zero != m.OddsRatio.Infinite() || zero != m.High.Infinite() {
			t.Errorf("%+v: %+v", table, m)
		}
		// The interval leaves 1 out just where a one-sided p is at or below
		// half of what the level leaves.
		half := (1 - level) / 2
		if math.Abs(m.Greater-half) > 1e-9 && (m.Low > 1) != (m.Greater < half) {
			t.Errorf("%+v: p %v and from %v", table, m.Greater, m.Low)
		}
		if math.Abs(m.Less-half) > 1e-9 && (m.High < 1) != (m.Less < half) {
			t.Errorf("%+v: p %v and up to %v", table, m.Less, m.High)
		}
		// One more exposed case makes it no weaker.
		if table.B > 0 {
			next := associate.Measure(associate.Table{A: table.A + 1, B: table.B - 1, C: table.C, D: table.D}, level)
			if next.OddsRatio.Defined() && (next.OddsRatio < m.OddsRatio*(1-1e-9) || next.Greater > m.Greater+1e-12) {
				t.Errorf("one more exposed case: %+v to %+v", m, next)
			}
		}
		agrees(t, table, 1e-9)
	})
}

// The estimate and the bounds are what they are said to be, by sums of 300 bits
// over whole numbers of ways, at the odds ratio found.
func TestRootsExactly(t *testing.T) {
	number := func(x int64) *big.Float { return new(big.Float).SetPrec(300).SetInt64(x) }
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(40).Draw(t, "table")
		m := associate.Measure(table, 0.95)
		if !table.Defined() {
			return
		}
		n, o, s := table.A+table.B, table.C+table.D, table.A+table.C
		// at returns the expected number of exposed cases, and the
		// probabilities of at least and at most as many as were seen.
		at := func(psi associate.Ratio) (mean, greater, less float64) {
			ratio := number(0).SetFloat64(float64(psi))
			power, all, sum, more, fewer := number(1), number(0), number(0), number(0), number(0)
			for k := max(0, s-o); k <= min(n, s); k++ {
				w := number(0).SetInt(new(big.Int).Mul(binomial(n, k), binomial(o, s-k)))
				w.Mul(w, power)
				all.Add(all, w)
				sum.Add(sum, number(0).Mul(w, number(k)))
				if k >= table.A {
					more.Add(more, w)
				}
				if k <= table.A {
					fewer.Add(fewer, w)
				}
				power.Mul(power, ratio)
			}
			part := func(x *big.Float) float64 { f, _ := number(0).Quo(x, all).Float64(); return f }
			return part(sum), part(more), part(fewer)
		}
		if m.OddsRatio > 0 && !m.OddsRatio.Infinite() {
			if mean, _, _ := at(m.OddsRatio); math.Abs(mean-float64(table.A)) > 1e-8 {
				t.Errorf("%+v: at %v %v are expected", table, m.OddsRatio, mean)
			}
		}
		if m.Low > 0 {
			if _, p, _ := at(m.Low); math.Abs(p-0.025) > 1e-9 {
				t.Errorf("%+v: from %v, where p is %v", table, m.Low, p)
			}
		}
		if !m.High.Infinite() {
			if _, _, p := at(m.High); math.Abs(p-0.025) > 1e-9 {
				t.Errorf("%+v: up to %v, where p is %v", table, m.High, p)
			}
		}
	})
}

func TestRatioAsJSON(t *testing.T) {
	m := associate.Measure(associate.Table{A: 5, B: 0, C: 1, D: 4}, 0.95)
	none := associate.Measure(associate.Table{A: 5, C: 1}, 0.95)
	b, err := json.Marshal([]associate.Ratio{m.OddsRatio, none.OddsRatio, 0, 2.5})
	if err != nil || string(b) != `["infinite",null,0,2.5]` {
		t.Errorf("%s, %v", b, err)
	}
	for r, want := range map[associate.Ratio]string{m.OddsRatio: "infinite", 21.111: "21.1", 0.04731: "0.0473", 1141.06: "1141", 0: "0"} {
		if r.String() != want {
			t.Errorf("%v is written %q", float64(r), r.String())
		}
	}
}

func BenchmarkMeasure(b *testing.B) {
	for name, table := range map[string]associate.Table{
		"10cases":   {A: 7, B: 3, C: 300, D: 9_690},
		"1000cases": {A: 300, B: 700, C: 20_000, D: 79_000},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				associate.Measure(table, 0.95)
			}
		})
	}
}
