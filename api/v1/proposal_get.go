package v1

import (
	"math"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

// proposal is what to order.
type proposal struct {
	At           time.Time      `json:"at"`
	AsOf         head           `json:"as_of"`
	Caution      string         `json:"caution"`
	ServiceLevel int64          `json:"service_level_thousandths"`
	ReviewDays   int64          `json:"review_days"`
	Plan         plan           `json:"plan"`
	Record       record         `json:"record"`
	Lines        []proposalLine `json:"lines"`
}

// plan is what the planned treatments of the days ahead are known from.
type plan struct {
	Today        string         `json:"today"`
	Until        string         `json:"planned_until,omitempty"`
	Repeated     string         `json:"repeated_from,omitempty"`
	Unprescribed int            `json:"without_prescription"`
	Unnamed      map[string]int `json:"product_not_named,omitempty"`
	Rest         int            `json:"to_come_today"`
}

func planOf(p *trace.Plan) plan {
	out := plan{Today: string(p.Today), Until: string(p.Until), Repeated: string(p.Repeated), Unprescribed: p.Unprescribed, Rest: p.Rest}
	for c, n := range p.Unnamed {
		if out.Unnamed == nil {
			out.Unnamed = map[string]int{}
		}
		out.Unnamed[string(c)] = n
	}
	return out
}

// record is what the forecast rests on beyond the plan.
type record struct {
	From      string `json:"from"`
	Days      int    `json:"days"`
	Planned   int    `json:"planned_treatments"`
	NotDone   int    `json:"not_done"`
	Unplanned int    `json:"unplanned"`
}

// proposalLine is one product. What can't be known is null, and NotKnown says
// why.
type proposalLine struct {
	Product      string         `json:"product"`
	ProductName  string         `json:"product_name"`
	Category     category       `json:"category"`
	Supplier     string         `json:"supplier,omitempty"`
	NotKnown     []string       `json:"not_known"`
	Notes        []string       `json:"notes"`
	Stock        stockPosition  `json:"stock"`
	Forecast     *forecast      `json:"forecast"`
	Days         []dayUse       `json:"days"`
	CoverDays    *float64       `json:"cover_days"`
	ShortOn      string         `json:"short_on,omitempty"`
	LeadTime     *takenLeadTime `json:"lead_time"`
	Safety       *int64         `json:"safety_stock"`
	ReorderPoint *int64         `json:"reorder_point"`
	OrderUpTo    *int64         `json:"order_up_to"`
	EOQ          *float64       `json:"economic_order_quantity"`
	Quantity     *int64         `json:"quantity"`
	Packs        *int64         `json:"packs"`
	Pack         *pack          `json:"pack"`
	Now          bool           `json:"order_now"`
	Terms        []term         `json:"terms"`
}

type stockPosition struct {
	Usable    int64 `json:"usable"`
	BelowZero int64 `json:"below_zero"`
	Held      int64 `json:"held"`
	Expired   int64 `json:"expired"`
	Expiring  int64 `json:"expiring"`
	OnOrder   int64 `json:"on_order"`
}

type forecast struct {
	Basis      string  `json:"basis"`
	Ratio      float64 `json:"ratio"`
	Dispersion float64 `json:"dispersion"`
	WeekChange float64 `json:"week_change"`
	Terms      []term  `json:"terms"`
}

type dayUse struct {
	Date    string `json:"date"`
	Planned int64  `json:"planned"`
	Repeats string `json:"repeats,omitempty"`
}

type takenLeadTime struct {
	Days     float64           `json:"days"`
	SDDays   float64           `json:"sd_days"`
	From     string            `json:"from"`
	Measured *measuredLeadTime `json:"measured,omitempty"`
}

type measuredLeadTime struct {
	Orders int     `json:"orders"`
	Days   float64 `json:"days"`
	SDDays float64 `json:"sd_days"`
}

func proposalOf(p *trace.Proposal) proposal {
	out := proposal{
		At: p.At, AsOf: headOf(p.AsOf), Caution: reports.Caution, ServiceLevel: p.ServiceLevel, ReviewDays: p.ReviewDays, Plan: planOf(p.Plan),
		Record: record{string(p.Record.From), p.Record.Days, p.Record.Planned, p.Record.NotDone, p.Record.Unplanned},
		Lines:  make([]proposalLine, len(p.Lines)),
	}
	for i := range p.Lines {
		out.Lines[i] = proposalLineOf(&p.Lines[i])
	}
	return out
}

func proposalLineOf(l *trace.ProposalLine) proposalLine {
	out := proposalLine{
		Product: string(l.Product), ProductName: l.Name, Category: categoryOf(l.Category), Supplier: l.Supplier,
		NotKnown: append([]string{}, l.NotKnown...), Notes: append([]string{}, l.Notes...), Stock: stockPosition(l.Stock), Days: make([]dayUse, len(l.Days)),
		CoverDays: l.CoverDays, ShortOn: string(l.ShortOn), Safety: l.Safety, ReorderPoint: l.ReorderPoint, OrderUpTo: l.OrderUpTo,
		EOQ: l.EOQ, Quantity: l.Quantity, Packs: l.Packs, Now: l.Now, Terms: termsOf(l.Terms),
	}
	if f := l.Forecast; f != nil {
		out.Forecast = &forecast{f.Basis, f.Ratio, f.Dispersion, f.WeekChange, termsOf(f.Terms)}
	}
	for i, d := range l.Days {
		out.Days[i] = dayUse{string(d.Date), d.Planned, string(d.Repeats)}
	}
	if t := l.LeadTime; t != nil {
		out.LeadTime = &takenLeadTime{Days: t.Days, SDDays: t.SDDays, From: t.From}
		if t.Measured != nil {
			m := measuredLeadTime(*t.Measured)
			out.LeadTime.Measured = &m
		}
	}
	if l.Pack != nil {
		k := pack(*l.Pack)
		out.Pack = &k
	}
	return out
}

// proposed works out what the query asks for.
func (a *API) proposed(c *gin.Context) (*trace.Proposal, error) {
	q, err := query(c, "service_level", "review_days", "lead_hours", "lead_sd_hours")
	if err != nil {
		return nil, err
	}
	var ask trace.OrderQuestion
	if s := q.Get("service_level"); s != "" {
		level, err := strconv.ParseFloat(s, 64)
		if err != nil || !(level >= 0.5 && level <= 0.999) {
			return nil, problem.Bad("wrong_type", "service_level", "Give a chance from 0.5 to 0.999: 98 % is 0.98.", "There is no service level %q.", s)
		}
		ask.ServiceLevel = int64(math.Round(level * 1000))
	}
	if s := q.Get("review_days"); s != "" {
		if ask.ReviewDays, err = strconv.ParseInt(s, 10, 64); err != nil || ask.ReviewDays < 1 || ask.ReviewDays > 366 {
			return nil, problem.Bad("wrong_type", "review_days", "Give the days from one order to the next, 1 to 366.", "There is no review every %q days.", s)
		}
	}
	if q.Has("lead_hours") || q.Has("lead_sd_hours") {
		ask.LeadTime = new(inventory.LeadTime)
		for name, to := range map[string]*int64{"lead_hours": &ask.LeadTime.Hours, "lead_sd_hours": &ask.LeadTime.SDHours} {
			if *to, err = strconv.ParseInt(q.Get(name), 10, 64); err != nil {
				return nil, problem.Bad("wrong_type", name, "Give lead_hours and lead_sd_hours together, in whole hours: a week is 168.", "There is no %s of %q hours.", name, q.Get(name))
			}
		}
	}
	return a.Book.Propose(c.Request.Context(), ask)
}

// getProposal answers GET /v1/order-proposals.
func (a *API) getProposal(c *gin.Context) error {
	p, err := a.proposed(c)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, proposalOf(p))
}

// getProposalWorkbook answers GET /v1/order-proposals.xlsx.
func (a *API) getProposalWorkbook(c *gin.Context) error {
	return drawn(a, c, a.proposed, reports.Reorder, func(p *trace.Proposal) string { return fileName("order", string(p.Plan.Today)) })
}
