package inventory

import (
	"context"
	"strings"
	"time"
)

// A Delivery is what a clerk found in one.
type Delivery struct {
	Supplier string
	Order    OrderID
	// Number is that of the delivery note.
	Number string
	// To is where it was put, where a line names no other place; Quarantine
	// where that goes which is answered with quarantine. It may be left out
	// in a unit with one such place.
	To, Quarantine LocationID
	// Confirm are the codes of questions about the whole of it that a person
	// confirmed.
	Confirm []string
	Lines   []DeliveryLine
}

// A DeliveryLine is one label and how often it was there, or what is lacking.
type DeliveryLine struct {
	// Stock has packs of a GTIN, or pieces.
	Stock
	To   LocationID
	Unit string // SSCC
	// PackHolds is how many pieces a pack holds by its label, or as a person
	// counted them; 0 where the catalogue is to say.
	PackHolds int64
	// Noted or NotedPacks are what the delivery note says, 0 for what came.
	Noted, NotedPacks int64
	// Damaged says what is wrong with the pieces; empty if nothing is.
	Damaged string
	// Answer is Accept, IntoHold or Refuse where it was asked, Why in a
	// person's words.
	Answer, Why string
	// Rest is AwaitRest or CloseRest where fewer came than were noted.
	Rest string
	// Confirm are the codes of questions that a person confirmed.
	Confirm []string
}

// A CheckedDelivery is what a delivery would be recorded as.
type CheckedDelivery struct {
	// Order is what it was before this delivery, nil without one.
	Order *OrderState
	// Questions are about the whole of it.
	Questions []Question
	Lines     []CheckedLine
}

// A CheckedLine shows packs, what each holds, and pieces.
type CheckedLine struct {
	Stock
	Level string // of the pack, empty if it is not known
	Holds int64  // pieces in a pack, 0 if it is not known
	Name  string // of the product, empty if it is not in the catalogue
	To    LocationID
	// Becomes is Accept, IntoHold or Refuse.
	Becomes   string
	Lacking   int64 // pieces that were noted and did not come
	Questions []Question

	unit    string
	answers []Answered
}

// Unit returns the logistic unit's SSCC, "" if it is none.
func (c *CheckedLine) Unit() string { return c.unit }

// InPieces writes the quantity as packs × what one holds: "3 × 24 = 72 pieces".
func (c *CheckedLine) InPieces() string { return pieces(&c.Stock, c.Holds) }

// Open reports whether a question is open.
func (c *CheckedDelivery) Open() bool {
	for _, l := range c.Lines {
		if len(l.Questions) > 0 {
			return true
		}
	}
	return len(c.Questions) > 0
}

// CheckDelivery says what a delivery would be recorded as, and what has to be
// answered first. It records nothing.
func (b *Book) CheckDelivery(ctx context.Context, call Call, d Delivery) (c *CheckedDelivery, err error) {
	err = b.View(ctx, func(r Reader) error {
		c, _, err = b.checkDelivery(r, call, &d)
		return err
	})
	return c, err
}

// Deliver records a delivery, line by line, all or none. An error that is an
// *OpenQuestions says what has to be answered first.
func (b *Book) Deliver(ctx context.Context, call Call, d Delivery) (Receipt, error) {
	return b.Record(ctx, call, d, func(r Reader) ([]Event, error) {
		c, evs, err := b.checkDelivery(r, call, &d)
		if err != nil {
			return nil, err
		}
		if c.Open() {
			return nil, &OpenQuestions{c}
		}
		return evs, nil
	})
}

// A delivering is a delivery under check.
type delivering struct {
	book  *Book
	r     Reader
	call  Call
	at    time.Time
	today Date
	unit  *Unit
	d     *Delivery
	order *OrderState
	// came is what lines before this one bring of a product.
	came map[ProductID]int64
	// before are the lines before this one.
	before []*CheckedLine
}

func (b *Book) checkDelivery(r Reader, call Call, given *Delivery) (*CheckedDelivery, []Event, error) {
	d := *given
	v := &delivering{book: b, r: r, call: call, at: call.Happened, d: &d, came: map[ProductID]int64{}}
	if v.at.IsZero() {
		v.at = b.now()
	}
	var err error
	if v.unit, err = b.Unit(r); err != nil {
		return nil, nil, err
	}
	zone, err := v.unit.Zone()
	if err != nil {
		return nil, nil, err
	}
	v.today = DateOf(v.at, zone)
	if len(d.Lines) == 0 {
		return nil, nil, Invalid("lines", "Give what came, or what did not.", "the delivery has no lines")
	}
	out := &CheckedDelivery{Lines: make([]CheckedLine, len(d.Lines))}
	if err := v.head(out); err != nil {
		return nil, nil, err
	}
	var evs []Event
	err = EachLine(len(d.Lines), func(i int) error {
		line := d.Lines[i]
		c := &out.Lines[i]
		if err := v.line(&line, c); err != nil {
			return err
		}
		evs = append(evs, v.events(&line, c)...)
		if c.Becomes != Refuse {
			v.came[c.Product] += c.Quantity
		}
		v.before = append(v.before, c)
		return nil
	})
	return out, evs, err
}

// head looks at what the lines have in common.
func (v *delivering) head(out *CheckedDelivery) error {
	d := v.d
	d.Supplier, d.Number = strings.TrimSpace(d.Supplier), strings.TrimSpace(d.Number)
	if d.Order == "" {
		return nil
	}
	o, err := OrderByID(v.r, d.Order)
	if err != nil {
		return err
	}
	v.order, out.Order = o, o
	a := asked{line: &DeliveryLine{Confirm: d.Confirm}}
	switch {
	case o == nil:
		a.ask(AskOrder, "There is no order %s on record. Compare the number; or confirm, and the delivery is recorded with it.", d.Order)
	case o.Status == OrderWithdrawn:
		a.ask(AskCancelled, "Order %s was cancelled: %s. Was this delivery wanted?", d.Order, o.Reason)
	}
	if o != nil && d.Supplier == "" {
		d.Supplier = o.Order.Supplier
	}
	out.Questions = a.questions
	return nil
}

// events are what a line is recorded as.
func (v *delivering) events(l *DeliveryLine, c *CheckedLine) []Event {
	d := v.d
	papers := Papers{Delivery: d.Number, Unit: c.unit, Answers: c.answers}
	var evs []Event
	switch {
	case c.Quantity == 0:
	case c.Becomes == Refuse:
		evs = append(evs, &Refused{Stock: c.Stock, Cause: refusedFor(l, c), Supplier: d.Supplier, Order: string(d.Order), Papers: papers})
	default:
		evs = append(evs, &Received{Stock: c.Stock, To: c.To, Supplier: d.Supplier, Order: string(d.Order), Papers: papers, Again: said(c.answers, AskLabelAgain)})
	}
	if c.Lacking > 0 {
		evs = append(evs, &Lacking{
			Product: c.Product, Noted: c.Quantity + c.Lacking, Came: c.Quantity, Supplier: d.Supplier, Order: string(d.Order),
			Papers: Papers{Delivery: d.Number}, Closed: l.Rest == CloseRest,
		})
	}
	return evs
}

func said(as []Answered, question string) bool {
	for _, a := range as {
		if a.Question == question {
			return true
		}
	}
	return false
}

// refusedFor says in a few words why a line goes back.
func refusedFor(l *DeliveryLine, c *CheckedLine) string {
	var why []string
	for _, a := range c.answers {
		if a.Answer == Refuse {
			why = append(why, strings.ReplaceAll(a.Question, "_", " "))
		}
	}
	if l.Why != "" {
		why = append(why, l.Why)
	}
	return strings.Join(why, ", ")
}
