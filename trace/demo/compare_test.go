package demo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// done returns the treatments that took place.
func (m *made) done() (list []*demo.Treatment) {
	for _, t := range m.truth.Treatments {
		if !t.NotDone {
			list = append(list, t)
		}
	}
	return list
}

func (m *made) compare(t *testing.T, q trace.Comparing, ids ...*demo.Treatment) *trace.Comparison {
	t.Helper()
	for _, x := range ids {
		q.Cases = append(q.Cases, trace.Case{Treatment: x.ID})
	}
	c, err := m.Compare(ctx, q)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Held against the truth, treatment by treatment: what is said to be met was
// met, and nothing that was met is said not to be, however many scans, contents
// of kits, lots of batches and ends of feeds are left out.
func TestWhatIsMetAgainstTruth(t *testing.T) {
	for _, mixed := range []bool{false, true} {
		for _, miss := range []float64{0, 0.05, 0.2, 0.5} {
			t.Run(fmt.Sprintf("mixed %v/miss %.0f%%", mixed, 100*miss), func(t *testing.T) {
				o := small(3, miss)
				o.Mixed = mixed
				m := makeUnit(t, o)
				used := trueUses(m.truth)
				rng := rand.New(rand.NewPCG(7, uint64(100*miss)))
				list := m.done()
				met, unknown, not := 0, 0, 0
				for range 60 {
					x := list[rng.IntN(len(list))]
					c := m.compare(t, trace.Comparing{}, x)
					for i := range c.Factors {
						f := &c.Factors[i]
						if f.Kind != trace.FactorLot && f.Kind != trace.FactorBatch {
							continue
						}
						_, truly := used[inventory.Lot{Product: f.Product, Number: f.ID}][x.ID]
						switch s := f.Treatments.Cases; {
						case s.Met == 1 && !truly:
							t.Errorf("%s is said to have met %s %s, and did not", x.ID, f.Product, f.ID)
						case s.NotMet == 1 && truly:
							t.Errorf("%s met %s %s, and is said not to have", x.ID, f.Product, f.ID)
						case s.Met == 1:
							met++
						case s.Unknown == 1:
							unknown++
						default:
							not++
						}
					}
				}
				t.Logf("met %d, not known %d, not met %d", met, unknown, not)
				if met < 100 || not < 100 || (miss > 0) != (unknown > 0) && !mixed {
					t.Errorf("met %d, not known %d, not met %d", met, unknown, not)
				}
			})
		}
	}
}

// draws is how often chance is tried.
const draws = 200

// outside returns how many of so many draws may be beyond what a share of them
// is expected to be, but for a chance of one in some 10,000 (3.7 standard
// deviations of the binomial distribution).
func outside(n int, share float64) float64 {
	return float64(n)*share + 3.7*math.Sqrt(float64(n)*share*(1-share))
}

// Where nothing is behind the cases no more stands out than the corrected level
// says: one draw in twenty. With several cases of one patient it is no longer
// so by treatment; by patient it is.
func TestNothingIsBehindThem(t *testing.T) {
	m := makeUnit(t, small(5, 0.05))
	list := m.done()
	rng := rand.New(rand.NewPCG(11, 13))
	byTreatment, byPatient := 0, 0
	for range draws {
		seen := map[trace.PatientID]bool{}
		var cases []*demo.Treatment
		for n := 4 + rng.IntN(12); len(cases) < n; {
			if x := list[rng.IntN(len(list))]; !seen[x.Patient] {
				seen[x.Patient] = true
				cases = append(cases, x)
			}
		}
		c := m.compare(t, trace.Comparing{}, cases...)
		if len(c.StandingOut()) > 0 {
			byTreatment++
		}
		for i := range c.Factors {
			if c.Factors[i].Patients.Corrected <= c.Alpha {
				byPatient++
				break
			}
		}
	}
	t.Logf("%d draws: something stands out in %d by treatment, in %d by patient", draws, byTreatment, byPatient)
	for what, n := range map[string]int{"treatment": byTreatment, "patient": byPatient} {
		if most := outside(draws, 0.05); float64(n) > most {
			t.Errorf("by %s something stands out in %d of %d draws, where at most %.0f are to be expected", what, n, draws, most)
		}
	}
}

// A lot behind which reactions are planted stands out, and ahead of nearly all
// else. The truth is the simulation's, so that treatments of which the scan was
// left out react too.
func TestAPlantedLotIsFound(t *testing.T) {
	m := makeUnit(t, small(5, 0.05))
	list := m.done()
	used := trueUses(m.truth)
	var lots []inventory.Lot
	for _, c := range mainCategories() {
		for _, l := range m.lotsOnRecord(t, c) {
			if n := len(used[l]); n >= 20 && n <= len(list)/3 {
				lots = append(lots, l)
			}
		}
	}
	if len(lots) < 5 {
		t.Fatalf("only %d lots to plant", len(lots))
	}
	rng := rand.New(rand.NewPCG(17, 19))
	first, found, tried, ranks := 0, 0, 0, 0
	for range draws {
		l := lots[rng.IntN(len(lots))]
		var cases []*demo.Treatment
		for _, x := range list {
			share := 0.005
			if _, met := used[l][x.ID]; met {
				share = 0.3
			}
			if rng.Float64() < share {
				cases = append(cases, x)
			}
		}
		if len(cases) < 5 {
			continue
		}
		tried++
		c := m.compare(t, trace.Comparing{}, cases...)
		at := -1
		for i := range c.Factors {
			if c.Factors[i].Product == l.Product && c.Factors[i].ID == l.Number {
				at = i
			}
		}
		if at < 0 {
			t.Fatalf("%v was not looked at", l)
		}
		if c.Factors[at].StandsOut {
			found++
		}
		ranks += at + 1
		// What was met by just the same treatments can't be told apart.
		if at == 0 || len(c.Factors[at].Like) > 0 && c.Factors[at].Like[0] == 0 {
			first++
		}
	}
	t.Logf("%d lots planted: %d stand out, %d come first, mean rank %.2f", tried, found, first, float64(ranks)/float64(tried))
	if tried < draws/2 || first < tried*8/10 || found < tried*9/10 {
		t.Errorf("%d lots planted: %d stand out, %d come first", tried, found, first)
	}
}
