package demo_test

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
	"lotbook/trace/demo"
)

// The backtest plays a year of a unit whose patients come and go. Each Monday
// morning, knowing only what is on record and planned by then, it asks what to
// order, and plays stock forward under the use that really came.
//
// Beside it stands a plain average rule: order up to m28·(lead + review) and the
// same days of safety stock that the proposal has for that product that day, where
// m28 is the mean of what was really used in the 28 days before. It holds less
// then, so it is played a second time with as many more days of safety stock as
// the plan's stock is larger.
//
// What it leaves out: pieces don't expire; what is lacking is fetched from
// elsewhere and not ordered later; the lead time is drawn from a normal
// distribution, to the day, and known by its mean and standard deviation.
const (
	leadDays, leadSD = 7, 1.5
	reviewDays       = 7
	warmUp           = 70 // days of record before the first order
)

var asked = []int64{900, 950, 990}

// A reviewed product is what was proposed on a day for each level asked.
type reviewed struct {
	upTo   [3]int64
	safety [3]float64 // days
}

type playedYear struct {
	first   inventory.Date
	days    int
	reviews map[int]map[inventory.ProductID]reviewed // by day
	use     map[inventory.ProductID][]int64
	packs   map[inventory.ProductID]int64
}

func playYear(tb testing.TB, seed uint64, days int, turnover float64) *playedYear {
	tb.Helper()
	o := demo.Defaults(until)
	o.Seed, o.Days, o.Turnover, o.Stations = seed, days, turnover, 12
	y := &playedYear{first: inventory.DateOf(o.Until, time.UTC).AddDays(-days), days: days, reviews: map[int]map[inventory.ProductID]reviewed{}, use: map[inventory.ProductID][]int64{}, packs: map[inventory.ProductID]int64{}}
	clock := demo.NewClock(o)
	store, err := boltstore.Open(tb.TempDir(), boltstore.Options{Clock: clock.Now, Unit: demo.UnitID(o.Seed), NoSync: true, Bulk: 500})
	if err != nil {
		tb.Fatal(err)
	}
	defer store.Close()
	book := trace.NewBook(inventory.NewBook(store, inventory.NewRegistry(inventory.Events(), trace.Events()), clock.Now))
	set := inventory.DefaultOrdering()
	set.LeadTime = &inventory.LeadTime{Hours: leadDays * 24, SDHours: leadSD * 24}
	truth, err := demo.MakeWatched(ctx, book, clock, o, func(date inventory.Date) error {
		day := y.first.DaysUntil(date)
		if day < warmUp || (day-warmUp)%reviewDays != 0 {
			return nil
		}
		if day == warmUp { // in place of the demo's own lead times
			if _, err := book.SetOrdering(ctx, inventory.Call{Actor: "stock.garro"}, inventory.OrderingChange{Unit: &set}); err != nil {
				return err
			}
		}
		all := map[inventory.ProductID]reviewed{}
		for i, level := range asked {
			p, err := book.Propose(ctx, trace.OrderQuestion{ServiceLevel: level, ReviewDays: reviewDays})
			if err != nil {
				return err
			}
			for _, l := range p.Lines {
				if l.OrderUpTo == nil || l.Forecast.Basis != trace.BasisPlan {
					continue
				}
				r := all[l.Product]
				r.upTo[i], r.safety[i] = *l.OrderUpTo, float64(*l.Safety)/l.Forecast.Rate()
				all[l.Product], y.packs[l.Product] = r, l.Pack.Holds
			}
		}
		y.reviews[day] = all
		return nil
	})
	if err != nil {
		tb.Fatal(err)
	}
	y.add(tb, book, truth)
	return y
}

// add takes in what was really used: in treatments, thrown away, lost.
func (y *playedYear) add(tb testing.TB, book *trace.Book, truth *demo.Truth) {
	one := func(id inventory.ProductID, at time.Time, n int64) {
		day := y.first.DaysUntil(inventory.DateOf(at, time.UTC))
		if day < 0 || day >= y.days {
			return
		}
		if y.use[id] == nil {
			y.use[id] = make([]int64, y.days)
		}
		y.use[id][day] += n
	}
	for _, t := range truth.Treatments {
		for _, us := range t.Used {
			for _, u := range us {
				one(u.Product, u.At, u.Pieces)
			}
		}
	}
	for _, x := range truth.NotWritten {
		if x.To == "" {
			one(x.Product, x.At, x.Pieces)
		}
	}
	err := book.View(ctx, func(r inventory.Reader) error {
		locs, err := inventory.Locations(r)
		if err != nil {
			return err
		}
		for _, loc := range locs {
			for id := range y.packs {
				err := inventory.ScanPlace(r, loc.ID, id, time.Unix(0, 0), until, func(m *inventory.PlaceMovement) error {
					if m.Struck == 0 && m.Class == inventory.ClassWasted {
						one(id, m.Happened, -m.Delta)
					}
					return nil
				})
				if err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		tb.Fatal(err)
	}
}

// A result of playing stock forward.
type result struct {
	cycles, without int     // order cycles, and those without a stock-out
	used, lacking   float64 // pieces
	cover           float64 // days of use on hand at the end of a day, summed over runs
	runs            int
}

func (r result) service() float64 { return float64(r.without) / float64(r.cycles) }
func (r result) fill() float64    { return 1 - r.lacking/r.used }
func (r result) days() float64    { return r.cover / float64(r.runs) }

// A rule says what is ordered up to: by the plan, or by an average and so many
// more days than the plan's safety stock.
type rule struct {
	average bool
	more    float64
}

// replications is how many times the year is played with other lead times.
const replications = 40

// forward plays the stock of all products forward. The lead times are the same
// for all rules and levels.
func (y *playedYear) forward(level int, r rule, whole bool) (out result) {
	rng := rand.New(rand.NewPCG(1, 0x6c656164))
	products := slices.Sorted(maps.Keys(y.packs))
	for range replications {
		for _, id := range products {
			lead := map[int]int{} // of the order of a day
			for day := warmUp; day < y.days; day += reviewDays {
				lead[day] = int(math.Round(max(3, leadDays+leadSD*rng.NormFloat64())))
			}
			out.add(y.one(id, lead, level, r, whole))
		}
	}
	return out
}

func (r *result) add(o result) {
	r.cycles += o.cycles
	r.without += o.without
	r.used += o.used
	r.lacking += o.lacking
	r.cover += o.cover
	r.runs++
}

// one plays the stock of one product forward.
func (y *playedYear) one(id inventory.ProductID, lead map[int]int, level int, by rule, whole bool) (out result) {
	use := y.use[id]
	coming, begins := map[int]int64{}, map[int]bool{}
	var stock, onOrder, held int64
	ok, started := true, false
	for day := warmUp; day < y.days; day++ {
		stock, onOrder = stock+coming[day], onOrder-coming[day]
		if begins[day] {
			if started {
				out.cycles++
				if ok {
					out.without++
				}
			}
			ok, started = true, true
		}
		if r, is := y.reviews[day][id]; is {
			upTo := float64(r.upTo[level])
			if by.average {
				var n int64
				for _, u := range use[day-28 : day] {
					n += u
				}
				upTo = math.Ceil(float64(n) / 28 * (leadDays + reviewDays + r.safety[level] + by.more))
			}
			order := max(0, int64(upTo)-stock-onOrder)
			if whole {
				order = (order + y.packs[id] - 1) / y.packs[id] * y.packs[id]
			}
			if day == warmUp {
				stock = order
			} else {
				coming[day+lead[day]] += order
				onOrder += order
				begins[day+lead[day]] = true
			}
		}
		lacks := max(0, use[day]-stock)
		ok = ok && lacks == 0
		stock = max(0, stock-use[day])
		if started {
			out.lacking += float64(lacks)
			out.used += float64(use[day])
			held += stock
		}
	}
	out.cover = float64(held) / out.used
	return out
}

// The level reached lies near the level asked, and not below what the average
// rule reaches with the same days of safety stock. -v prints the table.
func TestBacktest(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: two years of a unit are left out")
	}
	for _, turnover := range []float64{0, 0.03} {
		y := playYear(t, demo.Defaults(until).Seed, 365, turnover)
		for i, level := range asked {
			for _, whole := range []bool{false, true} {
				plan, average := y.forward(i, rule{}, whole), y.forward(i, rule{average: true}, whole)
				same := y.forward(i, rule{true, plan.days() - average.days()}, whole)
				packs := "single pieces"
				if whole {
					packs = "whole packs"
				}
				t.Logf("turnover %v, %.1f %% asked, %s, %d cycles: by the plan %.1f %% (fill %.2f %%, %.1f days); average %.1f %% (fill %.2f %%, %.1f days), with as much stock %.1f %% (%.1f days)",
					turnover, float64(level)/10, packs, plan.cycles, 100*plan.service(), 100*plan.fill(), plan.days(), 100*average.service(), 100*average.fill(), average.days(), 100*same.service(), same.days())
				want, got := float64(level)/1000, plan.service()
				if got < want-0.02 || (!whole && got > want+0.04) {
					t.Errorf("turnover %v, %s: %.3f reached, %.3f asked", turnover, packs, got, want)
				}
				if got < average.service()-0.005 {
					t.Errorf("turnover %v, %s: %.3f by the plan, %.3f by the average", turnover, packs, got, average.service())
				}
			}
		}
	}
}

// TestBacktestSeeds plays years of other units and says what service was reached
// over all of them, with a 95 % interval (Student's t over units, since what one
// unit lacks in a year hangs together), and of which products. With -seeds 12
// -first 201 -v it prints the figures of the README.
func TestBacktestSeeds(t *testing.T) {
	if *seeds < 2 {
		t.Skip("-seeds says how many units to make: each takes a minute or two")
	}
	reached := make([][]float64, len(asked))
	products := map[inventory.ProductID]*result{}
	for seed := *firstSeed; seed < *firstSeed+uint64(*seeds); seed++ {
		y := playYear(t, seed, 365, 0.03)
		for i := range asked {
			reached[i] = append(reached[i], y.forward(i, rule{}, false).service())
		}
		for id := range y.packs {
			if products[id] == nil {
				products[id] = new(result)
			}
			one := playedYear{days: y.days, reviews: y.reviews, use: y.use, packs: map[inventory.ProductID]int64{id: y.packs[id]}}
			products[id].add(one.forward(len(asked)-1, rule{}, false))
		}
		t.Logf("seed %d: %.4f", seed, []float64{reached[0][len(reached[0])-1], reached[1][len(reached[1])-1], reached[2][len(reached[2])-1]})
	}
	for _, id := range slices.Sorted(maps.Keys(products)) {
		t.Logf("%s: %.1f %% of %d cycles", id, 100*products[id].service(), products[id].cycles)
	}
	for i, level := range asked {
		mean, half := meanOf(reached[i])
		t.Logf("%.1f %% asked: %.2f %% reached, %.2f to %.2f", float64(level)/10, 100*mean, 100*(mean-half), 100*(mean+half))
		if want := float64(level) / 1000; mean+half < want-0.01 {
			t.Errorf("%.3f is asked, and at most %.3f reached", want, mean+half)
		}
	}
}

// student975 are the 97.5 % points of Student's t for 1 degree of freedom on
// (NIST/SEMATECH e-Handbook 1.3.6.7.2).
var student975 = []float64{12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086}

// meanOf returns a mean and half of its 95 % interval.
func meanOf(x []float64) (mean, half float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	var square float64
	for _, v := range x {
		square += (v - mean) * (v - mean)
	}
	n := float64(len(x))
	return mean, student975[min(len(x)-2, len(student975)-1)] * math.Sqrt(square/(n-1)/n)
}
