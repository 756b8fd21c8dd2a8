package v1

import (
	"maps"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// ordering is how the unit orders.
type ordering struct {
	ServiceLevel int64              `json:"service_level_thousandths"`
	ReviewDays   int64              `json:"review_days"`
	RecordDays   int64              `json:"record_days"`
	LeadTime     *leadTime          `json:"lead_time,omitempty"`
	Suppliers    []supplierLeadTime `json:"suppliers,omitempty"`
	OrderCost    int64              `json:"order_cost_thousandths,omitempty"`
}

type leadTime struct {
	Hours   int64 `json:"hours"`
	SDHours int64 `json:"sd_hours"`
}

type supplierLeadTime struct {
	Supplier string `json:"supplier"`
	Hours    int64  `json:"hours"`
	SDHours  int64  `json:"sd_hours"`
}

// productOrdering is how a product is ordered. What is 0 or left out is not set.
type productOrdering struct {
	Product     string    `json:"product"`
	Supplier    string    `json:"supplier,omitempty"`
	Pack        string    `json:"pack,omitempty"`
	LeadTime    *leadTime `json:"lead_time,omitempty"`
	MostPieces  int64     `json:"most_pieces,omitempty"`
	ShelfDays   int64     `json:"shelf_days,omitempty"`
	OrderCost   int64     `json:"order_cost_thousandths,omitempty"`
	HoldingCost int64     `json:"holding_cost_thousandths,omitempty"`
	NotOrdered  bool      `json:"not_ordered,omitempty"`
}

// orderingSettings are the unit's and the products' that have any.
type orderingSettings struct {
	Unit     *ordering         `json:"unit,omitempty"`
	Products []productOrdering `json:"products,omitempty"`
}

func leadTimeOf(l *inventory.LeadTime) *leadTime {
	if l == nil {
		return nil
	}
	out := leadTime(*l)
	return &out
}

func (l *leadTime) domain() *inventory.LeadTime {
	if l == nil {
		return nil
	}
	out := inventory.LeadTime(*l)
	return &out
}

func orderingOf(o *inventory.Ordering) *ordering {
	out := &ordering{ServiceLevel: o.ServiceLevel, ReviewDays: o.ReviewDays, RecordDays: o.RecordDays, LeadTime: leadTimeOf(o.LeadTime), OrderCost: o.OrderCost}
	for _, s := range o.Suppliers {
		out.Suppliers = append(out.Suppliers, supplierLeadTime{s.Supplier, s.Hours, s.SDHours})
	}
	return out
}

func (o *ordering) domain() *inventory.Ordering {
	if o == nil {
		return nil
	}
	out := &inventory.Ordering{ServiceLevel: o.ServiceLevel, ReviewDays: o.ReviewDays, RecordDays: o.RecordDays, LeadTime: o.LeadTime.domain(), OrderCost: o.OrderCost}
	for _, s := range o.Suppliers {
		out.Suppliers = append(out.Suppliers, inventory.SupplierLeadTime{Supplier: s.Supplier, LeadTime: inventory.LeadTime{Hours: s.Hours, SDHours: s.SDHours}})
	}
	return out
}

func productOrderingOf(o *inventory.ProductOrdering) productOrdering {
	return productOrdering{
		string(o.Product), o.Supplier, o.Pack, leadTimeOf(o.LeadTime), o.MostPieces, o.ShelfDays, o.OrderCost, o.HoldingCost, o.NotOrdered,
	}
}

func (o *productOrdering) domain() inventory.ProductOrdering {
	return inventory.ProductOrdering{
		Product: inventory.ProductID(o.Product), Supplier: o.Supplier, Pack: o.Pack, LeadTime: o.LeadTime.domain(), MostPieces: o.MostPieces,
		ShelfDays: o.ShelfDays, OrderCost: o.OrderCost, HoldingCost: o.HoldingCost, NotOrdered: o.NotOrdered,
	}
}

// getOrdering answers GET /v1/ordering.
func (a *API) getOrdering(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	out := orderingSettings{}
	err := a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		o, products, err := inventory.OrderingOf(r)
		if err != nil {
			return err
		}
		out = orderingSettings{Unit: orderingOf(&o)}
		for _, id := range slices.Sorted(maps.Keys(products)) {
			p := products[id]
			out.Products = append(out.Products, productOrderingOf(&p))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

type orderingRequest struct {
	happened
	orderingSettings
}

type orderingWritten struct {
	written
	orderingSettings
}

// createOrdering answers POST /v1/ordering: the unit's settings anew, if they
// are given, and those of the products given.
func (a *API) createOrdering(c *gin.Context) error {
	var req orderingRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	change := inventory.OrderingChange{Unit: req.Unit.domain()}
	for i := range req.Products {
		change.Products = append(change.Products, req.Products[i].domain())
	}
	rec, err := a.Book.SetOrdering(c.Request.Context(), call, change)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		out := orderingWritten{written: w}
		for _, ev := range evs {
			switch ev := ev.(type) {
			case *inventory.OrderingSet:
				out.Unit = orderingOf(&ev.Ordering)
			case *inventory.ProductOrderingSet:
				out.Products = append(out.Products, productOrderingOf(&ev.ProductOrdering))
			default:
				return nil, errOtherEntry
			}
		}
		return out, nil
	})
}
