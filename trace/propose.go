package trace

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/policy"
)

// An OrderQuestion asks what to order. What is 0 is taken from the unit's
// settings.
type OrderQuestion struct {
	ServiceLevel int64 // thousandths
	ReviewDays   int64
	// LeadTime is taken for products of which none is known; nil for none.
	LeadTime *inventory.LeadTime
}

// aheadDays is how far a plan is read: lead time and review must lie within, or
// the last planned week is repeated.
const aheadDays = 120

// Propose works out what to order.
func (b *Book) Propose(ctx context.Context, q OrderQuestion) (*Proposal, error) {
	switch {
	case q.ServiceLevel != 0 && (q.ServiceLevel < 500 || q.ServiceLevel > 999):
		return nil, inventory.Invalid("service_level", "Give a chance from 0.5 to 0.999: 98 % is 0.98.", "a service level of %d thousandths", q.ServiceLevel)
	case q.ReviewDays < 0 || q.ReviewDays > 366:
		return nil, inventory.Invalid("review_days", "Give the days from one order to the next, 1 to 366.", "a review every %d days", q.ReviewDays)
	}
	if err := q.LeadTime.Check("lead_days"); err != nil {
		return nil, err
	}
	var out *Proposal
	err := b.View(ctx, func(r inventory.Reader) (err error) {
		out, err = b.propose(r, q)
		return err
	})
	return out, err
}

// A proposer works out the lines of a Proposal.
type proposer struct {
	*Proposal
	b       *Book
	r       inventory.Reader
	u       *inventory.Unit
	set     inventory.Ordering
	each    map[inventory.ProductID]inventory.ProductOrdering
	stocks  map[inventory.ProductID][]inventory.LaidLot
	onOrder map[inventory.ProductID]int64
	placed  map[inventory.OrderID]time.Time // orders looked up
	z       float64
	lead    *inventory.LeadTime             // if none is known
	made    map[inventory.ProductID]BatchID // products made in the unit, and a batch of each
}

func (b *Book) propose(r inventory.Reader, q OrderQuestion) (*Proposal, error) {
	p := &proposer{Proposal: &Proposal{At: b.Now(), AsOf: r.Head(), Lines: []ProposalLine{}}, b: b, r: r, placed: map[inventory.OrderID]time.Time{}, lead: q.LeadTime}
	var err error
	if p.u, err = b.Unit(r); err != nil {
		return nil, err
	}
	if p.set, p.each, err = inventory.OrderingOf(r); err != nil {
		return nil, err
	}
	p.ServiceLevel, p.ReviewDays = p.set.ServiceLevel, p.set.ReviewDays
	if q.ServiceLevel != 0 {
		p.ServiceLevel = q.ServiceLevel
	}
	if q.ReviewDays != 0 {
		p.ReviewDays = q.ReviewDays
	}
	p.z = policy.Quantile(float64(p.ServiceLevel) / 1000)
	if p.Plan, err = b.plan(r, p.u, p.At, int(p.set.RecordDays), aheadDays); err != nil {
		return nil, err
	}
	products, err := b.Products(r)
	if err != nil {
		return nil, err
	}
	ids := make([]inventory.ProductID, len(products))
	for i, q := range products {
		ids[i] = q.ID
	}
	if p.Record, err = b.record(r, p.u, p.Plan, int(p.set.RecordDays), ids); err != nil {
		return nil, err
	}
	if p.stocks, err = laidLots(r, p.Plan.Today, ""); err != nil {
		return nil, err
	}
	if p.onOrder, err = awaited(r); err != nil {
		return nil, err
	}
	if err := p.madeHere(); err != nil {
		return nil, err
	}
	for _, q := range products {
		if p.each[q.ID].NotOrdered {
			continue
		}
		l, err := p.line(q)
		if err != nil {
			return nil, err
		}
		p.Lines = append(p.Lines, *l)
	}
	return p.Proposal, nil
}

// madeHere finds the products of which batches were made in the days of the
// record.
func (p *proposer) madeHere() error {
	p.made = map[inventory.ProductID]BatchID{}
	since := p.At.AddDate(0, 0, -p.Record.Days)
	return ScanBatches(p.r, p.At, func(b *Batch) error {
		if b.Made.Before(since) {
			return inventory.ErrStop
		}
		p.made[b.Product] = b.ID
		return nil
	})
}

// line works out what to order of a product.
func (p *proposer) line(q *inventory.Product) (*ProposalLine, error) {
	set := p.each[q.ID]
	l := &ProposalLine{Product: q.ID, Name: q.Name, Category: q.Category, Supplier: set.Supplier, Terms: []inventory.Term{}}
	var why string
	if l.Forecast, why = p.Plan.forecast(p.u, p.Record, q.ID, q.Category); l.Forecast == nil {
		l.NotKnown = append(l.NotKnown, "use: "+why)
	}
	lead, err := p.leadTime(l, &set)
	if err != nil {
		return nil, err
	}
	if lead == nil {
		l.NotKnown = append(l.NotKnown, "lead time: none is set for the product, its supplier or the unit, and too few orders have come to measure it")
	}
	lots := p.stocks[q.ID]
	p.position(l, lots)
	if l.Forecast != nil {
		p.cover(l, lots)
	}
	if l.Pack = orderPack(q, &set); l.Pack == nil {
		l.NotKnown = append(l.NotKnown, "packs: the catalogue has none of this product, so the quantity is in pieces")
	}
	if id, ok := p.made[q.ID]; ok {
		l.NotKnown = append(l.NotKnown, fmt.Sprintf("it is made in the unit (batch %s): order what it is mixed from, which is forecast by what batches took", id))
		return l, nil
	}
	if l.Forecast != nil && lead != nil {
		if err := p.quantity(l, q, &set, lots); err != nil {
			return nil, err
		}
	}
	return l, nil
}

// orderPack is the pack that is ordered: the one set, or else the largest.
func orderPack(q *inventory.Product, set *inventory.ProductOrdering) *inventory.Pack {
	if k := q.PackOf(set.Pack); k != nil {
		return k
	}
	var most *inventory.Pack
	for i := range q.Packs {
		if most == nil || q.Packs[i].Holds > most.Holds {
			most = &q.Packs[i]
		}
	}
	return most
}

// position adds up what there is. What will expire unused is filled in by cover
// and quantity.
func (p *proposer) position(l *ProposalLine, lots []inventory.LaidLot) {
	s := &l.Stock
	for i := range lots {
		n := lots[i].Quantity
		switch lots[i].Standing {
		case inventory.StandsToTake:
			s.Usable += n
		case inventory.StandsBelowZero:
			s.Usable += n
			s.BelowZero -= n
		case inventory.StandsHeld:
			s.Held += n
		case inventory.StandsExpired:
			s.Expired += n
		}
	}
	s.OnOrder = p.onOrder[l.Product]
	if s.BelowZero > 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("The book has %d pieces less than nothing of some lots; they are taken off what is usable. A count shows what is there.", s.BelowZero))
	}
}

// cover works out for how long the stock lasts.
func (p *proposer) cover(l *ProposalLine, lots []inventory.LaidLot) {
	if l.Forecast.Basis == BasisPlan {
		q := p.Plan.products[l.Product]
		pace := p.Plan.pace(q)
		pace.UseUp(lots)
		// The unit lacks a piece when no place has one left.
		whole := inventory.Pace{From: p.Plan.Today, Places: []inventory.LocationID{""}, Use: func(_ inventory.LocationID, day int) int64 { return p.Plan.on(q, "", day) }}
		if short := whole.UseUp(slices.Clone(lots)); short != "" && p.Plan.Today.DaysUntil(short) <= MostCover {
			l.ShortOn = short
		}
	}
	days := l.Forecast.cover(float64(max(0, l.Stock.Usable)))
	l.CoverDays = &days
}

// cover returns for how many days pieces last at the mean pace, at most
// MostCover.
func (f *Forecast) cover(pieces float64) float64 {
	if f.Basis == BasisRecord {
		return min(MostCover, pieces/f.Ratio)
	}
	before := 0.0
	for day := range MostCover {
		n := f.Ratio * float64(f.plan.on(f.of, "", day))
		if before+n > pieces {
			return max(0, float64(day)+(pieces-before)/n-f.plan.passed)
		}
		before += n
	}
	return MostCover
}

// quantity works out the figures of an order.
func (p *proposer) quantity(l *ProposalLine, q *inventory.Product, set *inventory.ProductOrdering, lots []inventory.LaidLot) error {
	lead, review := l.LeadTime.Days, float64(p.ReviewDays)
	span := lead + review
	rate := l.Forecast.Rate()
	p.days(l, span)
	l.Stock.Expiring = expiring(lots, p.Plan.Today.AddDays(int(math.Ceil(span))))

	term := func(what, value, how string) {
		l.Terms = append(l.Terms, inventory.Term{What: what, Value: value, How: how})
	}
	term("z", num(p.z), fmt.Sprintf("the standard normal quantile of a service level of %s %%", num(float64(p.ServiceLevel)/10)))
	term("mean use a day", num(rate), "of the next four weeks, by the forecast")
	term("lead time", fmt.Sprintf("%s ± %s days", num(lead), num(l.LeadTime.SDDays)), l.LeadTime.From)
	level := func(name string, days float64) (safety, up int64) {
		d := l.Forecast.Demand(days)
		s := policy.SafetyStock(p.z, d, rate, l.LeadTime.SDDays)
		term("use in "+name, num(d.Mean), p.how(l.Forecast, days))
		term("standard deviation of it", num(math.Sqrt(d.Variance)), p.howVariance(l.Forecast, days))
		term("safety stock for "+name, num(s), fmt.Sprintf("%s × √(%s² + %s² × %s²)", num(p.z), num(math.Sqrt(d.Variance)), num(rate), num(l.LeadTime.SDDays)))
		return policy.WholePacks(s, 1), policy.WholePacks(d.Mean+s, 1)
	}
	_, reorder := level("the lead time", lead)
	safety, upTo := level("lead time and review", span)
	l.Safety, l.ReorderPoint, l.OrderUpTo = &safety, &reorder, &upTo
	term("reorder point", fmt.Sprint(reorder), "use in the lead time + its safety stock, rounded up")
	term("order up to", fmt.Sprint(upTo), "use in lead time and review + its safety stock, rounded up")
	s := &l.Stock
	term("stock position", fmt.Sprint(s.Position()), fmt.Sprintf("%d usable − %d that will expire unused + %d on order", s.Usable, s.Expiring, s.OnOrder))
	l.Now = s.Position() < reorder
	need := max(0, upTo-s.Position())
	term("needed", fmt.Sprint(need), fmt.Sprintf("%d − %d", upTo, s.Position()))
	want := float64(need)
	if cost := cmp.Or(set.OrderCost, p.set.OrderCost); cost > 0 && set.HoldingCost > 0 {
		if eoq := policy.EOQ(rate*365, float64(cost), float64(set.HoldingCost)); !math.IsNaN(eoq) {
			l.EOQ = &eoq
			term("economic order quantity", num(eoq), fmt.Sprintf("√(2 × %s a year × %s / %s)", num(rate*365), num(float64(cost)/1000), num(float64(set.HoldingCost)/1000)))
			if need > 0 && eoq > want {
				want = eoq
			}
		}
	}
	holds := int64(1)
	if l.Pack != nil {
		holds = l.Pack.Holds
	}
	packs := policy.WholePacks(want, holds)
	term("packs", fmt.Sprint(packs), fmt.Sprintf("%s pieces in packs of %d, rounded up", num(want), holds))
	most, err := p.limits(l, set, lead)
	if err != nil {
		return err
	}
	if packs*holds > most {
		packs = max(0, most) / holds
		term("packs within the limits", fmt.Sprint(packs), fmt.Sprintf("%d pieces at most, in packs of %d, rounded down", max(0, most), holds))
		if packs*holds < need {
			l.Notes = append(l.Notes, fmt.Sprintf("The limits allow %d of the %d pieces needed: the service level is not reached with this order. Order a smaller pack, or more often.", packs*holds, need))
		}
	}
	pieces := packs * holds
	l.Packs, l.Quantity = &packs, &pieces
	if l.Pack == nil {
		l.Packs = nil
	}
	return nil
}

// days lists the planned pieces of a span.
func (p *proposer) days(l *ProposalLine, span float64) {
	q := p.Plan.products[l.Product]
	if q == nil || l.Forecast.Basis != BasisPlan {
		return
	}
	first := p.Plan.Today.AddDays(-p.Plan.today)
	for day := range int(math.Ceil(span)) + 1 {
		d := DayUse{Date: p.Plan.Today.AddDays(day), Planned: p.Plan.on(q, "", day)}
		if from := p.Plan.source(p.Plan.today + day); from != p.Plan.today+day {
			d.Repeats = first.AddDays(from)
		}
		l.Days = append(l.Days, d)
	}
}

// expiring adds up what of lots will be left over when it expires, up to a day.
func expiring(lots []inventory.LaidLot, until inventory.Date) (n int64) {
	for i := range lots {
		if l := &lots[i]; l.Left > 0 && l.Expires <= until {
			n += l.Left
		}
	}
	return n
}

func (p *proposer) how(f *Forecast, days float64) string {
	if f.Basis == BasisRecord {
		return fmt.Sprintf("%s a day × %s days", num(f.Ratio), num(days))
	}
	how := fmt.Sprintf("%s pieces planned in the %s days from now, × %s used for one planned", num(f.planned(days)), num(days), num(f.Ratio))
	if n := f.repeated(days); n > 0 {
		how += fmt.Sprintf("; planned until %s, then the week from %s again", p.Plan.Until, p.Plan.Repeated)
	}
	return how
}

func (p *proposer) howVariance(f *Forecast, days float64) string {
	if f.Basis == BasisRecord {
		return fmt.Sprintf("√(%s × %s × (1 + %s/%s))", num(f.Dispersion), num(days), num(days), num(f.known))
	}
	n := f.planned(days)
	how := fmt.Sprintf("√(%s × %s", num(f.Dispersion), num(n))
	if f.known > 0 {
		how += fmt.Sprintf(" × (1 + %s/%s)", num(n), num(f.known))
	}
	if w := f.repeated(days); w > 0 && f.WeekChange > 0 {
		how += fmt.Sprintf(" + %s² × %s² × %s, for %s weeks beyond the plan", num(f.Ratio), num(math.Sqrt(f.WeekChange)), num(walk(w)), num(w))
	}
	return how + ")"
}

// Of returns the line of a product, nil if there is none.
func (p *Proposal) Of(id inventory.ProductID) *ProposalLine {
	i := slices.IndexFunc(p.Lines, func(l ProposalLine) bool { return l.Product == id })
	if i < 0 {
		return nil
	}
	return &p.Lines[i]
}
