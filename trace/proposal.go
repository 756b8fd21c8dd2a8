package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// A Proposal is what the unit would have to order today, product by product, for
// its stock to last until what is ordered at the next review is there. It is
// worked out, not recorded: a person orders.
type Proposal struct {
	At     time.Time      `json:"at"`
	AsOf   journal.Head   `json:"as_of"`
	Plan   *Plan          `json:"plan"`
	Record *Record        `json:"record"`
	Lines  []ProposalLine `json:"lines"`
	// ServiceLevel in thousandths and ReviewDays are what it was worked out
	// for.
	ServiceLevel int64 `json:"service_level_thousandths"`
	ReviewDays   int64 `json:"review_days"`
}

// A ProposalLine is one product. A figure that can't be known is nil, and
// NotKnown says why; it is never a zero.
type ProposalLine struct {
	Product  inventory.ProductID `json:"product"`
	Name     string              `json:"product_name"`
	Category inventory.Category  `json:"category"`
	Supplier string              `json:"supplier,omitempty"`
	NotKnown []string            `json:"not_known,omitempty"`
	// Notes are what a person should know before ordering.
	Notes []string `json:"notes,omitempty"`

	Stock StockPosition `json:"stock"`
	// Forecast is how use was forecast, nil if it is not known; Days are the
	// pieces planned for the days of lead time and review, from today on.
	Forecast *Forecast `json:"forecast"`
	Days     []DayUse  `json:"days,omitempty"`
	// CoverDays is for how many days from now the usable pieces last at the
	// mean pace, at most MostCover.
	CoverDays *float64 `json:"cover_days"`
	// ShortOn is the first day on which the whole unit will lack a piece,
	// worked out over the lots by their expiry, all places taking from all;
	// empty if there is none within MostCover days.
	ShortOn inventory.Date `json:"short_on,omitempty"`
	// LeadTime is the one taken; nil if none is known.
	LeadTime *TakenLeadTime `json:"lead_time"`
	// Safety, ReorderPoint and OrderUpTo in pieces, rounded up. Below the
	// reorder point an order should not wait for the next review.
	Safety       *int64 `json:"safety_stock"`
	ReorderPoint *int64 `json:"reorder_point"`
	OrderUpTo    *int64 `json:"order_up_to"`
	// EOQ is the economic order quantity, nil unless costs are set.
	EOQ *float64 `json:"economic_order_quantity"`
	// Quantity to order in pieces: Packs of Pack. 0 is known to be none.
	Quantity *int64          `json:"quantity"`
	Packs    *int64          `json:"packs"`
	Pack     *inventory.Pack `json:"pack"`
	// Now is set when the stock is below the reorder point.
	Now   bool             `json:"order_now"`
	Terms []inventory.Term `json:"terms"`
}

// MostCover is how many days a cover is worked out for.
const MostCover = 365

// A StockPosition is the pieces of a product in the whole unit by the book.
type StockPosition struct {
	// Usable lies where it can be taken from: no hold, not expired. Lots of
	// which the book has less than nothing are taken off it; BelowZero says
	// how much.
	Usable    int64 `json:"usable"`
	BelowZero int64 `json:"below_zero"`
	Held      int64 `json:"held"`
	Expired   int64 `json:"expired"`
	// Expiring is what of the usable pieces will not be used up before it
	// expires, within the days that an order is for.
	Expiring int64 `json:"expiring"`
	OnOrder  int64 `json:"on_order"`
}

// Position is what counts toward the days to come.
func (s *StockPosition) Position() int64 { return s.Usable - s.Expiring + s.OnOrder }

// A DayUse is the pieces planned for a day. Repeats names the day whose plan
// stands for it, if the schedule doesn't reach it.
type DayUse struct {
	Date    inventory.Date `json:"date"`
	Planned int64          `json:"planned"`
	Repeats inventory.Date `json:"repeats,omitempty"`
}

// A TakenLeadTime is the lead time that a line was worked out with, in days, and
// where it is from.
type TakenLeadTime struct {
	Days   float64 `json:"days"`
	SDDays float64 `json:"sd_days"`
	From   string  `json:"from"`
	// Measured is what orders showed, nil if too few came.
	Measured *MeasuredLeadTime `json:"measured,omitempty"`
}

// A MeasuredLeadTime is from the orders that came.
type MeasuredLeadTime struct {
	Orders int     `json:"orders"`
	Days   float64 `json:"days"`
	SDDays float64 `json:"sd_days"`
}
