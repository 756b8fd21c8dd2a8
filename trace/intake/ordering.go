package intake

import "lotbook/inventory"

// Ordering is how products are ordered, a product a row.
var Ordering = List[inventory.ProductOrdering]{
	Form: Form{Name: "ordering", Title: "Ordering", Columns: []Column{
		{Name: "product", Required: true, Label: true, What: "The product's id. Its row sets all that is listed here: an empty cell is not set.", Example: "EXAMPLE-DLZ-18"},
		{Name: "supplier", What: "Whose lead time counts, as receipts name it.", Example: "Invented Supplies"},
		{Name: "pack", Label: true, What: "What is ordered: each, inner or case, or a pack's GTIN; empty: the largest.", Example: "case"},
		{Name: "lead_days", What: "Days from the order to the delivery, if it is not as the supplier's: 7 or 7.5.", Example: "7"},
		{Name: "lead_sd_days", What: "Standard deviation of that; empty with lead_days: none.", Example: "1.5"},
		{Name: "most_pieces", What: "Pieces that storage has room for.", Example: "480"},
		{Name: "shelf_days", What: "Days that a delivered lot usually has to its expiry."},
		{Name: "order_cost", What: "Cost of placing an order, in the unit's currency."},
		{Name: "holding_cost", What: "Cost of holding a piece for a year."},
		{Name: "not_ordered", What: "yes where it is not ordered any more."},
	}},
	read: func(r *reader) inventory.ProductOrdering {
		o := inventory.ProductOrdering{
			Product: inventory.ProductID(r.text("product")), Supplier: r.text("supplier"), Pack: r.label("pack"),
			MostPieces: r.number("most_pieces"), ShelfDays: r.number("shelf_days"), NotOrdered: r.flag("not_ordered"),
		}
		o.OrderCost, _ = r.thousandths("order_cost")
		o.HoldingCost, _ = r.thousandths("holding_cost")
		days, lead := r.thousandths("lead_days")
		sd, spread := r.thousandths("lead_sd_days")
		if lead {
			o.LeadTime = &inventory.LeadTime{Hours: (days*24 + 500) / 1000, SDHours: (sd*24 + 500) / 1000}
		} else if spread {
			r.fail("lead_days", "Give the mean as well, or neither.", "there is a standard deviation without a mean")
		}
		return o
	},
}
