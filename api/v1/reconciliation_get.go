package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

// reconciliation sets what a shift used beside what was written down and what
// its treatments should have used.
type reconciliation struct {
	Shift      shift            `json:"shift"`
	Until      shift            `json:"until"`
	From       time.Time        `json:"from"`
	To         time.Time        `json:"to"`
	AsOf       head             `json:"as_of"`
	At         time.Time        `json:"at"`
	Caution    string           `json:"caution"`
	Treatments int              `json:"treatments"`
	Lines      []reconciledLine `json:"lines"`
	// Products are the lines added up over places.
	Products []reconciledProduct `json:"products"`
	// Withheld is what was left out, since it is being counted.
	Withheld []withheld `json:"withheld"`
}

// reconciledProduct is one product over all places. Its counted figures leave
// out the places that no count closes, and are null if none was counted.
type reconciledProduct struct {
	Product                  string    `json:"product"`
	ProductName              string    `json:"product_name,omitempty"`
	Category                 *category `json:"category,omitempty"`
	NotCounted               []string  `json:"not_counted"`
	Counted                  *int64    `json:"counted"`
	Recorded                 int64     `json:"recorded"`
	Expected                 int64     `json:"expected"`
	Planned                  int64     `json:"planned"`
	CountedLessRecorded      *int64    `json:"counted_less_recorded"`
	RecordedLessExpected     int64     `json:"recorded_less_expected"`
	OpenCountedLessRecorded  *int64    `json:"open_counted_less_recorded"`
	OpenRecordedLessExpected int64     `json:"open_recorded_less_expected"`
}

// reconciledLine is one product at one location.
type reconciledLine struct {
	Product        string    `json:"product"`
	ProductName    string    `json:"product_name,omitempty"`
	Category       *category `json:"category,omitempty"`
	Location       string    `json:"location"`
	From           time.Time `json:"from"`
	To             time.Time `json:"to"`
	Opening        int64     `json:"opening"`
	OpeningCounted bool      `json:"opening_counted"`
	In             int64     `json:"in"`
	Out            int64     `json:"out"`
	// Closing, Counted and the differences with it are null without a
	// closing count, which is not the same as none found.
	Closing                  *int64  `json:"closing"`
	Counted                  *int64  `json:"counted"`
	Recorded                 int64   `json:"recorded"`
	Used                     int64   `json:"used"`
	Wasted                   int64   `json:"wasted"`
	Expected                 int64   `json:"expected"`
	Planned                  int64   `json:"planned"`
	Volume                   int64   `json:"volume_ul,omitempty"`
	PlannedVolume            int64   `json:"planned_volume_ul,omitempty"`
	CountedLessRecorded      *int64  `json:"counted_less_recorded"`
	RecordedLessExpected     int64   `json:"recorded_less_expected"`
	Causes                   []cause `json:"causes"`
	OpenCountedLessRecorded  *int64  `json:"open_counted_less_recorded"`
	OpenRecordedLessExpected int64   `json:"open_recorded_less_expected"`
}

type cause struct {
	Kind      string `json:"kind"`
	Title     string `json:"title"`
	Likely    bool   `json:"likely,omitempty"`
	Counted   int64  `json:"counted_less_recorded"`
	Recorded  int64  `json:"recorded_less_expected"`
	Treatment string `json:"treatment,omitempty"`
	Entry     uint64 `json:"entry,omitempty"`
	Text      string `json:"text"`
	Volume    int64  `json:"volume_ul,omitempty"`
}

func reconciliationOf(rec *trace.Reconciliation) reconciliation {
	out := reconciliation{
		Shift: *shiftOf(&rec.Shift), Until: *shiftOf(&rec.Until), From: rec.From, To: rec.To, AsOf: headOf(rec.AsOf), At: rec.At, Caution: reports.Caution,
		Treatments: rec.Treatments, Lines: make([]reconciledLine, len(rec.Lines)), Products: make([]reconciledProduct, len(rec.Products)),
		Withheld: withheldOf(rec.Withheld),
	}
	for i := range rec.Lines {
		out.Lines[i] = reconciledOf(&rec.Lines[i])
	}
	for i := range rec.Products {
		out.Products[i] = reconciledProductOf(&rec.Products[i])
	}
	return out
}

func reconciledProductOf(t *trace.Total) reconciledProduct {
	out := reconciledProduct{
		Product: string(t.Product), ProductName: t.Name, NotCounted: make([]string, len(t.NotCounted)), Counted: t.Counted, Recorded: t.Recorded,
		Expected: t.Expected, Planned: t.Planned, CountedLessRecorded: t.CountedLessRecorded, RecordedLessExpected: t.RecordedLessExpected,
		OpenCountedLessRecorded: t.OpenCountedLessRecorded, OpenRecordedLessExpected: t.OpenRecordedLessExpected,
	}
	if t.Category != "" {
		cat := categoryOf(t.Category)
		out.Category = &cat
	}
	for i, l := range t.NotCounted {
		out.NotCounted[i] = string(l)
	}
	return out
}

func reconciledOf(l *trace.Line) reconciledLine {
	out := reconciledLine{
		Product: string(l.Product), ProductName: l.Name, Location: string(l.Location), From: l.From, To: l.To,
		Opening: l.Opening, OpeningCounted: l.OpeningCounted, In: l.In, Out: l.Out, Closing: l.Closing, Counted: l.Counted,
		Recorded: l.Recorded, Used: l.Used, Wasted: l.Wasted, Expected: l.Expected, Planned: l.Planned, Volume: l.Volume, PlannedVolume: l.PlannedVolume,
		CountedLessRecorded: l.CountedLessRecorded, RecordedLessExpected: l.RecordedLessExpected, Causes: make([]cause, len(l.Causes)),
		OpenCountedLessRecorded: l.OpenCountedLessRecorded, OpenRecordedLessExpected: l.OpenRecordedLessExpected,
	}
	if l.Category != "" {
		cat := categoryOf(l.Category)
		out.Category = &cat
	}
	for i, x := range l.Causes {
		out.Causes[i] = cause{string(x.Kind), x.Kind.Title(), x.Likely, x.Counted, x.Recorded, string(x.Treatment), x.Entry, x.Text, x.Volume}
	}
	return out
}

// reconcile works out the reconciliation that the query asks for.
func (a *API) reconcile(c *gin.Context) (*trace.Reconciliation, error) {
	q, err := query(c, "date", "shift", "to_date", "to_shift", "product", "location")
	if err != nil {
		return nil, err
	}
	for _, name := range []string{"date", "shift"} {
		if q.Get(name) == "" {
			return nil, problem.Bad("parameter_missing", name, "Give the date and the number of the shift.", "There is no %s.", name)
		}
	}
	s := trace.Span{Product: inventory.ProductID(q.Get("product")), Location: inventory.LocationID(q.Get("location"))}
	if s.From, err = shiftFrom(q, "date", "shift"); err != nil {
		return nil, err
	}
	if q.Get("to_date") != "" || q.Get("to_shift") != "" {
		if s.To, err = shiftFrom(q, "to_date", "to_shift"); err != nil {
			return nil, err
		}
	}
	rec, err := a.Book.ReconcileSpan(c.Request.Context(), s)
	if err != nil {
		return nil, err
	}
	blind, err := a.blind(c)
	rec.Withhold(blind)
	return rec, err
}

// getReconciliation answers GET /v1/reconciliations.
func (a *API) getReconciliation(c *gin.Context) error {
	rec, err := a.reconcile(c)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, reconciliationOf(rec))
}
