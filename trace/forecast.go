package trace

import (
	"fmt"
	"math"

	"lotbook/inventory"
	"lotbook/inventory/policy"
)

// What a Forecast rests on.
const (
	BasisPlan   = "plan"   // the planned treatments, and how the record differed from its plan
	BasisRecord = "record" // the record alone: the plan says nothing of it
)

// A Forecast is how much of a product the days to come use.
//
// By the plan: D(k), the use of the next k days, has
//
//	mean      β·P
//	variance  φ·P + φ·P²/Pw + β²·v·w(w+1)(2w+1)/6
//
// where P are the pieces planned in these days and Pw those planned in the days
// of the record.
//
//   - β, pieces used for one planned: 1 − c + u + the share of pieces used beyond
//     the plan, wasted, used outside treatments, or missed by counts. c is the
//     share of planned treatments that did not take place, u of those that took
//     place without a plan.
//   - φ, the variance for one piece planned. Treatments are cancelled or come
//     unplanned each by itself, q pieces at a time, and pieces beyond the plan
//     come as events of e pieces each (a compound Poisson process):
//     φ = (c(1 − c) + u)·q + Σe²/Pw, pieces missed by counts as events of one.
//   - φ·P²/Pw is because β itself is known from Pw pieces only.
//   - v is the mean square of the difference between one week's planned pieces
//     and the next's, in the record: beyond the days planned, the w weeks that
//     repeat the last planned one may each move on from the one before (a random
//     walk).
//
// By the record: mean m·k and variance s·k + s·k²/W from W days of record, with m
// pieces a day and s = Σe²/W.
//
// A product of which the record holds too little (fewer than 30 planned
// treatments, or less than half of those planned) is forecast by the plan alone,
// its treatments as a Poisson process (φ = q), which says so in its terms.
type Forecast struct {
	Basis string `json:"basis"`
	// Ratio is β, Dispersion φ; of a forecast by the record, m and s.
	Ratio      float64 `json:"ratio"`
	Dispersion float64 `json:"dispersion"`
	// WeekChange is v.
	WeekChange float64 `json:"week_change"`
	// Terms open the figures.
	Terms []inventory.Term `json:"terms"`

	plan  *Plan
	of    *planned
	known float64 // Pw, or W
}

// leastRecord is from how many planned treatments on a record says something.
// Common practice, no source.
const leastRecord = 30

// forecast works out how a product of a category is used; where that is not
// known it returns nil and why.
func (p *Plan) forecast(u *inventory.Unit, rec *Record, id inventory.ProductID, c inventory.Category) (f *Forecast, why string) {
	q, past := p.products[id], rec.products[id]
	if past == nil {
		past = new(pastUse)
	}
	if _, listed := u.Rules.Need(c); !listed && c != "" {
		return p.byRecord(rec, past)
	}
	switch {
	case p.until < 0:
		return nil, fmt.Sprintf("no treatments are planned from a week before %s on", p.Today)
	case q == nil || !p.uses(q):
		if past.further.sum+past.outside.sum > 0 {
			return p.byRecord(rec, past)
		}
		return nil, "no planned treatment uses it: no prescription of a planned patient names it, nor does the unit by default"
	}
	f = &Forecast{Basis: BasisPlan, Ratio: 1, plan: p, of: q}
	size := float64(q.squares) / float64(q.sum)
	f.WeekChange = p.weekChange(q, rec.Days)
	var pw int64
	for day := p.today - rec.Days; day < p.today; day++ {
		pw += q.total[day]
	}
	if rec.Planned < leastRecord || 2*rec.NotDone > rec.Planned || pw == 0 {
		f.Dispersion = size
		f.term("used for one planned", "1", fmt.Sprintf("by the plan alone: of %d treatments planned in the %d days since %s the record has %d, and %d pieces were planned of this", rec.Planned, rec.Days, rec.From, rec.Planned-rec.NotDone, pw))
		f.term("variance for one planned", num(size), "treatments taken as a Poisson process, since the record says too little")
		f.changeTerm()
		return f, ""
	}
	f.known = float64(pw)
	n := float64(rec.Planned)
	absent, extra := float64(rec.NotDone)/n, float64(rec.Unplanned)/n
	f.term("did not take place", num(absent), fmt.Sprintf("%d of %d treatments planned in the %d days since %s", rec.NotDone, rec.Planned, rec.Days, rec.From))
	f.term("took place unplanned", num(extra), fmt.Sprintf("%d treatments for %d planned", rec.Unplanned, rec.Planned))
	f.Ratio += extra - absent
	f.Dispersion = (absent*(1-absent) + extra) * size
	f.term("variance of attendance", num(f.Dispersion), fmt.Sprintf("(%s × (1 − %s) + %s) × %s pieces a treatment", num(absent), num(absent), num(extra), num(size)))
	missed := p.missed(past, f.Ratio*f.known)
	for _, e := range []struct {
		what string
		events
	}{{"used beyond the plan", past.further}, {"wasted", past.wasted}, {"used outside treatments", past.outside}, {"missed by counts", missed}} {
		share, square := float64(e.sum)/f.known, float64(e.squares)/f.known
		f.Ratio += share
		f.Dispersion += square
		if e.n > 0 {
			f.term(e.what, num(share), fmt.Sprintf("%d pieces for %d planned; their squares add %s to the variance", e.sum, pw, num(square)))
		}
	}
	if !past.counted {
		f.term("missed by counts", "not known", "counts span less than half of the record's days at a place that has it, so pieces lost or not written down are left out")
	}
	f.term("used for one planned", num(f.Ratio), "1 − did not take place + unplanned + the shares above")
	f.term("variance for one planned", num(f.Dispersion), "the sum of the variances above")
	f.changeTerm()
	return f, ""
}

func (f *Forecast) changeTerm() {
	f.term("change from week to week", num(math.Sqrt(f.WeekChange)), "root mean square of the difference between one week's planned pieces and the next's, in the record")
}

// missed returns the pieces that counts say are gone and nothing explains: what
// left the shelves, less what the treatments that took place should have used
// and what is recorded beyond that. Less than nothing is taken for nothing: it
// may be a delivery that nobody wrote down.
func (p *Plan) missed(past *pastUse, should float64) (e events) {
	if !past.counted {
		return e
	}
	// further pieces are in used already.
	n := int64(math.Round(float64(past.used) - past.found - should - float64(past.further.sum)))
	if n > 0 {
		e = events{int(n), n, n}
	}
	return e
}

// byRecord forecasts a product of which the plan says nothing: no rule names its
// category, or it was used in place of what is planned, mixed into batches, or sent
// to home patients.
func (p *Plan) byRecord(rec *Record, past *pastUse) (f *Forecast, why string) {
	days := float64(rec.Days)
	lost := p.missed(past, 0)
	sum := past.further.sum + past.wasted.sum + past.outside.sum + lost.sum
	if sum == 0 {
		return nil, fmt.Sprintf("no rule of the unit says what a treatment uses of it, and no use is recorded in the %d days since %s", rec.Days, rec.From)
	}
	f = &Forecast{Basis: BasisRecord, plan: p, known: days, Ratio: float64(sum) / days}
	f.Dispersion = float64(past.further.squares+past.wasted.squares+past.outside.squares+lost.squares) / days
	f.term("used a day", num(f.Ratio), fmt.Sprintf("%d pieces recorded, or missed by counts, in the %d days since %s: the planned treatments don't say what is used of it, so this is an average of the record", sum, rec.Days, rec.From))
	f.term("variance of a day", num(f.Dispersion), "the squares of the uses, by day (compound Poisson)")
	return f, ""
}

// weekChange is the mean square of the difference between the planned pieces of
// one week of the record and the next. Weeks before the schedule began, and the
// one in which it did, are left out.
func (p *Plan) weekChange(q *planned, days int) float64 {
	var weeks []float64
	for end := p.today; end-week >= p.today-days; end -= week {
		var n int64
		treatments := 0
		for day := end - week; day < end; day++ {
			n += q.total[day]
			treatments += p.counts[day]
		}
		if treatments == 0 {
			weeks = weeks[:max(0, len(weeks)-1)]
			break
		}
		weeks = append(weeks, float64(n))
	}
	if len(weeks) < 2 {
		return 0
	}
	var sum float64
	for i := range len(weeks) - 1 {
		sum += (weeks[i] - weeks[i+1]) * (weeks[i] - weeks[i+1])
	}
	return sum / float64(len(weeks)-1)
}

// planned returns the pieces planned for so many days from now on. Of the day on
// which they end, the part that has passed by this time of day counts.
func (f *Forecast) planned(days float64) float64 {
	if f.of == nil {
		return 0
	}
	end := days + f.plan.passed
	whole := int(end)
	var n int64
	for day := range whole {
		n += f.plan.on(f.of, "", day)
	}
	return float64(n) + (end-float64(whole))*float64(f.plan.on(f.of, "", whole))
}

// Demand returns the use of so many days from now on.
func (f *Forecast) Demand(days float64) policy.Demand {
	if f.Basis == BasisRecord {
		return policy.Demand{Mean: f.Ratio * days, Variance: f.Dispersion * days * (1 + days/f.known)}
	}
	n := f.planned(days)
	d := policy.Demand{Mean: f.Ratio * n, Variance: f.Dispersion * n}
	if f.known > 0 {
		d.Variance *= 1 + n/f.known
	}
	d.Variance += f.Ratio * f.Ratio * f.WeekChange * walk(f.repeated(days))
	return d
}

// repeated returns how many weeks of a span lie beyond the days planned.
func (f *Forecast) repeated(days float64) float64 {
	return max(0, days+f.plan.passed-float64(f.plan.until+1-f.plan.today)) / week
}

// walk is the variance of a sum of w steps of a random walk whose steps have
// variance 1: 1² + 2² + … + w².
func walk(w float64) float64 { return w * (w + 1) * (2*w + 1) / 6 }

// Rate is the mean use of a day, over the weeks to come.
func (f *Forecast) Rate() float64 {
	if f.Basis == BasisRecord {
		return f.Ratio
	}
	const weeks = 4
	var n int64
	for day := range weeks * week {
		n += f.plan.on(f.of, "", day+1)
	}
	return f.Ratio * float64(n) / (weeks * week)
}

func (f *Forecast) term(what, value, how string) {
	f.Terms = append(f.Terms, inventory.Term{What: what, Value: value, How: how})
}

// num writes a figure to four significant digits.
func num(x float64) string { return fmt.Sprintf("%.4g", x) }
