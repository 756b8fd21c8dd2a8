package trace

import (
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// A Reconciliation sets what a shift used beside what was written down and
// what its treatments should have used, product by product and place by place.
type Reconciliation struct {
	Shift inventory.Shift `json:"shift"`
	// Until is the last shift compared, Shift itself if it is the only one.
	Until inventory.Shift `json:"until"`
	// From and To are the hours of these shifts; each place is compared between
	// its own counts, see Line.
	From time.Time    `json:"from"`
	To   time.Time    `json:"to"`
	AsOf journal.Head `json:"as_of"`
	At   time.Time    `json:"at"`
	// Treatments is how many were compared.
	Treatments int    `json:"treatments"`
	Lines      []Line `json:"lines"`
	// Products are the lines added up over places.
	Products []Total `json:"products"`
	// Withheld is what is being counted blind: see Withhold.
	Withheld []inventory.BlindCount `json:"withheld,omitempty"`
}

// Withhold leaves out what tells what is expected of a count that is going on:
// lines of what is being counted that no count closes, and the sums over places
// that they are part of. Withheld names what was left out.
func (rec *Reconciliation) Withhold(counts []inventory.BlindCount) {
	of := map[inventory.ProductID]bool{}
	rec.Lines = slices.DeleteFunc(rec.Lines, func(l Line) bool {
		hide := l.Closing == nil && inventory.BeingCounted(counts, l.Location, l.Product)
		of[l.Product] = of[l.Product] || hide
		return hide
	})
	rec.Products = slices.DeleteFunc(rec.Products, func(t Total) bool { return of[t.Product] })
	if len(of) > 0 {
		rec.Withheld = counts
	}
}

// A Line is one product at one location.
type Line struct {
	Product  inventory.ProductID  `json:"product"`
	Name     string               `json:"product_name,omitempty"`
	Category inventory.Category   `json:"category,omitempty"`
	Location inventory.LocationID `json:"location"`
	// The time compared: from the count that closed the shift before, or
	// else the shift's start, to the count that closes this one, or else
	// the next shift's start.
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	// Treatments is how many of those compared should have used the product.
	Treatments int64 `json:"treatments"`
	// Opening is what was there at From: counted, or else by the book.
	Opening        int64 `json:"opening"`
	OpeningCounted bool  `json:"opening_counted"`
	In             int64 `json:"in"`
	Out            int64 `json:"out"`
	// Closing is what the count at To found; nil if there was none, which
	// is not the same as none found.
	Closing *int64 `json:"closing"`

	// Counted = Opening + In − Out − Closing, nil without a closing count.
	Counted *int64 `json:"counted"`
	// Recorded = Used + Wasted.
	Recorded int64 `json:"recorded"`
	Used     int64 `json:"used"`
	Wasted   int64 `json:"wasted"`
	Expected int64 `json:"expected"`
	// Planned is what Expected would be if each run had lasted as planned.
	Planned int64 `json:"planned"`
	// Volume and PlannedVolume are what treatments took by real and by
	// planned lengths, in µL, where the rule works with volumes.
	Volume        int64 `json:"volume_ul,omitempty"`
	PlannedVolume int64 `json:"planned_volume_ul,omitempty"`

	// CountedLessRecorded is what was used and not written down (above
	// zero) or written down and not used; RecordedLessExpected is what was
	// written down beyond the rules (above zero) or short of them.
	CountedLessRecorded  *int64 `json:"counted_less_recorded"`
	RecordedLessExpected int64  `json:"recorded_less_expected"`
	// Causes are what is on record about the differences; Open is what of
	// each difference no cause accounts for.
	Causes                   []Cause `json:"causes,omitempty"`
	OpenCountedLessRecorded  *int64  `json:"open_counted_less_recorded"`
	OpenRecordedLessExpected int64   `json:"open_recorded_less_expected"`

	// lots are what the counts found less than the book, lot by lot.
	lots map[string]int64
}

// A Cause is something that accounts for a part of a difference.
type Cause struct {
	Kind CauseKind `json:"kind"`
	// Likely is set where it is not on record but follows from counts and
	// records together.
	Likely bool `json:"likely,omitempty"`
	// Counted and Recorded are how much it adds to counted less recorded
	// and to recorded less expected.
	Counted   int64       `json:"counted_less_recorded"`
	Recorded  int64       `json:"recorded_less_expected"`
	Treatment TreatmentID `json:"treatment,omitempty"`
	Entry     uint64      `json:"entry,omitempty"`
	Text      string      `json:"text"`
	// Volume is how much more concentrate a run took than it would have by
	// plan, in µL, below zero for a short run.
	Volume int64 `json:"volume_ul,omitempty"`
}

// CauseKind names a kind of cause.
type CauseKind string

// The kinds of causes.
const (
	CauseNotRecorded  CauseKind = "not_recorded"    // used in a treatment, no lot written down
	CauseNoRecordRule CauseKind = "not_kept_by_lot" // the unit's rule does not ask for a record
	CauseDoneWithout  CauseKind = "done_without"
	CauseReplacement  CauseKind = "replacement"
	CauseFurther      CauseKind = "further_use" // beyond what the rule expects
	CauseOtherProduct CauseKind = "other_product"
	CauseOpenedBefore CauseKind = "opened_before"
	CauseWasted       CauseKind = "wasted"
	CauseOutside      CauseKind = "outside_treatments"
	CauseOtherShift   CauseKind = "other_shift"
	CauseCount        CauseKind = "said_at_count"
	CauseShortRun     CauseKind = "short_run" // hung for the planned length, not needed for the real one
	CauseLongRun      CauseKind = "long_run"  // needed for the real length only, and not recorded
	CauseOtherPlace   CauseKind = "other_place"
	CauseOutsideCount CauseKind = "outside_counts" // recorded of a treatment compared, before or after its counts
	CauseCarried      CauseKind = "carried_over"   // fewer here and more there, and no entry of a move
	CauseMiscount     CauseKind = "miscount"       // the count before, or the next, says the opposite
	CauseFed          CauseKind = "fed_from_tank"  // the station was fed from a tank
	CauseInKit        CauseKind = "in_kit"         // it was in a kit
	CauseMixed        CauseKind = "into_batch"     // it went into a batch
)

func (l *Line) cause(k CauseKind, counted, recorded int64, t TreatmentID, entry uint64, text string) {
	l.Causes = append(l.Causes, Cause{Kind: k, Counted: counted, Recorded: recorded, Treatment: t, Entry: entry, Text: text})
}

// likely adds a cause that follows from two counts, once the differences are
// worked out.
func (l *Line) likely(k CauseKind, counted int64, entry uint64, text string) {
	l.Causes = append(l.Causes, Cause{Kind: k, Likely: true, Counted: counted, Entry: entry, Text: text})
	*l.OpenCountedLessRecorded -= counted
}

// finish works out the differences and what of them is open.
func (l *Line) finish() {
	l.Recorded = l.Used + l.Wasted
	l.RecordedLessExpected = l.Recorded - l.Expected
	l.OpenRecordedLessExpected = l.RecordedLessExpected
	if l.Closing != nil {
		counted := l.Opening + l.In - l.Out - *l.Closing
		diff := counted - l.Recorded
		open := diff
		l.Counted, l.CountedLessRecorded, l.OpenCountedLessRecorded = &counted, &diff, &open
	}
	for _, c := range l.Causes {
		l.OpenRecordedLessExpected -= c.Recorded
		if l.OpenCountedLessRecorded != nil {
			*l.OpenCountedLessRecorded -= c.Counted
		}
	}
}

var causeTitles = map[CauseKind]string{
	CauseNotRecorded:  "no lot recorded",
	CauseNoRecordRule: "not kept by lot",
	CauseDoneWithout:  "done without",
	CauseReplacement:  "replacement",
	CauseFurther:      "further use",
	CauseOtherProduct: "other product",
	CauseOpenedBefore: "opened before",
	CauseWasted:       "wasted",
	CauseOutside:      "outside treatments",
	CauseOtherShift:   "treatment of another shift",
	CauseCount:        "said at the count",
	CauseShortRun:     "short run",
	CauseLongRun:      "long run",
	CauseOtherPlace:   "another place",
	CauseOutsideCount: "before or after the counts",
	CauseCarried:      "carried over without an entry",
	CauseMiscount:     "miscounted",
	CauseFed:          "fed from a tank",
	CauseInKit:        "in a kit",
	CauseMixed:        "into a batch",
}

// Title returns the kind of cause in words.
func (k CauseKind) Title() string { return causeTitles[k] }
