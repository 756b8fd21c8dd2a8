package inventory

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"lotbook/inventory/rowcode"
)

// line resolves a line of a delivery and asks what there is to ask.
func (v *delivering) line(l *DeliveryLine, c *CheckedLine) error {
	if err := l.check(); err != nil {
		return err
	}
	c.Becomes, c.unit = Accept, l.Unit
	if l.Answer != "" {
		c.Becomes = l.Answer
	}
	a := &asked{line: l}
	known, err := v.resolve(l, c, a)
	if err != nil {
		return err
	}
	if err := v.place(l, c); err != nil {
		return err
	}
	if known {
		err = v.ask(l, c, a)
	}
	c.Questions, c.answers = a.questions, a.answers
	return err
}

func (l *DeliveryLine) check() error {
	if l.Answer != "" && !slices.Contains(strings.Fields(dispositions), l.Answer) {
		return Invalid("answer", "Use accept, quarantine or refuse.", "there is no answer %q", l.Answer)
	}
	if l.Rest != "" && l.Rest != AwaitRest && l.Rest != CloseRest {
		return Invalid("rest", "Use await or close.", "there is no %q for the rest", l.Rest)
	}
	if l.Unit != "" && !ValidSSCC(l.Unit) {
		return Invalid("logistic_unit", "Scan the label again: 18 digits behind (00), the last of which is a check digit.", "%q is no SSCC", l.Unit)
	}
	for _, n := range []int64{l.Quantity, l.Packs, l.Noted, l.NotedPacks, l.PackHolds} {
		if n < 0 || n > 10_000_000 {
			return Invalid("quantity", "Give numbers of pieces and packs, 0 to 10 million.", "%d can't be a number of pieces or packs", n)
		}
	}
	return nil
}

// resolve fills in product, pieces and pack. It reports false where the pieces
// can't be known before something is answered.
func (v *delivering) resolve(l *DeliveryLine, c *CheckedLine, a *asked) (bool, error) {
	s := l.Stock
	p, pack, err := v.book.packOf(v.r, &s)
	if err != nil {
		return false, err
	}
	holds := pack.Holds
	if holds == 0 {
		holds = l.PackHolds
	}
	if p == nil && s.Packs > 0 && s.Quantity == 0 {
		if holds == 0 {
			c.Stock = s
			if c.Product == "" {
				c.Product = ProvisionalID(s.GTIN)
			}
			a.ask(AskHolds, "It is not in the catalogue how many pieces a pack of %s holds. Count them, or read it on the label.", number(&s))
			return false, nil
		}
		s.Quantity = s.Packs * holds
	}
	noted := l.Noted
	if l.NotedPacks > 0 {
		if holds == 0 {
			return false, Invalid("noted_packs", "Give what the delivery note says in pieces.", "it is not known how many pieces a pack holds")
		}
		noted = l.NotedPacks * holds
	}
	if pack, err = v.book.resolvePack(v.r, &s, noted > 0); err != nil {
		return false, err
	}
	c.Stock, c.Level, c.Holds, c.Lacking = s, pack.Level, holds, max(0, noted-s.Quantity)
	if p != nil {
		c.Name = p.Name
	} else if q, err := v.book.Product(v.r, s.Product); err != nil {
		return false, err
	} else if q != nil {
		c.Name = q.Name
	}
	if pack.Holds > 0 && l.PackHolds > 0 && pack.Holds != l.PackHolds {
		a.ask(AskCount, "The label says that a pack holds %d, the catalogue %d. Count them; then give the pieces, or confirm what the catalogue says.", l.PackHolds, pack.Holds)
	}
	return true, nil
}

// number is what a pack is known by.
func number(s *Stock) string {
	if s.GTIN != "" {
		return "GTIN " + s.GTIN
	}
	return string(s.Product)
}

// packOf returns the product and the pack that a stock's GTIN or code names.
func (b *Book) packOf(r Reader, s *Stock) (*Product, Pack, error) {
	if s.GTIN != "" {
		return b.ProductByGTIN(r, s.GTIN)
	}
	return b.ProductByCode(r, s.Product)
}

// place finds out where a line's pieces go.
func (v *delivering) place(l *DeliveryLine, c *CheckedLine) error {
	c.To = l.To
	if c.To == "" {
		c.To = v.d.To
	}
	switch {
	case c.Becomes == Refuse || l.Quantity == 0 && l.Packs == 0:
		c.To = ""
		return nil
	case c.Becomes == Accept && c.To == "":
		return Invalid("to", "Say where the delivery was put.", "there is no location")
	case c.Becomes == Accept:
		_, err := LocationByID(v.r, c.To)
		return err
	}
	if c.To != "" {
		at, err := LocationByID(v.r, c.To)
		if err != nil {
			return err
		}
		if at.Type == Quarantine {
			return nil
		}
	}
	if v.d.Quarantine != "" {
		c.To = v.d.Quarantine
		at, err := LocationByID(v.r, c.To)
		if err == nil && at.Type != Quarantine {
			return Invalid("quarantine", "Name a place of kind quarantine.", "%s is none", c.To)
		}
		return err
	}
	locs, err := Locations(v.r)
	if err != nil {
		return err
	}
	locs = slices.DeleteFunc(locs, func(l Location) bool { return l.Type != Quarantine })
	if len(locs) != 1 {
		return Invalid("quarantine", "Name the place of kind quarantine that it was put into.", "the unit has %d places of quarantine", len(locs))
	}
	c.To = locs[0].ID
	return nil
}

// ask asks what there is to ask about a line whose pieces are known.
func (v *delivering) ask(l *DeliveryLine, c *CheckedLine, a *asked) error {
	if c.Lacking > 0 {
		a.ask(AskShort, "The delivery note says %d, and %d came: %d are lacking. Are they to come, or will they not?", c.Quantity+c.Lacking, c.Quantity, c.Lacking)
	}
	if c.Quantity == 0 {
		return nil
	}
	if l.Damaged != "" {
		a.ask(AskDamaged, "Damaged: %s.", l.Damaged)
	}
	if err := v.askOrder(c, a); err != nil {
		return err
	}
	if err := v.askLot(c, a); err != nil {
		return err
	}
	if f, err := v.book.implausible(v.r, &c.Stock, c.Level, c.Holds, v.at, v.order); err != nil {
		return err
	} else if f != nil {
		a.ask(f.Code, "%s", f.Message)
	}
	return v.askAgain(c, a)
}

func (v *delivering) askOrder(c *CheckedLine, a *asked) error {
	o := v.order
	if o == nil || o.Status == OrderWithdrawn {
		return nil
	}
	p := o.of(c.Product)
	switch {
	case p == nil:
		a.ask(AskWrongProduct, "Order %s does not have %s.", o.Order.ID, v.called(c))
	case c.Quantity+v.came[c.Product] > p.Open:
		came := p.Came + v.came[c.Product]
		a.ask(AskOver, "Order %s has %d of %s, %d came before and %d are closed: with these %d it is %d more than ordered.",
			o.Order.ID, p.Quantity, v.called(c), came, p.Closed, c.Quantity, came+p.Closed+c.Quantity-p.Quantity)
	}
	return nil
}

func (v *delivering) called(c *CheckedLine) string {
	if c.Name != "" {
		return c.Name
	}
	return string(c.Product)
}

// askLot asks about what is known of the lot. Findings that need no answer stay
// findings.
func (v *delivering) askLot(c *CheckedLine, a *asked) error {
	c.Findings = nil
	if err := v.book.stock(v.r, v.call, &c.Stock, "", c.To); err != nil {
		return err
	}
	for _, f := range c.Findings {
		switch f.Code {
		case FindingExpired, FindingHeld:
			a.ask(f.Code, "%s", f.Message)
		case FindingUnknownProduct:
			kin, err := v.book.kin(v.r, c.GTIN)
			if err != nil {
				return err
			}
			a.ask(f.Code, "%s%s", f.Message, kin)
		}
	}
	days, err := v.shortDays(c)
	if err != nil {
		return err
	}
	if e := c.Expires; e != "" && e >= v.today && v.today.DaysUntil(e) <= days {
		c.find(FindingShortDated, Caution, "Lot %s expires on %s, in %d days.", c.Lot, e, v.today.DaysUntil(e))
		a.ask(AskShortDated, "%s", c.Findings[len(c.Findings)-1].Message)
	}
	return nil
}

// kin says which product has a pack whose GTIN differs from one that is not
// known in nothing but the indicator digit: the larger packs of a product are
// often, but need not be, numbered so (GS1 General Specifications 2.1.7). It is
// told to a person, never taken.
func (b *Book) kin(r Reader, gtin string) (string, error) {
	if len(gtin) != 14 {
		return "", nil
	}
	for indicator := '0'; indicator <= '8'; indicator++ {
		for check := '0'; check <= '9'; check++ {
			other := string(indicator) + gtin[1:13] + string(check)
			if other == gtin || !ValidGTIN14(other) {
				continue
			}
			p, k, err := b.ProductByGTIN(r, other)
			if err != nil {
				return "", err
			}
			if p != nil {
				return fmt.Sprintf(" But for the first digit and the last it is %s, a pack (%s) of %s: it may be another pack of that.", other, k.Level, p.Name), nil
			}
		}
	}
	return "", nil
}

// shortDays is how many days before its expiry a lot of the product is short
// dated.
func (v *delivering) shortDays(c *CheckedLine) (int, error) {
	p, err := v.book.Product(v.r, c.Product)
	if err == nil && p != nil && p.Facts.ShortDatedDays != 0 {
		return p.Facts.ShortDatedDays, nil
	}
	return v.unit.ShortDatedDays, err
}

// ValidSSCC reports whether s is 18 digits with a right check digit (weights
// 3,1,3… from the right; GS1 General Specifications 7.9.1).
func ValidSSCC(s string) bool { return len(s) == 18 && validCheckDigit(s) }

// usualLines is how many of the last deliveries' lines of a product show what
// usually comes, and fewestLines how many there must be to say so.
// mostTimes is how many times the largest of them, and ofOrder how many times
// an order's line, is asked about. All common practice, no source.
const (
	usualLines  = 12
	fewestLines = 3
	mostTimes   = 5
	ofOrder     = 3
)

// implausible finds a quantity that is most likely a slip, nil if it is none.
func (b *Book) implausible(r Reader, s *Stock, level string, holds int64, at time.Time, o *OrderState) (*Finding, error) {
	if holds > 1 && s.Packs == 0 && s.GTIN != "" && s.Quantity%holds != 0 {
		return &Finding{FindingPartOfPack, Caution, fmt.Sprintf("The code is that of a pack (%s) of %d, and %d pieces are not whole packs. Were %d packs meant, which are %d pieces, or %d single pieces?",
			level, holds, s.Quantity, s.Quantity, s.Quantity*holds, s.Quantity)}, nil
	}
	inPacks := fmt.Sprintf("%d pieces", s.Quantity)
	if s.Packs > 0 && holds > 1 {
		inPacks = fmt.Sprintf("%d packs × %d = %d pieces", s.Packs, holds, s.Quantity)
	}
	if o != nil {
		if p := o.of(s.Product); p != nil && s.Quantity > ofOrder*p.Quantity {
			return &Finding{FindingImplausible, Caution, fmt.Sprintf("%s, and %d pieces were ordered. Were %d pieces meant, not packs?", inPacks, p.Quantity, max(s.Packs, 1))}, nil
		}
	}
	var n int
	var most int64
	err := ScanArrivalsBack(r, s.Product, at, func(a *Arrival) error {
		most = max(most, a.Quantity)
		if n++; n == usualLines {
			return ErrStop
		}
		return nil
	})
	if err != nil || n < fewestLines || s.Quantity <= mostTimes*most {
		return nil, err
	}
	return &Finding{FindingImplausible, Caution, fmt.Sprintf("%s, and of the last %d deliveries' lines the largest was %d. Look whether packs and pieces were taken for each other.", inPacks, n, most)}, nil
}

// An Arrival is a delivery's line of a product that stands.
type Arrival struct {
	Entry    uint64
	At       time.Time
	Quantity int64
	Supplier string
	Order    OrderID
}

// ScanArrivalsBack calls fn for the deliveries' lines of a product that happened
// before an instant and stand, the latest first.
func ScanArrivalsBack(r Reader, p ProductID, before time.Time, fn func(*Arrival) error) error {
	prefix := rowcode.AppendText(nil, string(p))
	start := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], before)
	return r.ScanBack(ixArrival, prefix, start, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		a := Arrival{At: k.Time(), Entry: k.Number()}
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, row)
		a.Quantity, a.Supplier, a.Order = d.Int(), d.Text(), OrderID(d.Text())
		if err := d.Err(); err != nil {
			return err
		}
		return fn(&a)
	})
}
