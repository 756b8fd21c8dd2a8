package v1

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
	"lotbook/trace/control"
)

// trend is what the shifts of a time say together.
type trend struct {
	From       string        `json:"from"`
	To         string        `json:"to"`
	AsOf       head          `json:"as_of"`
	At         time.Time     `json:"at"`
	Caution    string        `json:"caution"`
	Shifts     int           `json:"shifts"`
	Treatments int           `json:"treatments"`
	Alpha      float64       `json:"alpha"`
	Looked     int           `json:"looked"`
	Scanning   []placeChart  `json:"scanning"`
	Wasting    []placeChart  `json:"wasting"`
	Series     []trendSeries `json:"series"`
}

type placeChart struct {
	Location string   `json:"location,omitempty"`
	Labels   []string `json:"labels"`
	Chart    *chart   `json:"chart"`
	Unknown  string   `json:"unknown,omitempty"`
}

type chart struct {
	Kind    string        `json:"kind"`
	Center  float64       `json:"center"`
	Sigma   float64       `json:"sigma,omitempty"`
	Exact   bool          `json:"exact"`
	Points  []chartPoint  `json:"points"`
	Signals []chartSignal `json:"signals"`
}

type chartPoint struct {
	Value float64 `json:"value"`
	Size  float64 `json:"size,omitempty"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

type chartSignal struct {
	Point int    `json:"point"`
	Rule  string `json:"rule"`
	Title string `json:"title"`
	Above bool   `json:"above"`
}

func chartOf(c *control.Chart) *chart {
	if c == nil {
		return nil
	}
	out := &chart{
		Kind: string(c.Kind), Center: c.Center, Sigma: c.Sigma, Exact: c.Exact,
		Points: make([]chartPoint, len(c.Points)), Signals: make([]chartSignal, len(c.Signals)),
	}
	for i, p := range c.Points {
		out.Points[i] = chartPoint(p)
	}
	for i, s := range c.Signals {
		out.Signals[i] = chartSignal{s.Point, string(s.Rule), s.Rule.Title(), s.Above}
	}
	return out
}

func placeChartsOf(list []trace.PlaceChart) []placeChart {
	out := make([]placeChart, len(list))
	for i := range list {
		c := &list[i]
		out[i] = placeChart{string(c.Location), append([]string{}, c.Labels...), chartOf(c.Chart), c.Unknown}
	}
	return out
}

// trendSeries is one product at one place, or over all where there is no
// location.
type trendSeries struct {
	Product             string       `json:"product"`
	ProductName         string       `json:"product_name,omitempty"`
	Location            string       `json:"location,omitempty"`
	By                  string       `json:"by"`
	Points              []trendPoint `json:"points"`
	NotCounted          int          `json:"not_counted"`
	CountedLessRecorded *chart       `json:"counted_less_recorded"`
	CountedLessExpected *chart       `json:"counted_less_expected"`
	Cumulative          *cumulative  `json:"cumulative"`
	Change              *trendChange `json:"change"`
	Level               *trendLevel  `json:"level"`
	Alarm               bool         `json:"alarm"`
	Steady              bool         `json:"steady"`
	Words               string       `json:"words"`
}

type trendPoint struct {
	From                shift `json:"from"`
	To                  shift `json:"to"`
	Treatments          int64 `json:"treatments"`
	CountedLessRecorded int64 `json:"counted_less_recorded"`
	CountedLessExpected int64 `json:"counted_less_expected"`
	Open                int64 `json:"open"`
}

type trendChange struct {
	Onset        shift   `json:"onset"`
	Earliest     shift   `json:"earliest"`
	Latest       shift   `json:"latest"`
	PerTreatment float64 `json:"per_treatment"`
	Low          float64 `json:"low"`
	High         float64 `json:"high"`
	Pieces       int64   `json:"pieces"`
	P            float64 `json:"p"`
	PExcess      float64 `json:"p_excess"`
	Corrected    float64 `json:"p_corrected"`
}

type trendLevel struct {
	PerTreatment float64 `json:"per_treatment"`
	Low          float64 `json:"low"`
	High         float64 `json:"high"`
	More         int     `json:"more"`
	Fewer        int     `json:"fewer"`
	P            float64 `json:"p"`
	Corrected    float64 `json:"p_corrected"`
}

type cumulative struct {
	Sum    float64 `json:"sum"`
	Limit  float64 `json:"limit"`
	Signal *shift  `json:"signal"`
	Since  *shift  `json:"since"`
}

func trendOf(w *trace.Watch) trend {
	out := trend{
		From: string(w.From), To: string(w.To), AsOf: headOf(w.AsOf), At: w.At, Caution: reports.Caution, Shifts: w.Shifts, Treatments: w.Treatments,
		Alpha: w.Alpha, Looked: w.Looked, Scanning: placeChartsOf(w.Scanning), Wasting: placeChartsOf(w.Wasting), Series: make([]trendSeries, len(w.Series)),
	}
	for i := range w.Series {
		out.Series[i] = trendSeriesOf(&w.Series[i])
	}
	return out
}

func trendSeriesOf(s *trace.Series) trendSeries {
	out := trendSeries{
		Product: string(s.Product), ProductName: s.Name, Location: string(s.Location), By: s.By, Points: make([]trendPoint, len(s.Points)),
		NotCounted: s.NotCounted, CountedLessRecorded: chartOf(s.CountedLessRecorded), CountedLessExpected: chartOf(s.CountedLessExpected),
		Alarm: s.Alarm, Steady: s.Steady, Words: s.Words,
	}
	for i, p := range s.Points {
		out.Points[i] = trendPoint{*shiftOf(&p.From), *shiftOf(&p.To), p.Treatments, p.CountedLessRecorded, p.CountedLessExpected, p.Open}
	}
	if c := s.Change; c != nil {
		out.Change = &trendChange{*shiftOf(&c.Onset), *shiftOf(&c.Earliest), *shiftOf(&c.Latest), c.PerTreatment, c.Low, c.High, c.Pieces, c.P, c.PExcess, c.Corrected}
	}
	if s.Level != nil {
		l := trendLevel(*s.Level)
		out.Level = &l
	}
	if c := s.Sum; c != nil {
		out.Cumulative = &cumulative{c.Sum, c.Limit, shiftOf(c.Signal), shiftOf(c.Since)}
	}
	return out
}

// trend works out what the query asks for.
func (a *API) trend(c *gin.Context) (*trace.Watch, error) {
	q, err := query(c, "from", "to", "product", "location", "alpha")
	if err != nil {
		return nil, err
	}
	for _, name := range []string{"from", "to"} {
		if q.Get(name) == "" {
			return nil, problem.Bad("parameter_missing", name, "Give the first and the last day.", "There is no %s.", name)
		}
	}
	ask := trace.Watching{
		From: inventory.Date(q.Get("from")), To: inventory.Date(q.Get("to")),
		Product: inventory.ProductID(q.Get("product")), Location: inventory.LocationID(q.Get("location")),
	}
	if text := q.Get("alpha"); text != "" {
		if ask.Alpha, err = strconv.ParseFloat(text, 64); err != nil {
			return nil, problem.Bad("wrong_type", "alpha", "Give a share such as 0.05.", "%q is no share.", text)
		}
	}
	return a.Book.Watch(c.Request.Context(), ask)
}

// getTrend answers GET /v1/trends.
func (a *API) getTrend(c *gin.Context) error {
	w, err := a.trend(c)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, trendOf(w))
}

// getTrendWorkbook answers GET /v1/trends.xlsx.
func (a *API) getTrendWorkbook(c *gin.Context) error {
	return drawn(a, c, a.trend, reports.Watch, func(w *trace.Watch) string { return fileName("trend", string(w.From), string(w.To)) })
}
