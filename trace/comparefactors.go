package trace

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// What is not recorded is kept as doubts. A doubt is a way in which a treatment
// may have met something that nobody wrote down; each factor knows the ways in
// which it could have been that:
//
//	c CATEGORY  a piece of the category is not recorded by lot
//	f CATEGORY  the station was fed, and from which batch is not on record
//	v PRODUCT   a kit or a batch held a lot of the product, and nobody said which
//	n           a batch was met, and nothing is on record of what went into it
//
// A treatment's doubts together are its class. There are few classes, so that
// what is not known is counted by class and not for each factor anew.
type doubt string

func categoryDoubt(c inventory.Category) doubt { return doubt("c" + string(c)) }
func fedDoubt(c inventory.Category) doubt      { return doubt("f" + string(c)) }
func heldDoubt(p inventory.ProductID) doubt    { return doubt("v" + string(p)) }

const madeDoubt doubt = "n"

type factorKey struct {
	kind    FactorKind
	product inventory.ProductID
	id      string
}

// A factor is one under work.
type factor struct {
	Factor
	doubts []doubt
}

// A compared is a treatment under work, by the indexes of what it holds.
type compared struct {
	isCase  bool
	again   bool // a case of a patient of whom another one counts
	patient int
	class   int
	// met are the factors that it met, maybe those of which something on
	// record says that it may have.
	met, maybe []int
	// draw decides which case of a patient counts.
	draw uint64
	day  inventory.Date
}

// gathered is what the treatments read together say.
type gathered struct {
	factors    []factor
	index      map[factorKey]int
	classes    [][]doubt
	classIndex map[string]int
	patients   []PatientID
	patientNo  map[PatientID]int
	reacted    []bool // of each patient
	treatments []compared
	lots       map[inventory.Lot]*lotMeans
}

func newGathered() gathered {
	return gathered{index: map[factorKey]int{}, classIndex: map[string]int{}, patientNo: map[PatientID]int{}, lots: map[inventory.Lot]*lotMeans{}}
}

func (g *gathered) patient(p PatientID) int {
	n, ok := g.patientNo[p]
	if !ok {
		n = len(g.patients)
		g.patientNo[p] = n
		g.patients, g.reacted = append(g.patients, p), append(g.reacted, false)
	}
	return n
}

// factor returns the index of a factor, and adds the ways in which it may have
// been met unrecorded.
func (g *gathered) factor(f Factor, via string, doubts ...doubt) int {
	k := factorKey{f.Kind, f.Product, f.ID}
	i, ok := g.index[k]
	if !ok {
		i = len(g.factors)
		g.index[k] = i
		g.factors = append(g.factors, factor{Factor: f})
	}
	x := &g.factors[i]
	if via != "" && !slices.Contains(x.Via, via) {
		x.Via = append(x.Via, via)
	}
	for _, d := range doubts {
		if !slices.Contains(x.doubts, d) {
			x.doubts = append(x.doubts, d)
		}
	}
	return i
}

func (g *gathered) class(doubts []doubt) int {
	slices.Sort(doubts)
	doubts = slices.Compact(doubts)
	var b strings.Builder
	for _, d := range doubts {
		b.WriteString(string(d))
		b.WriteByte(0)
	}
	i, ok := g.classIndex[b.String()]
	if !ok {
		i = len(g.classes)
		g.classIndex[b.String()] = i
		g.classes = append(g.classes, slices.Clone(doubts))
	}
	return i
}

// A caseReader reads treatments in one snapshot.
type caseReader struct {
	*comparer
	r inventory.Reader
	s *supplies
}

func (c *comparer) reader(r inventory.Reader) *caseReader {
	return &caseReader{comparer: c, r: r, s: newSupplies(c.b, r)}
}

// A meeting is what one treatment met, while it is read.
type meeting struct {
	met, maybe []int
	doubts     []doubt
}

// gather adds a treatment to what is compared.
func (c *caseReader) gather(t *Treatment) error {
	if t.Struck != 0 || t.NotDone {
		c.out.NotDone++
		return nil
	}
	at, isCase := c.cases[t.ID]
	until := at
	if until.IsZero() {
		until = rowcode.MaxTime
	}
	p := c.patient(t.Patient)
	c.reacted[p] = c.reacted[p] || isCase
	var m meeting
	if err := c.places(&m, t); err != nil {
		return err
	}
	if err := c.uses(&m, t, until); err != nil {
		return err
	}
	if err := c.gaps(&m, t, until); err != nil {
		return err
	}
	slices.Sort(m.met)
	m.met = slices.Compact(m.met)
	slices.Sort(m.maybe)
	m.maybe = slices.DeleteFunc(slices.Compact(m.maybe), func(f int) bool { return contains(m.met, f) })
	c.treatments = append(c.treatments, compared{
		isCase: isCase, patient: p, class: c.class(m.doubts), met: slices.Clip(m.met), maybe: slices.Clip(m.maybe), draw: fingerprint(t.Opened), day: inventory.DateOf(t.Start, c.zone),
	})
	return nil
}

// places adds machine, station and shift, which are always on record.
func (c *caseReader) places(m *meeting, t *Treatment) error {
	shift, err := c.unit.ShiftOf(t.Start)
	if err != nil {
		return err
	}
	m.met = append(m.met,
		c.factor(Factor{Kind: FactorMachine, ID: string(t.Machine)}, ""),
		c.factor(Factor{Kind: FactorStation, ID: string(t.Station)}, ""),
		c.factor(Factor{Kind: FactorShift, ID: strconv.Itoa(shift.Number)}, ""))
	return nil
}

// uses adds what is recorded by lot.
func (c *caseReader) uses(m *meeting, t *Treatment, until time.Time) error {
	for i := range t.Uses {
		u := &t.Uses[i]
		if u.Struck != 0 || u.Lot == "" || (t.tookOver(u) && u.From.After(until)) {
			continue
		}
		doubts := []doubt{categoryDoubt(u.Category)}
		for _, part := range u.Also {
			doubts = append(doubts, categoryDoubt(part.Category))
		}
		l := inventory.Lot{Product: u.Product, Number: u.Lot}
		if err := c.lot(m, l, true, "pack", doubts); err != nil {
			return err
		}
		if u.Container != "" {
			f := Factor{Kind: FactorContainer, ID: string(u.Container), Product: u.Product, Category: u.Category}
			m.met = append(m.met, c.factor(f, "", doubts...))
		}
	}
	for i := range t.Stopped {
		s := &t.Stopped[i]
		if s.Lot == "" {
			continue
		}
		if err := c.lot(m, inventory.Lot{Product: s.Product, Number: s.Lot}, false, "pack", []doubt{categoryDoubt(s.Category)}); err != nil {
			return err
		}
	}
	return nil
}

// gaps adds what fed the station and what is not recorded.
func (c *caseReader) gaps(m *meeting, t *Treatment, until time.Time) error {
	missing := map[inventory.Category]bool{}
	for _, x := range t.Missing() {
		missing[x.Category] = true
	}
	for _, cat := range []inventory.Category{inventory.AcidConcentrate, inventory.Bicarbonate} {
		sure, err := c.fed(m, t, cat, until, missing[cat])
		if err != nil {
			return err
		}
		if sure {
			delete(missing, cat)
		}
	}
	for cat := range missing {
		m.doubts = append(m.doubts, categoryDoubt(cat))
	}
	// What no rule asks for, or did not yet, is recorded or not as it comes:
	// without a record it isn't known.
	for _, cat := range inventory.Categories() {
		since, asked := c.asked[cat]
		if _, required := t.required(cat); !required && (!asked || t.Start.Before(since)) && t.recorded(cat) == 0 {
			m.doubts = append(m.doubts, categoryDoubt(cat))
		}
	}
	return nil
}

// fed adds the batches that fed the treatment's station. sure tells that one of
// them did, and that nothing else was used.
func (c *caseReader) fed(m *meeting, t *Treatment, cat inventory.Category, until time.Time, missing bool) (sure bool, err error) {
	if none, err := c.s.none(); none || err != nil {
		return false, err
	}
	from, to := t.span()
	if until.Before(to) {
		to = until
	}
	list, unknown, err := c.s.of(t.Station, cat, from, to)
	if err != nil {
		return false, err
	}
	if unknown && missing {
		m.doubts = append(m.doubts, fedDoubt(cat))
	}
	for i := range list {
		v, err := c.s.judge(t, cat, &list[i])
		switch {
		case err != nil:
			return false, err
		case v.excluded != "":
			continue
		}
		met := v.grade == Confirmed
		sure = sure || met
		if err := c.lot(m, list[i].batch.Lot(), met, "", []doubt{fedDoubt(cat)}); err != nil {
			return false, err
		}
	}
	return sure, nil
}
