package trace

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"lotbook/inventory"
	"lotbook/trace/associate"
	"lotbook/trace/control"
)

// Watch looks at what was read up to a day, as it would have looked on that day.
func (h *History) Watch(to inventory.Date) *Watch {
	w := &Watch{From: h.q.From, To: to, Alpha: h.q.Alpha, Series: []Series{}, Scanning: []PlaceChart{}, Wasting: []PlaceChart{}}
	if w.Alpha == 0 {
		w.Alpha = 0.05
	}
	if h.last != nil {
		w.AsOf, w.At = h.last.AsOf, h.last.At
	}
	for _, s := range h.shifts {
		if s.shift.Date <= to {
			w.Shifts++
			w.Treatments += s.treatments
		}
	}
	h.placeCharts(w)
	h.series(w)
	w.judge()
	return w
}

// placeCharts charts what was not scanned and what was wasted.
func (h *History) placeCharts(w *Watch) {
	places := append([]inventory.LocationID{""}, slices.Sorted(maps.Keys(h.treated))...)
	for _, loc := range places {
		if loc == "" && h.q.Location != "" {
			continue
		}
		var missing, required, wasted, treatments []int64
		var labels, wasteLabels []string
		for _, s := range h.shifts {
			if s.shift.Date > w.To {
				continue
			}
			var sum placeFigures
			for at, p := range s.places {
				if loc == "" || at == loc {
					sum.missing += p.missing
					sum.required += p.required
					sum.wasted += p.wasted
					sum.treatments += p.treatments
				}
			}
			if sum.required > 0 {
				missing, required, labels = append(missing, sum.missing), append(required, sum.required), append(labels, s.shift.String())
			}
			if sum.treatments > 0 {
				wasted, treatments, wasteLabels = append(wasted, sum.wasted), append(treatments, sum.treatments), append(wasteLabels, s.shift.String())
			}
		}
		scanning := PlaceChart{Location: loc, Labels: labels}
		c, err := control.PChart(missing, required, false)
		scanning.set(c, err, len(labels))
		wasting := PlaceChart{Location: loc, Labels: wasteLabels}
		c, err = control.UChart(wasted, treatments, false)
		wasting.set(c, err, len(wasteLabels))
		w.Scanning, w.Wasting = append(w.Scanning, scanning), append(w.Wasting, wasting)
	}
}

func (p *PlaceChart) set(c *control.Chart, err error, n int) {
	if p.Chart = c; err != nil {
		p.Chart, p.Unknown = nil, fmt.Sprintf("not known: %d shifts had treatments, and a chart needs %d", n, control.Least)
	}
}

// series makes a series of each product at each place and over all places: of
// shifts where the place is counted by shift, of weeks where it is not.
func (h *History) series(w *Watch) {
	keys := slices.SortedFunc(maps.Keys(h.rows), func(a, b seriesKey) int {
		return cmp.Or(cmp.Compare(a.product, b.product), cmp.Compare(a.location, b.location))
	})
	for _, k := range keys {
		if h.treated[k.location] == k.week && k.location != "" {
			continue // a place that treats is looked at by shift, another by week
		}
		if k.location == "" && k.week {
			continue
		}
		s := Series{Product: k.product, Name: h.names[k.product], Location: k.location, By: "shift", Points: []Point{}}
		if k.week {
			s.By = "week"
		}
		s.add(h.rows[k], w.To)
		if len(s.Points)+s.NotCounted > 0 {
			w.Series = append(w.Series, s)
		}
	}
}

// add makes the points of a series. What differed while nothing was treated goes
// to the next count with treatments.
func (s *Series) add(rows []figures, to inventory.Date) {
	var needed int64
	for i := range rows {
		needed += rows[i].Treatments
	}
	s.perShift = needed == 0
	var kept *Point
	for i := range rows {
		f := rows[i]
		if f.To.Date > to {
			break
		}
		if needed == 0 {
			f.Treatments = f.treated // used for a shift, not for a treatment
		}
		switch {
		case !f.counted:
			if f.Treatments > 0 {
				s.NotCounted++
			}
			continue
		case kept != nil:
			f.From = kept.From
			f.CountedLessRecorded += kept.CountedLessRecorded
			f.CountedLessExpected += kept.CountedLessExpected
			f.Open += kept.Open
			kept = nil
		}
		if f.Treatments == 0 {
			kept = &f.Point
			continue
		}
		s.Points = append(s.Points, f.Point)
	}
	s.settle()
}

// settle takes out of what is open what one count says and the next takes back,
// where the one is no more than twice the other: a miscount of something that is
// not kept by lot, which the lots' own figures can't show.
func (s *Series) settle() {
	for i := 1; i < len(s.Points); i++ {
		a, b := &s.Points[i-1].Open, &s.Points[i].Open
		n := opposite(*a, *b)
		if n == 0 || max(size(*a), size(*b)) > 2*size(n) {
			continue
		}
		*a -= n
		*b += n
	}
}

// judge works out the tests and corrects them for how many there are.
func (w *Watch) judge() {
	usual := map[bool]control.Usual{false: w.usual(false), true: w.usual(true)}
	for i := range w.Series {
		s := &w.Series[i]
		s.charts()
		s.level()
		if s.Level != nil {
			w.Looked++
			s.change(usual[s.perShift])
		}
	}
	whole := w.correct(func(s *Series) bool { return s.Location == "" })
	single := w.correct(func(s *Series) bool { return s.Location != "" })
	for i := range w.Series {
		s := &w.Series[i]
		if s.Level != nil {
			// Half of alpha is for products over all places, half for
			// each place.
			if whole && single {
				s.Level.Corrected = min(1, 2*s.Level.Corrected)
				if s.Change != nil {
					s.Change.Corrected = min(1, 2*s.Change.Corrected)
				}
			}
			s.Steady = s.Level.Corrected < w.Alpha
			s.Alarm = s.Change != nil && s.Change.Corrected < w.Alpha
		}
		s.cumulative(w.Looked)
		s.Words = s.say(w)
	}
}

// correct corrects the p-values of a part of the series for how many there are,
// and says whether there are any.
func (w *Watch) correct(part func(*Series) bool) bool {
	var rises, levels []float64
	var of []*Series
	for i := range w.Series {
		s := &w.Series[i]
		if s.Level == nil || !part(s) {
			continue
		}
		p, excess := 1.0, 1.0
		if s.Change != nil {
			p, excess = s.Change.P, s.Change.PExcess
		}
		rises, levels, of = append(rises, p, excess), append(levels, s.Level.P), append(of, s)
	}
	rises, levels = associate.Holm(rises), associate.Holm(levels)
	for i, s := range of {
		s.Level.Corrected = levels[i]
		if s.Change != nil {
			s.Change.Corrected = min(rises[2*i], rises[2*i+1])
		}
	}
	return len(of) > 0
}

// usual is how much of a product usually goes unaccounted for, over the products
// and places looked at: of those that treatments need, or of those that are used
// for a shift.
func (w *Watch) usual(perShift bool) control.Usual {
	var counts []int64
	var sizes []float64
	for i := range w.Series {
		s := &w.Series[i]
		if len(s.Points) < control.Least || s.perShift != perShift {
			continue
		}
		gone, size := s.gone()
		var sum int64
		var total float64
		for j := range gone {
			sum += gone[j]
			total += size[j]
		}
		counts, sizes = append(counts, sum), append(sizes, total)
	}
	return control.FitUsual(counts, sizes)
}

// charts charts the differences for each treatment.
func (s *Series) charts() {
	if len(s.Points) < control.Least {
		return
	}
	recorded, expected, size := make([]float64, len(s.Points)), make([]float64, len(s.Points)), make([]float64, len(s.Points))
	for i, p := range s.Points {
		size[i] = float64(p.Treatments)
		recorded[i], expected[i] = float64(p.CountedLessRecorded)/size[i], float64(p.CountedLessExpected)/size[i]
	}
	s.CountedLessRecorded, _ = control.XmR(recorded, size) // there are enough, and no size is 0
	s.CountedLessExpected, _ = control.XmR(expected, size)
}

// orders is how many other orders of a series are tried at most.
const orders = 9999

// tame returns what is open in each point, with a few pieces at most: what a
// miscount of a whole box does to a series must not hide a piece a day. Larger
// ones count as the limit.
func (s *Series) tame() (value, size []float64) {
	var all []float64
	for _, p := range s.Points {
		all = append(all, math.Abs(float64(p.Open)))
	}
	slices.Sort(all)
	limit := max(1, 3*all[len(all)*3/4])
	for _, p := range s.Points {
		value = append(value, min(limit, max(-limit, float64(p.Open))))
		size = append(size, float64(p.Treatments))
	}
	return value, size
}

// gone returns what went at each count and is not accounted for, tamed.
func (s *Series) gone() (count []int64, size []float64) {
	value, size := s.tame()
	for _, v := range value {
		count = append(count, int64(max(0, v)))
	}
	return count, size
}

// level works out what is open for each treatment over the whole time.
func (s *Series) level() {
	if len(s.Points) < control.Least {
		return
	}
	value, size := s.tame()
	l := &Level{}
	var sum, total, spread float64
	for i, p := range s.Points {
		switch {
		case p.Open > 0:
			l.More++
		case p.Open < 0:
			l.Fewer++
		}
		sum += value[i]
		total += size[i]
	}
	l.PerTreatment = sum / total
	for i := range value {
		d := value[i] - l.PerTreatment*size[i]
		spread += d * d
	}
	half := 1.96 * math.Sqrt(spread) / total
	l.Low, l.High = l.PerTreatment-half, l.PerTreatment+half
	l.P = control.SignTest(l.More, l.Fewer)
	s.Level = l
}

// change looks for a rise of what is open.
func (s *Series) change(usual control.Usual) {
	value, size := s.tame()
	c, err := control.FindChange(value, size, orders)
	if err != nil || c == nil {
		return
	}
	count, _ := s.gone()
	excess, _ := control.Excess(count, size, usual)
	before, own := usual.Shape, usual.Size
	var after int64
	var ahead float64
	for i, n := range count {
		if i < c.At {
			before += float64(n)
			own += size[i]
		} else {
			after += n
			ahead += size[i]
		}
	}
	rate := before / own
	low, high := control.RateInterval(after, ahead)
	s.Change = &Rise{
		Onset: s.Points[c.At].From, Earliest: s.Points[c.From].From, Latest: s.Points[c.To].From,
		PerTreatment: float64(after)/ahead - rate, Low: low - rate, High: high - rate,
		Pieces: int64(math.Round(float64(after) - rate*ahead)), P: c.P, PExcess: excess,
	}
}

// cumulative adds up what is open beyond an allowance of half a standard
// deviation, with a limit that all series together cross by chance about once
// in as many counts as this one has, were their figures normal.
func (s *Series) cumulative(looked int) {
	if s.Level == nil {
		return
	}
	value, _ := s.tame()
	var square float64
	for _, v := range value {
		square += v * v
	}
	sigma := math.Sqrt(square / float64(len(value)))
	if sigma == 0 {
		return
	}
	const slack = 0.5
	c := control.Cusum{Slack: slack * sigma, Limit: sigma * control.CusumLimit(slack, float64(max(looked, 1)*len(value)))}
	out := &Cumulative{Limit: c.Limit}
	for i, v := range value {
		if c.Add(v) && out.Signal == nil {
			out.Signal, out.Since = &s.Points[i].To, &s.Points[c.Since].From
		}
	}
	out.Sum = c.Sum
	s.Sum = out
}
