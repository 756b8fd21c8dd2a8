package trace

import (
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A Plan is what the planned treatments of the days ahead should use, by the
// prescriptions in force and the unit's rules.
//
// A schedule ends somewhere. Up to Until the days are as planned; after it each
// day stands as the same day of the week before, since treatments go by the
// week. A few treatments planned far ahead don't count as a planned day: see
// covered.
type Plan struct {
	// Today is the first day; of it only what is still to come is counted.
	Today inventory.Date `json:"today"`
	// Until is the last day taken as planned, empty if no treatments are
	// planned; Repeated is the first of the seven days that are repeated
	// after it.
	Until    inventory.Date `json:"planned_until,omitempty"`
	Repeated inventory.Date `json:"repeated_from,omitempty"`
	// Unprescribed is how many treatments are planned, from today to Until,
	// of patients without a prescription: what they use is not known.
	Unprescribed int `json:"without_prescription"`
	// Unnamed is how many treatments, from today on, need something of a
	// category of which neither the prescription nor the unit names a product.
	Unnamed map[inventory.Category]int `json:"product_not_named,omitempty"`
	// Rest is how many of today's treatments are still to come.
	Rest int `json:"to_come_today"`

	passed             float64 // the part of today that is behind
	today, until, size int     // indexes of days; until is -1 if there is none
	counts             []int
	products           map[inventory.ProductID]*planned
}

// planned is what one product's planned treatments use, by day from the first
// day of the record on.
type planned struct {
	places map[inventory.LocationID][]int64
	total  []int64
	// past is what treatments of today used that are behind already.
	past    map[inventory.LocationID]int64
	pastAll int64
	// size is Σn²/Σn over the treatments, n pieces each: how many pieces go
	// with one treatment that is cancelled.
	sum, squares int64
}

// week is after how many days a schedule repeats.
const week = 7

// A planner works out a Plan.
type planner struct {
	*Plan
	b     *Book
	r     inventory.Reader
	u     *inventory.Unit
	dates map[inventory.Date]int
	// What a patient's treatment uses, worked out once; nil without a
	// prescription.
	uses   map[PatientID][]inventory.Expectation
	facts  map[inventory.ProductID]*inventory.Product
	places map[StationID]inventory.LocationID
	behind map[PatientID]bool
	shared map[sharedUse]int64 // µL
}

// A sharedUse is a shift's use of a product that serves several treatments.
type sharedUse struct {
	product inventory.ProductID
	place   inventory.LocationID
	day     int
	shift   int
	behind  bool
}

// plan reads the schedule from so many days before an instant's day to so many
// after it. What it costs grows with the days, not with the journal.
func (b *Book) plan(r inventory.Reader, u *inventory.Unit, at time.Time, back, ahead int) (*Plan, error) {
	zone, err := u.Zone()
	if err != nil {
		return nil, err
	}
	back = max(back, 2*week)
	p := &planner{
		Plan: &Plan{Today: inventory.DateOf(at, zone), today: back, until: -1, size: back + ahead, counts: make([]int, back+ahead), Unnamed: map[inventory.Category]int{}, products: map[inventory.ProductID]*planned{}},
		b:    b, r: r, u: u, dates: make(map[inventory.Date]int, back+ahead), uses: map[PatientID][]inventory.Expectation{},
		facts: map[inventory.ProductID]*inventory.Product{}, places: map[StationID]inventory.LocationID{}, behind: map[PatientID]bool{}, shared: map[sharedUse]int64{},
	}
	first := p.Today.AddDays(-back)
	for i, d := 0, first; i < p.size; i, d = i+1, d.AddDays(1) {
		p.dates[d] = i
	}
	stations, err := Stations(r)
	if err != nil {
		return nil, err
	}
	for _, s := range stations {
		p.places[s.ID] = s.Location
	}
	midnight, err := p.Today.Time(zone)
	if err != nil {
		return nil, err
	}
	next, err := p.Today.AddDays(1).Time(zone)
	if err != nil {
		return nil, err
	}
	p.passed = at.Sub(midnight).Hours() / next.Sub(midnight).Hours()
	err = ScanStarts(r, midnight, at, func(t *Treatment) error {
		p.behind[t.Patient] = p.behind[t.Patient] || t.Struck == 0
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := scanSlots(r, first, p.Today.AddDays(ahead), p.slot); err != nil {
		return nil, err
	}
	for s, volume := range p.shared {
		p.add(s.product, s.place, s.day, inventory.SharedPieces(volume, p.facts[s.product].Facts.FillVolume), s.behind)
	}
	p.covered()
	if p.until >= 0 {
		p.Until = first.AddDays(p.until)
		p.Repeated = p.Until.AddDays(1 - week)
	}
	return p.Plan, p.unprescribed(first)
}

// scanSlots calls fn for the planned treatments of days in [from, to), by date.
func scanSlots(r inventory.Reader, from, to inventory.Date, fn func(Slot) error) error {
	return r.Scan(ixSlot, nil, rowcode.AppendText(nil, string(from)), func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		s := Slot{Shift: inventory.Shift{Date: inventory.Date(k.Text()), Number: int(k.Number())}, Station: StationID(k.Text()), Patient: PatientID(row)}
		switch {
		case k.Err() != nil:
			return k.Err()
		case s.Shift.Date >= to:
			return inventory.ErrStop
		}
		return fn(s)
	})
}

func (p *planner) product(id inventory.ProductID) (*inventory.Product, error) {
	if q, ok := p.facts[id]; ok {
		return q, nil
	}
	q, err := p.b.Product(p.r, id)
	p.facts[id] = q
	return q, err
}

// expected returns what a patient's treatment of the planned length uses.
func (p *planner) expected(id PatientID) ([]inventory.Expectation, error) {
	if xs, ok := p.uses[id]; ok {
		return xs, nil
	}
	q, err := PatientByID(p.r, id)
	if err != nil {
		return nil, err
	}
	var xs []inventory.Expectation
	if q.Prescription != nil {
		if xs, err = p.u.Expect(q.Prescription, q.Prescription.Minutes, p.product); err != nil {
			return nil, err
		}
		if err := p.unkit(xs); err != nil {
			return nil, err
		}
		xs = slices.Grow(xs, 1) // not nil, also where the rules name nothing
	}
	p.uses[id] = xs
	return xs, nil
}

// unkit takes off what a treatment uses what comes in a kit that it uses.
func (p *planner) unkit(xs []inventory.Expectation) error {
	for _, x := range xs {
		kit := p.facts[x.Product]
		if kit == nil || !kit.Kit() {
			continue
		}
		for _, part := range kit.Components {
			q, err := p.product(part.Product)
			if err != nil {
				return err
			}
			for i := range xs {
				if y := &xs[i]; q != nil && y.Category == q.Category && y.Product != x.Product && !part.NotCounted {
					y.Pieces -= min(y.Pieces, part.Pieces*x.Pieces)
				}
			}
		}
	}
	return nil
}

// slot adds what a planned treatment uses.
func (p *planner) slot(s Slot) error {
	day, ok := p.dates[s.Shift.Date]
	if !ok {
		return nil
	}
	p.counts[day]++
	behind := day == p.today && p.behind[s.Patient]
	if day == p.today && !behind {
		p.Rest++
	}
	xs, err := p.expected(s.Patient)
	if err != nil {
		return err
	}
	place := p.places[s.Station]
	for i := range xs {
		x := &xs[i]
		switch {
		case x.Product == "" && day >= p.today:
			p.Unnamed[x.Category]++
		case x.Product == "" || (x.Pieces == 0 && !x.Shared):
		case x.Shared:
			p.shared[sharedUse{x.Product, place, day, s.Shift.Number, behind}] += x.Volume
		default:
			p.add(x.Product, place, day, x.Pieces, behind)
		}
	}
	return nil
}

func (p *planner) add(id inventory.ProductID, place inventory.LocationID, day int, n int64, behind bool) {
	q := p.products[id]
	if q == nil {
		q = &planned{places: map[inventory.LocationID][]int64{}, past: map[inventory.LocationID]int64{}, total: make([]int64, p.size)}
		p.products[id] = q
	}
	days := q.places[place]
	if days == nil {
		days = make([]int64, p.size)
		q.places[place] = days
	}
	days[day] += n
	q.total[day] += n
	q.sum += n
	q.squares += n * n
	if behind {
		q.past[place] += n
		q.pastAll += n
	}
}

// covered finds the last day that the schedule covers. A day counts where at
// least half as many treatments are planned as a week before, or, if there were
// none that day, half of what a day of that week had on average: a single
// patient entered for next month doesn't make the weeks until then empty. Nor
// does a day that lies more than a week behind the one before.
func (p *planner) covered() {
	for i := p.today - week; i < p.size; i++ {
		n := p.counts[i]
		if n == 0 || (p.until >= 0 && i-p.until > week) {
			continue
		}
		usual := p.counts[p.source(i-week)]
		if usual == 0 {
			days, sum := 0, 0
			for j := i - week; j < i; j++ {
				if c := p.counts[p.source(j)]; c > 0 {
					days++
					sum += c
				}
			}
			if days > 0 {
				usual = sum / days
			}
		}
		if 2*n >= usual {
			p.until = i
		}
	}
}

// source returns the day whose treatments stand for a day.
func (p *Plan) source(day int) int {
	if p.until < 0 || day <= p.until {
		return min(day, p.size-1)
	}
	return p.until - (week - 1 - (day-p.until-1)%week)
}

// unprescribed counts what can't be planned for.
func (p *planner) unprescribed(first inventory.Date) error {
	if p.until < p.today {
		return nil
	}
	return scanSlots(p.r, first.AddDays(p.today), p.Until.AddDays(1), func(s Slot) error {
		if xs, ok := p.uses[s.Patient]; ok && xs == nil {
			p.Unprescribed++
		}
		return nil
	})
}

// on returns the pieces of a product that the unit, or a place, uses on a day
// counted from 0 for today.
func (p *Plan) on(q *planned, place inventory.LocationID, day int) int64 {
	days, past := q.total, q.pastAll
	if place != "" {
		days, past = q.places[place], q.past[place]
	}
	if p.until < 0 || days == nil {
		return 0
	}
	n := days[p.source(p.today+day)]
	if day == 0 {
		n -= past
	}
	return n
}

// uses reports whether the days to come use a product.
func (p *Plan) uses(q *planned) bool {
	for day := range p.size - p.today + week {
		if p.on(q, "", day) > 0 {
			return true
		}
	}
	return false
}

// users returns the places that use a product in the days to come, by id.
func (p *Plan) users(q *planned) []inventory.LocationID {
	var list []inventory.LocationID
	for place := range q.places {
		for day := range p.size - p.today + week {
			if p.on(q, place, day) > 0 {
				list = append(list, place)
				break
			}
		}
	}
	slices.Sort(list)
	return list
}

// pace is how a product is used in the days to come.
func (p *Plan) pace(q *planned) inventory.Pace {
	if q == nil || p.until < 0 {
		return inventory.Pace{From: p.Today}
	}
	return inventory.Pace{From: p.Today, Places: p.users(q), Use: func(place inventory.LocationID, day int) int64 { return p.on(q, place, day) }}
}
