package trace

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lotbook/inventory"
	"lotbook/trace/associate"
)

// level is of all intervals.
const level = 0.95

// conclude turns what was gathered into the answer.
func (c *comparer) conclude() error {
	n := c.counted()
	out := c.out
	out.Looked = len(c.factors)
	out.Treatments = Compared{n.allTreatments[amongCases], n.allTreatments[amongOthers]}
	out.Patients = Compared{n.allPatients[amongCases], n.allPatients[amongOthers]}
	out.MostOfOne = c.mostOfOne()
	out.Judged = c.counting()
	list := make([]SharedFactor, len(c.factors))
	treatments, patients := contrasts(n.treatments, n.allTreatments), contrasts(n.patients, n.allPatients)
	oneEach := treatments
	if out.MostOfOne > 1 {
		oneEach = contrasts(n.oneEach, n.allOneEach)
	}
	for f := range list {
		list[f] = SharedFactor{Factor: c.factors[f].Factor, Treatments: treatments[f], OneEach: oneEach[f], Patients: patients[f]}
		slices.Sort(list[f].Via)
	}
	order := inOrder(list, out.Judged)
	like := map[uint64][]int{} // by place in the answer
	for at, f := range order {
		like[n.like[f]] = append(like[n.like[f]], at)
	}
	concerns := c.concerns()
	for at, f := range order {
		x := &list[f]
		j := x.Judged(out.Judged)
		x.StandsOut = j.Known.OddsRatio > 1 && j.Corrected <= out.Alpha
		// Bonferroni's correction is no less strict than Holm's.
		x.Holds = x.StandsOut && j.Least.OddsRatio > 1 && j.Least.P*float64(out.Looked) <= out.Alpha
		for _, other := range like[n.like[f]] {
			if other != at {
				x.Like = append(x.Like, other)
			}
		}
		if x.StandsOut && out.Judged != ByPatient {
			x.Without, x.SameDays = c.without(f, concerns[f]), c.sameDays(f, concerns[f])
		}
		x.Words = x.words(out)
		out.Factors = append(out.Factors, *x)
	}
	out.Limits = c.limits(n)
	return nil
}

// counting says by which counting the answer is judged.
func (c *comparer) counting() Counting {
	for i := range c.q.Cases {
		if x := &c.q.Cases[i]; x.Treatment == "" && x.Problem == "" && x.At.IsZero() {
			return ByPatient
		}
	}
	if c.out.MostOfOne > 1 {
		return ByOne
	}
	return ByTreatment
}

// contrasts works out the figures of all factors, corrected for how many there
// are.
func contrasts(list []counts, all [2]int64) []Contrast {
	out := make([]Contrast, len(list))
	p := make([]float64, len(list))
	for i := range list {
		out[i] = contrast(list[i].split(amongCases, all[amongCases]), list[i].split(amongOthers, all[amongOthers]))
		p[i] = out[i].Known.P
	}
	holm, share := associate.Holm(p), associate.BenjaminiHochberg(p)
	for i := range out {
		out[i].Corrected, out[i].FalseShare = holm[i], share[i]
	}
	return out
}

func contrast(cases, others Split) Contrast {
	table := func(casesMet, othersMet int64, leaveOut bool) associate.Measured {
		t := associate.Table{
			A: cases.Met + casesMet, B: cases.NotMet + cases.Unknown - casesMet,
			C: others.Met + othersMet, D: others.NotMet + others.Unknown - othersMet,
		}
		if leaveOut {
			t.B, t.D = cases.NotMet, others.NotMet
		}
		return associate.Measure(t, level)
	}
	x := Contrast{Cases: cases, Others: others, Known: table(0, 0, true)}
	if cases.Unknown+others.Unknown == 0 {
		x.NotMet, x.Met, x.Least, x.Most = x.Known, x.Known, x.Known, x.Known
		return x
	}
	x.NotMet, x.Met = table(0, 0, false), table(cases.Unknown, others.Unknown, false)
	x.Least, x.Most = table(0, others.Unknown, false), table(cases.Unknown, 0, false)
	return x
}

// inOrder returns the indexes of factors in the order in which to look at them:
// first what is more frequent among cases, by p.
func inOrder(list []SharedFactor, judged Counting) []int {
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	rank := func(x *Contrast) int {
		switch {
		case x.Known.OddsRatio > 1:
			return 0
		case x.Cases.Unknown > 0 && x.Most.OddsRatio > 1:
			return 1 // what is not known may hide it
		}
		return 2
	}
	slices.SortFunc(order, func(a, b int) int {
		x, y := list[a].Judged(judged), list[b].Judged(judged)
		return cmp.Or(
			cmp.Compare(rank(x), rank(y)), cmp.Compare(x.Known.P, y.Known.P), cmp.Compare(y.Cases.Met, x.Cases.Met),
			cmp.Compare(list[a].Kind, list[b].Kind), cmp.Compare(list[a].Product, list[b].Product), cmp.Compare(list[a].ID, list[b].ID),
		)
	})
	return order
}

// without looks for the patient on whom a factor rests most.
func (c *comparer) without(f int, concerns []bool) *WithoutPatient {
	var most *WithoutPatient
	for p, reacted := range c.reacted {
		if !reacted {
			continue
		}
		two := c.among(f, concerns, func(t *compared) bool { return t.patient != p })
		if most == nil || two > most.P {
			most = &WithoutPatient{c.patients[p], two}
		}
	}
	return most
}

// sameDays returns a factor's p-value among the treatments of the days with a
// case, nil if there are no others.
func (c *comparer) sameDays(f int, concerns []bool) *float64 {
	days := map[inventory.Date]bool{}
	for i := range c.treatments {
		if t := &c.treatments[i]; t.isCase && !t.again {
			days[t.day] = true
		}
	}
	if !slices.ContainsFunc(c.treatments, func(t compared) bool { return !t.isCase && !days[t.day] }) {
		return nil
	}
	two := c.among(f, concerns, func(t *compared) bool { return days[t.day] })
	return &two
}

// among returns a factor's p-value among some of the treatments.
func (c *comparer) among(f int, concerns []bool, one func(*compared) bool) float64 {
	n, all := c.some(f, concerns, one)
	cases, others := n.split(amongCases, all[amongCases]), n.split(amongOthers, all[amongOthers])
	two, _, _ := associate.Fisher(associate.Table{A: cases.Met, B: cases.NotMet, C: others.Met, D: others.NotMet})
	return two
}

// words says what the figures of a factor are.
func (x *SharedFactor) words(c *Comparison) string {
	t := x.Judged(c.Judged)
	s := fmt.Sprintf("%s %s met it", of(t.Cases), map[Counting]string{
		ByTreatment: "cases and " + of(t.Others) + " other treatments",
		ByOne:       "cases, one of each patient, and " + of(t.Others) + " other treatments",
		ByPatient:   "patients with a reaction and " + of(t.Others) + " other patients",
	}[c.Judged])
	switch c, o := t.Cases.Unknown, t.Others.Unknown; {
	case c > 0 && o > 0:
		s += fmt.Sprintf(" (of %d cases and %d others it is not known)", c, o)
	case c > 0:
		s += fmt.Sprintf(" (of %d cases it is not known)", c)
	case o > 0:
		s += fmt.Sprintf(" (of %d others it is not known)", o)
	}
	if !t.Known.OddsRatio.Defined() {
		return s + ". Nothing can be compared."
	}
	s += fmt.Sprintf(": odds ratio %s, 95%% interval %s to %s, p %s, %s corrected for %d looked at.",
		t.Known.OddsRatio, t.Known.Low, t.Known.High, PText(t.Known.P), PText(t.Corrected), c.Looked)
	if !x.StandsOut {
		return s
	}
	if !x.Holds {
		s += fmt.Sprintf(" What is not known could undo it (odds ratio from %s).", t.Least.OddsRatio)
	}
	if n := len(x.Like); n > 0 {
		s += fmt.Sprintf(" Just the same treatments met %d more of those listed: no figure tells them apart.", n)
	}
	if x.SameDays != nil {
		s += fmt.Sprintf(" Among the treatments of the cases' days alone p is %s", PText(*x.SameDays))
		if *x.SameDays > c.Alpha {
			s += ": what else was in use on these days may be behind it"
		}
		s += "."
	}
	if x.Without != nil && x.Without.P > c.Alpha {
		s += fmt.Sprintf(" It rests on patient %s: without, p is %s.", x.Without.Patient, PText(x.Without.P))
	}
	return s
}

func of(s Split) string { return fmt.Sprintf("%d of %d", s.Met, s.Met+s.NotMet) }

// PText writes a p-value with two digits; below 0.0001 only that.
func PText(p float64) string {
	switch {
	case p < 0.0001:
		return "<0.0001"
	case p >= 0.995:
		return "1"
	}
	return fmt.Sprintf("%.*f", max(2, 1-int(math.Floor(math.Log10(p)))), p)
}

// limits are the sentences that belong to every answer, and those of this one.
func (c *comparer) limits(n *tally) []string {
	out := c.out
	list := []string{
		"That two things go together does not say that one causes the other. Something else that goes with both may be behind it: what was in use on the same days, a habit, who is treated where and when.",
		fmt.Sprintf("%d things were looked at. Without a correction one in twenty would seem to matter by chance alone; the corrected p allows for all of them, Holm's way.", out.Looked),
		"The question was asked after the cases were seen, and the cases chose the time looked at. That finds what to look into; it proves nothing, and another unit's figures, or a test of the product, must.",
		"Treatments of one patient do not stand for themselves: what the patient brings along counts anew with each. What stands out is therefore judged by one case of each patient. The figures by patient count each once, by all of its treatments of this time.",
	}
	if out.Patients.Cases < 10 {
		list = append(list, fmt.Sprintf("Cases of %d patients are few. That nothing stands out does not mean that nothing is behind them; the intervals say what is left open.", out.Patients.Cases))
	}
	switch {
	case out.Judged == ByPatient:
		list = append(list, "Of some patients it isn't known which treatment it was: all of theirs in this time count as cases by treatment, and what stands out is judged by patient.")
	case out.MostOfOne > 1:
		list = append(list, fmt.Sprintf("One patient has %d of the %d cases: one of each patient is judged, whichever it was.", out.MostOfOne, out.Treatments.Cases))
	}
	if n.allTreatments[amongOthers] == 0 {
		list = append(list, "There is no other treatment to compare with.")
	}
	if first, last := c.span(); !out.Named && (out.From < first || last < out.To) {
		list = append(list, fmt.Sprintf("What was in use on the days of the cases goes together. Asked of these days alone, %s to %s, what was merely in use then stands out less.", first, last))
	}
	unknown := 0
	for i := range n.treatments {
		if n.treatments[i].unknown != [2]int64{} {
			unknown++
		}
	}
	if unknown > 0 {
		list = append(list, fmt.Sprintf("Of %d of the things looked at it is not on record for every treatment whether it met them. These treatments are left out of the figures, and what they could change stands beside.", unknown))
	}
	return append(list, "Only what is in the record can be found: not water, staff, drugs given elsewhere, nor a product that nobody scans.")
}

// span returns the first and the last day with a case.
func (c *comparer) span() (first, last inventory.Date) {
	for i := range c.out.Cases {
		day := inventory.DateOf(c.out.Cases[i].Start, c.zone)
		if first == "" || day < first {
			first = day
		}
		last = max(last, day)
	}
	return first, last
}

// mostOfOne returns how many case treatments the patient has that has most.
func (c *comparer) mostOfOne() (most int64) {
	n := make([]int64, len(c.patients))
	for i := range c.treatments {
		if t := &c.treatments[i]; t.isCase {
			n[t.patient]++
			most = max(most, n[t.patient])
		}
	}
	return most
}
