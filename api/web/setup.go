package web

import (
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// setupState is what a setup page is asked to show beside the treatment.
type setupState struct {
	status  int
	done    uint64 // the entry that was just recorded
	draft   draft  // a scan that is not finished
	typed   draft  // a typed entry that was not taken
	problem *trouble
	read    string // the text that the problem is about
}

// setup shows one treatment.
func (p *Pages) setup(c *gin.Context) error {
	done, _ := strconv.ParseUint(c.Query("done"), 10, 64)
	return p.showSetup(c, setupState{status: http.StatusOK, done: done, draft: parseDraft(c.Request.URL.Query())})
}

// treatmentID returns the treatment that an address names. The router leaves
// parameters as they stand in the address.
func treatmentID(c *gin.Context) trace.TreatmentID {
	id, err := url.PathUnescape(c.Param("id"))
	if err != nil {
		id = c.Param("id")
	}
	return trace.TreatmentID(id)
}

func (p *Pages) showSetup(c *gin.Context, s setupState) error {
	page := &setupPage{Frame: p.frame(c, "Setup", "/setup"), MayWrite: p.may(c, "POST /setup/:id"), Problem: s.problem, Typed: s.typed, Read: s.read}
	page.caution()
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return err
	}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		b, err := p.setupBuilder(c, r, page)
		if err != nil {
			return err
		}
		b.names.people = people
		return b.build(s)
	})
	if err != nil {
		return err
	}
	return show(c, s.status, p.views.setup, page)
}

// A setupBuilder fills in a setup page from one snapshot.
type setupBuilder struct {
	p     *Pages
	c     *gin.Context
	r     inventory.Reader
	k     calendar
	t     *trace.Treatment
	names *names
	page  *setupPage
	// problems are what is known of lots.
	problems *trace.KnownProblems
}

// who returns what somebody is called.
func (b *setupBuilder) who(id string) string { return b.names.who(id) }

func (p *Pages) setupBuilder(c *gin.Context, r inventory.Reader, page *setupPage) (*setupBuilder, error) {
	t, err := trace.TreatmentByID(r, treatmentID(c))
	if err != nil {
		return nil, err
	}
	k, err := p.calendar(r)
	if err != nil {
		return nil, err
	}
	n, err := p.namesOf(r)
	return &setupBuilder{p: p, c: c, r: r, k: k, t: t, names: n, page: page}, err
}

func (b *setupBuilder) build(s setupState) error {
	if err := b.head(); err != nil {
		return err
	}
	for _, step := range []func() error{
		b.beside,
		b.prescription,
		b.needs,
		b.uses,
		b.seen,
		b.aside,
		func() error { return b.waiting(s.done) },
		func() error { return b.told(s.done) },
		func() error { return b.ask(s.draft) },
		b.lists,
	} {
		if err := step(); err != nil {
			return err
		}
	}
	p := b.page
	p.Close = closeForm{SinceStart: int64(b.p.Book.Now().Sub(b.t.Start).Minutes()), Planned: b.t.Planned}
	if n := len(p.Missing); n > 0 {
		p.Close.Missing = plural(n, "item is", "items are") + " missing. It can be closed all the same; they then count as not recorded."
	}
	if n := len(p.Waiting); n > 0 {
		p.Close.Waiting = plural(n, "stopped scan waits", "stopped scans wait") + " for an answer."
	}
	p.Close.Prepared = b.prepared()
	p.CausesUsed, p.CausesWithout, p.CausesReplace = causesUsed, causesWithout, causesReplace
	p.ReasonsUsed, p.ReasonsNotDone = reasonsUsed, reasonsNotYet
	return nil
}

// prepared says what closing as not done does to what is recorded.
func (b *setupBuilder) prepared() string {
	var n int64
	for i := range b.t.Uses {
		if u := &b.t.Uses[i]; u.Struck == 0 {
			n += u.Quantity
		}
	}
	switch n {
	case 0:
		return "This closes the treatment. Nothing is recorded as used in it."
	case 1:
		return "This closes the treatment. The piece recorded in it becomes wasted, and no patient met it."
	}
	return "This closes the treatment. The " + itoa(n) + " pieces recorded in it become wasted, and no patient met them."
}

func (b *setupBuilder) head() error {
	p, t := b.page, b.t
	p.URL, p.Unit = setupURL(t.ID), b.k.unit.Name
	var err error
	if p.Patient, err = b.names.patient(t.Patient); err != nil {
		return err
	}
	p.Number = string(t.Patient)
	p.Title = p.Patient + ", " + b.names.station(t.Station)
	p.Station, p.Machine, p.Started = b.names.station(t.Station), b.names.machine(t.Machine), b.k.day(t.Start)
	p.Opened = t.Opened
	p.MayStrike = true
	for i := range t.Uses {
		p.MayStrike = p.MayStrike && t.Uses[i].Struck != 0
	}
	switch {
	case t.Struck != 0:
		p.State, p.StateText = "struck out", "Struck out by entry "+itoa(t.Struck)+": this treatment is not on record as one that took place."
		p.MayWrite = false
	case t.Closed:
		return b.closed()
	default:
		p.State = "open"
	}
	return nil
}

// prescription puts the figures of the prescription in sight, each with its
// unit.
func (b *setupBuilder) prescription() error {
	rx, err := b.p.Book.PrescriptionOf(b.r, b.t)
	if err != nil {
		return err
	}
	k, ca, known, mix := rx.Potassium, rx.Calcium, rx.IonsKnown, rx.MixSystem
	if id := rx.Products[inventory.AcidConcentrate]; id != "" {
		q, err := b.p.Book.Product(b.r, id)
		if err != nil {
			return err
		}
		if q != nil && !known {
			k, ca, known = q.Facts.Potassium, q.Facts.Calcium, q.Facts.IonsKnown
		}
		if q != nil && mix == "" {
			mix = q.Facts.MixSystem
		}
	}
	add := func(main bool, label, value, unit string) {
		b.page.Rx = append(b.page.Rx, rxFact{label, value, unit, main})
	}
	if known {
		add(true, "Potassium K", figure(k), "mmol/L")
		add(true, "Calcium Ca", figure(ca), "mmol/L")
	} else {
		add(true, "Potassium K", "not on record", "")
		add(true, "Calcium Ca", "not on record", "")
	}
	if mix != "" {
		add(true, "Mix system", string(mix), "")
	} else {
		add(true, "Mix system", "not on record", "")
	}
	add(true, "Length", itoa(rx.Minutes), "min")
	flow := "mL/min"
	if rx.DialysateFlow == 0 {
		flow += " (blood flow × " + factor(rx.FlowFactor) + ")"
	}
	add(false, "Dialysate flow", itoa(rx.Flow()), flow)
	if rx.BloodFlow != 0 {
		add(false, "Blood flow", itoa(rx.BloodFlow), "mL/min")
	}
	access := accessWords[rx.Access]
	if rx.SingleNeedle {
		access += ", single needle"
	}
	add(false, "Access", access, "")
	if h := rx.Heparin; h != nil {
		s := itoa(h.Bolus) + " units"
		if h.Rate != 0 {
			s += ", then " + itoa(h.Rate) + " units/h"
		}
		if h.StopEarly != 0 {
			s += ", stopped " + itoa(h.StopEarly) + " min before the end"
		}
		add(false, "Heparin", s, "")
	} else {
		add(false, "Heparin", "none", "")
	}
	return nil
}

var accessWords = map[inventory.Access]string{
	inventory.Fistula: "fistula", inventory.Graft: "graft", inventory.Catheter: "catheter",
}

// figure writes micromoles per litre as millimoles, without the unit.
func figure(umol int64) string {
	s := inventory.Concentration(umol)
	return s[:len(s)-len(" mmol/L")]
}

// factor writes thousandths: 1800 is 1.8.
func factor(n int64) string { return strconv.FormatFloat(float64(n)/1000, 'f', -1, 64) }

// lists fills in what can be chosen from: what is required first.
func (b *setupBuilder) lists() error {
	products, err := b.p.Book.Products(b.r)
	if err != nil {
		return err
	}
	required := map[inventory.Category]bool{}
	for _, q := range b.t.Required {
		required[q.Category] = true
		b.page.Categories = append(b.page.Categories, option{Value: string(q.Category), Title: q.Category.Title()})
	}
	groups := []optionGroup{{Title: "What this treatment needs"}, {Title: "Other products"}}
	for _, c := range inventory.Categories() {
		for _, q := range products {
			if q.Category != c {
				continue
			}
			g := &groups[1]
			if required[c] {
				g = &groups[0]
			}
			g.Options = append(g.Options, option{string(q.ID), q.Name + " · " + string(q.ID), string(q.ID) == b.page.Typed.Product})
		}
	}
	b.page.Products = groups
	return nil
}
