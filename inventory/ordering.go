package inventory

import (
	"context"
	"encoding/json"
	"strings"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// Ordering is how the unit orders. It stands apart from Unit and Product, which
// are replaced whole by whoever sets them: a list of products taken in again
// must not wipe out what the stock clerk has set.
type Ordering struct {
	// ServiceLevel is the chance wanted that stock lasts until what was
	// ordered next is there, in thousandths: 980 is 98 %.
	ServiceLevel int64 `json:"service_level_thousandths"`
	// ReviewDays is from one day of ordering to the next.
	ReviewDays int64 `json:"review_days"`
	// RecordDays is how far back the record is looked at for how use
	// differs from the plan.
	RecordDays int64 `json:"record_days"`
	// LeadTime holds for suppliers and products that have none of their own;
	// nil if none is known.
	LeadTime *LeadTime `json:"lead_time,omitempty"`
	// Suppliers have lead times by name, as receipts name them.
	Suppliers []SupplierLeadTime `json:"suppliers,omitempty"`
	// OrderCost is the cost of placing an order, in thousandths of the
	// unit's currency; 0 if it is not known.
	OrderCost int64 `json:"order_cost_thousandths,omitempty"`
}

// A LeadTime is from the order to the delivery, in hours, with its standard
// deviation. 168 is a week.
type LeadTime struct {
	Hours   int64 `json:"hours"`
	SDHours int64 `json:"sd_hours"`
}

// A SupplierLeadTime is the lead time of a supplier.
type SupplierLeadTime struct {
	Supplier string `json:"supplier"`
	LeadTime
}

// DefaultOrdering returns what holds until a unit sets its own: 98 %, once a
// week, eight weeks of record, no lead time. Common practice, no source.
func DefaultOrdering() Ordering {
	return Ordering{ServiceLevel: 980, ReviewDays: 7, RecordDays: 56}
}

// ProductOrdering is how one product is ordered. All members but the product are
// optional: 0 and nil are "not set".
type ProductOrdering struct {
	Product ProductID `json:"product"`
	// Supplier names whose lead time counts.
	Supplier string `json:"supplier,omitempty"`
	// Pack is the pack that is ordered, by its level or its number; empty for
	// the largest.
	Pack string `json:"pack,omitempty"`
	// LeadTime goes before the supplier's.
	LeadTime *LeadTime `json:"lead_time,omitempty"`
	// MostPieces is how many the storage room has space for.
	MostPieces int64 `json:"most_pieces,omitempty"`
	// ShelfDays is how many days a delivered lot usually has to its expiry.
	ShelfDays int64 `json:"shelf_days,omitempty"`
	// OrderCost replaces the unit's; HoldingCost is of a piece for a year.
	// Both in thousandths of the unit's currency.
	OrderCost   int64 `json:"order_cost_thousandths,omitempty"`
	HoldingCost int64 `json:"holding_cost_thousandths,omitempty"`
	// NotOrdered leaves it out of what is proposed: a product on its way out.
	NotOrdered bool `json:"not_ordered,omitempty"`
}

const mostHours = 24 * 366

// Check says whether it can be a lead time, nil included, in a Refusal of a
// member if not.
func (l *LeadTime) Check(field string) error {
	if l != nil && (l.Hours < 0 || l.Hours > mostHours || l.SDHours < 0 || l.SDHours > mostHours) {
		return Invalid(field, "Give hours: a week is 168.", "a lead time of %d ± %d hours", l.Hours, l.SDHours)
	}
	return nil
}

func (o *Ordering) check() error {
	switch {
	case o.ServiceLevel < 500 || o.ServiceLevel > 999:
		return Invalid("service_level_thousandths", "Give 500 to 999: 98 % is 980.", "a service level of %d thousandths", o.ServiceLevel)
	case o.ReviewDays < 1 || o.ReviewDays > 366:
		return Invalid("review_days", "Give the days from one order to the next, 1 to 366.", "a review every %d days", o.ReviewDays)
	case o.RecordDays < 7 || o.RecordDays > 366:
		return Invalid("record_days", "Give 7 to 366 days; 56 are eight weeks.", "a record of %d days", o.RecordDays)
	case o.OrderCost < 0:
		return Invalid("order_cost_thousandths", "Leave out what is not known.", "the cost of an order is below zero")
	}
	if err := o.LeadTime.Check("lead_time"); err != nil {
		return err
	}
	seen := map[string]bool{}
	for i := range o.Suppliers {
		s := &o.Suppliers[i]
		if strings.TrimSpace(s.Supplier) == "" || seen[s.Supplier] {
			return Invalid("suppliers", "Name each supplier once, as receipts do.", "the supplier %q", s.Supplier)
		}
		seen[s.Supplier] = true
		if err := s.LeadTime.Check("suppliers"); err != nil {
			return err
		}
	}
	return nil
}

// check says whether a product can be ordered so.
func (o *ProductOrdering) check(p *Product) error {
	switch {
	case o.MostPieces < 0 || o.ShelfDays < 0 || o.OrderCost < 0 || o.HoldingCost < 0:
		return Invalid("products", "Leave out what is not known.", "%s: a number is below zero", o.Product)
	case o.Pack != "" && p.PackOf(o.Pack) == nil:
		return Invalid("pack", "Name each, inner or case, or a GTIN, as the catalogue has it.", "%s has no pack %q", o.Product, o.Pack)
	}
	return o.LeadTime.Check("lead_time")
}

// PackOf returns the first pack of a level, or the one of a number; nil if the
// product has none.
func (p *Product) PackOf(name string) *Pack {
	for i := range p.Packs {
		if k := &p.Packs[i]; k.Level == name || (name != "" && (k.GTIN == name || k.Code == name)) {
			return &p.Packs[i]
		}
	}
	return nil
}

// OrderingSet changes how the unit orders. It holds all of Ordering.
type OrderingSet struct{ Ordering }

// Kind implements Event.
func (*OrderingSet) Kind() string { return "ordering.set" }

// Project implements Event.
func (o *OrderingSet) Project(w Writer, _ journal.Entry) error {
	return putOrdering(w, "", &o.Ordering)
}

// ProductOrderingSet changes how a product is ordered. It holds all of it.
type ProductOrderingSet struct{ ProductOrdering }

// Kind implements Event.
func (*ProductOrderingSet) Kind() string { return "ordering.product" }

// Project implements Event.
func (o *ProductOrderingSet) Project(w Writer, _ journal.Entry) error {
	return putOrdering(w, o.Product, &o.ProductOrdering)
}

func putOrdering(w Writer, p ProductID, doc any) error {
	b, err := json.Marshal(doc)
	if err != nil {
		return err
	}
	return w.Put(ixOrdering, rowcode.AppendText(nil, string(p)), b)
}

// OrderingOf returns how the unit orders, DefaultOrdering if nobody has set it,
// and how the products are ordered of which that was set.
func OrderingOf(r Reader) (o Ordering, products map[ProductID]ProductOrdering, err error) {
	o, products = DefaultOrdering(), map[ProductID]ProductOrdering{}
	err = r.Scan(ixOrdering, nil, nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		id := ProductID(k.Text())
		if err := k.Err(); err != nil {
			return err
		}
		if id == "" {
			o = Ordering{}
			return json.Unmarshal(row, &o)
		}
		var p ProductOrdering
		err := json.Unmarshal(row, &p)
		products[id] = p
		return err
	})
	return o, products, err
}

// An OrderingChange sets how the unit orders, how some products are ordered, or
// both.
type OrderingChange struct {
	Unit     *Ordering
	Products []ProductOrdering
}

// SetOrdering records how the unit and products are ordered, all or none.
func (b *Book) SetOrdering(ctx context.Context, call Call, c OrderingChange) (Receipt, error) {
	return b.Record(ctx, call, c, func(r Reader) ([]Event, error) {
		var evs []Event
		if c.Unit != nil {
			if err := c.Unit.check(); err != nil {
				return nil, err
			}
			evs = append(evs, &OrderingSet{*c.Unit})
		}
		if c.Unit == nil && len(c.Products) == 0 {
			return nil, Invalid("products", "Give the unit's settings, or a product's.", "there is nothing to set")
		}
		return evs, EachLine(len(c.Products), func(i int) error {
			o := c.Products[i]
			p, err := b.Product(r, o.Product)
			if err != nil {
				return err
			}
			if p == nil {
				return NotFound("product", string(o.Product), "Add it to the catalogue first.")
			}
			evs = append(evs, &ProductOrderingSet{o})
			return o.check(p)
		})
	})
}
