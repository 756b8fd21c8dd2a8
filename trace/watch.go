package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace/control"
)

// A Watch is what the shifts of a time say together: charts that tell noise from
// what is not, and the products of which something goes without a reason.
type Watch struct {
	From inventory.Date `json:"from"`
	To   inventory.Date `json:"to"`
	AsOf journal.Head   `json:"as_of"`
	At   time.Time      `json:"at"`
	// Shifts is how many had treatments, Treatments how many there were.
	Shifts     int `json:"shifts"`
	Treatments int `json:"treatments"`
	// Alpha is how often, in all that was looked at together, an alarm may
	// be false; Looked is how many products and places that was.
	Alpha  float64 `json:"alpha"`
	Looked int     `json:"looked"`
	// Scanning charts the share of required things that were not recorded
	// by lot, shift by shift, for each place and for all; Wasting charts
	// pieces wasted for each treatment.
	Scanning []PlaceChart `json:"scanning"`
	Wasting  []PlaceChart `json:"wasting"`
	Series   []Series     `json:"series"`
}

// Alarms returns the series in which something goes without a reason, the
// surest first.
func (w *Watch) Alarms() (list []*Series) {
	for i := range w.Series {
		if w.Series[i].Alarm {
			list = append(list, &w.Series[i])
		}
	}
	return list
}

// A PlaceChart is a chart of one place, or of all where Location is empty.
type PlaceChart struct {
	Location inventory.LocationID `json:"location,omitempty"`
	// Labels name the shifts of the chart's points.
	Labels []string `json:"labels"`
	// Chart is nil where Unknown says why there is none.
	Chart   *control.Chart `json:"chart"`
	Unknown string         `json:"unknown,omitempty"`
}

// A Series is one product at one place, or over all places where Location is
// empty, from count to count.
type Series struct {
	Product  inventory.ProductID  `json:"product"`
	Name     string               `json:"product_name,omitempty"`
	Location inventory.LocationID `json:"location,omitempty"`
	// Points are the shifts, or the weeks, that were counted; By says which.
	By     string  `json:"by"` // "shift" or "week"
	Points []Point `json:"points"`
	// NotCounted is how many had treatments and no closing count.
	NotCounted int `json:"not_counted"`

	// CountedLessRecorded and CountedLessExpected are charts of these
	// differences for each treatment; nil where there are too few points.
	CountedLessRecorded *control.Chart `json:"counted_less_recorded"`
	CountedLessExpected *control.Chart `json:"counted_less_expected"`
	// Sum is the cumulative sum of what is open.
	Sum *Cumulative `json:"cumulative"`
	// Change is the likeliest rise of what is open, nil if nothing rose.
	Change *Rise `json:"change"`
	// Level is what is open for each treatment over the whole time.
	Level *Level `json:"level"`

	// Alarm tells that the rise is no noise, Steady that more goes than
	// comes back all the time; Words say it.
	Alarm  bool   `json:"alarm"`
	Steady bool   `json:"steady"`
	Words  string `json:"words"`

	// perShift is set for what no treatment needs by the rules.
	perShift bool
}

// A Point is a product's figures from one count to another.
type Point struct {
	From inventory.Shift `json:"from"`
	To   inventory.Shift `json:"to"`
	// Treatments is how many needed the product.
	Treatments          int64 `json:"treatments"`
	CountedLessRecorded int64 `json:"counted_less_recorded"`
	CountedLessExpected int64 `json:"counted_less_expected"`
	// Open is what of counted − recorded no cause accounts for.
	Open int64 `json:"open"`
}

// A Rise is where what is open most likely began to be more.
type Rise struct {
	// Onset is the first shift with the new rate; Earliest and Latest are
	// the bounds of where it may really lie.
	Onset    inventory.Shift `json:"onset"`
	Earliest inventory.Shift `json:"earliest"`
	Latest   inventory.Shift `json:"latest"`
	// PerTreatment is how many pieces more go with each treatment, Low and
	// High its 95% interval.
	PerTreatment float64 `json:"per_treatment"`
	Low          float64 `json:"low"`
	High         float64 `json:"high"`
	// Pieces is what has gone beyond the rate of before since the onset.
	Pieces int64 `json:"pieces"`
	// P is the p-value of the permutation test, against the series' own
	// time before; PExcess that of so much going lately, against that and
	// what is usual of all products here. Corrected is the smaller of the
	// two after Holm's correction for all that was looked at.
	P         float64 `json:"p"`
	PExcess   float64 `json:"p_excess"`
	Corrected float64 `json:"p_corrected"`
}

// A Level is a rate over the whole time with its 95% interval.
type Level struct {
	PerTreatment float64 `json:"per_treatment"`
	Low          float64 `json:"low"`
	High         float64 `json:"high"`
	// More and Fewer are at how many counts more, and fewer, had gone than
	// is accounted for.
	More      int     `json:"more"`
	Fewer     int     `json:"fewer"`
	P         float64 `json:"p"`
	Corrected float64 `json:"p_corrected"`
}

// A Cumulative is the upper cumulative sum of what is open, in pieces.
type Cumulative struct {
	Sum   float64 `json:"sum"`
	Limit float64 `json:"limit"`
	// Signal is the shift in which it first went beyond the limit, nil if
	// it never did; Since is where that run began.
	Signal *inventory.Shift `json:"signal"`
	Since  *inventory.Shift `json:"since"`
}
