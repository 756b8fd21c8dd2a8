package demo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
// of kits, lots of batches and ends of feeds are left out. -seeds makes more units.
func TestWhatIsMetAgainstTruth(t *testing.T) {
	for _, x := range []struct {
		mixed bool
		miss  float64
	}{{false, 0.05}, {false, 0.5}, {true, 0}, {true, 0.2}, {true, 0.5}} {
		for seed := *firstSeed; seed < *firstSeed+uint64(max(1, *seeds)); seed++ {
			t.Run(fmt.Sprintf("mixed %v/miss %.0f%%/seed %d", x.mixed, 100*x.miss, seed), func(t *testing.T) {
				o := small(seed, x.miss)
				o.Mixed = x.mixed
				m := makeUnit(t, o)
				rng := rand.New(rand.NewPCG(7, seed))
				list := m.done()
				var all trace.Split
				for range 40 {
					s := m.holdMet(t, list[rng.IntN(len(list))])
					all.Met, all.NotMet, all.Unknown = all.Met+s.Met, all.NotMet+s.NotMet, all.Unknown+s.Unknown
				}
				t.Logf("%+v", all)
				if all.Met < 100 || all.NotMet < 100 || x.miss > 0 && all.Unknown == 0 {
					t.Errorf("%+v", all)
				}
			})
		}
	}
}

// holdMet holds what one treatment met of all lots and batches of its time
// against the truth.
func (m *made) holdMet(t *testing.T, x *demo.Treatment) (all trace.Split) {
	t.Helper()
	truth := map[inventory.Lot]bool{}
	for _, us := range x.Used {
		for _, u := range us {
			truth[inventory.Lot{Product: u.Product, Number: u.Lot}] = true
		}
	}
	c := m.compare(t, trace.Comparing{}, x)
	for i := range c.Factors {
		f := &c.Factors[i]
		if f.Kind != trace.FactorLot && f.Kind != trace.FactorBatch {
			continue
		}
		truly := truth[inventory.Lot{Product: f.Product, Number: f.ID}]
		s := f.Treatments.Cases
		if s.Met == 1 && !truly {
			t.Errorf("%s is said to have met %s %s, and did not", x.ID, f.Product, f.ID)
		}
		if s.NotMet == 1 && truly {
			t.Errorf("%s met %s %s, and is said not to have", x.ID, f.Product, f.ID)
		}
		all.Met, all.NotMet, all.Unknown = all.Met+s.Met, all.NotMet+s.NotMet, all.Unknown+s.Unknown
	}
	return all
}

// draws is how often chance is tried.
const draws = 200

// outside returns how many of so many draws may be beyond what a share of them
// is expected to be, but for a chance of one in some 10,000 (3.7 standard
// deviations of the binomial distribution).
func outside(n int, share float64) float64 {
	return float64(n)*share + 3.7*math.Sqrt(float64(n)*share*(1-share))
}

// Where nothing is behind the cases but, at most, some patients who react often,
// no more stands out than the corrected level says: one draw in twenty. By
// treatment alone it would be far more where patients react often.
func TestNothingIsBehindThem(t *testing.T) {
	m := makeUnit(t, small(5, 0.05))
	of := map[trace.PatientID][]*demo.Treatment{}
	var patients []trace.PatientID
	for _, x := range m.done() {
		if of[x.Patient] == nil {
			patients = append(patients, x.Patient)
		}
		of[x.Patient] = append(of[x.Patient], x)
	}
	rng := rand.New(rand.NewPCG(11, 13))
	pick := func(n int) []trace.PatientID {
		rng.Shuffle(len(patients), func(i, j int) { patients[i], patients[j] = patients[j], patients[i] })
		return patients[:n]
	}
	for _, c := range []struct {
		what  string
		cases func() []*demo.Treatment
	}{
		{"one case of each patient", func() (list []*demo.Treatment) {
			for _, p := range pick(4 + rng.IntN(12)) {
				list = append(list, of[p][rng.IntN(len(of[p]))])
			}
			return list
		}},
		{"patients who react in half of their treatments", func() (list []*demo.Treatment) {
			for _, p := range pick(2 + rng.IntN(4)) {
				list = append(list, of[p][rng.IntN(len(of[p]))])
				for _, x := range of[p] {
					if rng.IntN(2) == 0 {
						list = append(list, x)
					}
				}
			}
			return list
		}},
	} {
		stands, byTreatment, byPatient := 0, 0, 0
		for range draws {
			ans := m.compare(t, trace.Comparing{}, c.cases()...)
			if len(ans.StandingOut()) > 0 {
				stands++
			}
			called := func(f *trace.Contrast) bool { return f.Corrected <= ans.Alpha }
			if slices.ContainsFunc(ans.Factors, func(x trace.SharedFactor) bool { return called(&x.Treatments) }) {
				byTreatment++
			}
			if slices.ContainsFunc(ans.Factors, func(x trace.SharedFactor) bool { return called(&x.Patients) }) {
				byPatient++
			}
		}
		t.Logf("%s, %d draws: something stands out in %d; it would in %d by treatment, in %d by patient", c.what, draws, stands, byTreatment, byPatient)
		most := outside(draws, 0.05)
		if float64(stands) > most || float64(byPatient) > most {
			t.Errorf("%s: something stands out in %d and %d of %d draws, where at most %.0f are to be expected", c.what, stands, byPatient, draws, most)
		}
	}
}

// Where what is behind the cases lies in a day and not in a lot, what was in use
// that day stands out among the days around it. Asked of the day alone, it does
// not: no more than the level says.
func TestTheDayIsBehindThem(t *testing.T) {
	m := makeUnit(t, small(5, 0.05))
	byDay := map[inventory.Date][]trace.Case{}
	var days []inventory.Date
	err := m.View(ctx, func(r inventory.Reader) error {
		return trace.ScanStarts(r, until.AddDate(0, 0, -21), until, func(x *trace.Treatment) error {
			day := inventory.DateOf(x.Start, until.Location())
			if x.NotDone || x.Struck != 0 {
				return nil
			}
			if byDay[day] == nil {
				days = append(days, day)
			}
			byDay[day] = append(byDay[day], trace.Case{Treatment: x.ID})
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(23, 29))
	around, warned, alone, tried := 0, 0, 0, 0
	for range draws {
		list := slices.Clone(byDay[days[rng.IntN(len(days))]])
		if len(list) < 8 {
			continue
		}
		tried++
		rng.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		for _, n := range []int{7, 0} {
			c := m.compare(t, trace.Comparing{Cases: list[:len(list)/2], Days: &n})
			if len(c.StandingOut()) == 0 {
				continue
			}
			if n == 0 {
				alone++
				continue
			}
			around++
			if !slices.ContainsFunc(c.StandingOut(), func(x *trace.SharedFactor) bool { return x.SameDays == nil || *x.SameDays <= c.Alpha }) {
				warned++
			}
		}
	}
	t.Logf("%d days: something stands out in %d among the week before and after, of all of which %d are warned that it may be the days; in %d of the day alone", tried, around, warned, alone)
	if tried < draws/2 || float64(alone) > outside(tried, 0.05) {
		t.Errorf("of %d days alone something stands out in %d", tried, alone)
	}
	if warned < around*3/4 {
		t.Errorf("of %d answers in which something stands out only %d say that it may be the days", around, warned)
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
	if tried < draws/2 || first < tried*8/10 || found < tried*8/10 {
		t.Errorf("%d lots planted: %d stand out, %d come first", tried, found, first)
	}
}
