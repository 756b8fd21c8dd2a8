package web

import (
	"errors"
	"net/url"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// gradeClass is how each grade is drawn.
var gradeClass = map[trace.Grade]string{trace.Confirmed: "confirmed", trace.Probable: "probable", trace.NotExcluded: "open"}

// lotAnswer puts an answer in words and figures, with one page of exposures.
func (p *Pages) lotAnswer(c *gin.Context, a *trace.LotAnswer, n int) (*lotAnswer, error) {
	list, total, err := p.exposurePage(c, a, (n-1)*exposuresPerPage, exposuresPerPage)
	if err != nil {
		return nil, err
	}
	v := &lotAnswer{
		Name: a.Name, Product: string(a.Product), Kind: a.Category.Title(), Lot: a.Lot, Expires: string(a.Expires), InCatalogue: a.Name != "",
		Outside: a.Outside, AsOf: itoa(a.AsOf.Seq), Hash: a.AsOf.Hash.String(),
	}
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return nil, err
	}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error { return p.fillAnswer(r, v, a, list, people) })
	if err != nil {
		return nil, err
	}
	v.verdict(a)
	v.mass(a)
	v.pages(a, n, len(list), total)
	if p.may(c, "GET /lots.xlsx") {
		v.Workbook = "/lots.xlsx?" + url.Values{"product": {a.Question.Product}, "lot": {a.Question.Lot}}.Encode()
	}
	return v, nil
}

// verdict says in one line what the answer is. A lot that is not on record and
// a lot that reached nobody must not look alike.
func (v *lotAnswer) verdict(a *trace.LotAnswer) {
	var patients, perhaps int
	for _, g := range a.Counts {
		v.Grades = append(v.Grades, gradeRow{g, gradeClass[g.Grade]})
		if g.Grade == trace.Confirmed {
			patients = g.Patients
		} else {
			perhaps += g.Patients
		}
	}
	switch {
	case !a.OnRecord && len(a.Holders) == 0 && perhaps == 0:
		v.Verdict = "not on record"
		v.Lead = "This lot is not on record"
		v.Rest = "No entry of this unit names it. That does not say that nobody received it: compare the number with the notice, and ask whether packs were used that nobody wrote down."
	case patients == 0 && perhaps == 0:
		v.Verdict = "none"
		v.Lead = "No patient found"
		v.Rest = "The lot is on record here. No treatment is recorded with it, and none without a record can have had it."
		if len(a.Limits) > 0 {
			v.Rest = "The lot is on record here, and no treatment is recorded with it. That is not proof that nobody had it: read what this answer can't tell."
		}
	default:
		v.Verdict = "some"
		v.Lead = plural(patients, "patient", "patients") + " confirmed"
		if !a.OnRecord {
			v.Lead = "No entry names this lot itself"
		}
		v.Rest = "No further patient may have received it."
		if perhaps > 0 {
			v.Rest = plural(perhaps, "further patient", "further patients") + " may have received it: nobody recorded which lot they had."
		}
	}
	v.Limits = a.Limits
	if !a.First.IsZero() {
		v.LeftOutURL = "/lots/left-out?" + url.Values{"product": {a.Question.Product}, "lot": {a.Question.Lot}}.Encode()
	}
	for i := range a.Completeness {
		x := &a.Completeness[i]
		row := recordRow{Kind: x.Category.Title(), Kept: x.Kept, Fed: x.Fed, Total: x.Total}
		for _, w := range x.Weeks {
			row.Weeks = append(row.Weeks, weekRow{w.Week.Format(time.DateOnly), w.OnRecord})
		}
		v.Record = append(v.Record, row)
	}
	v.Counted = plural(a.Counted, "line of a count names", "lines of counts name") + " the lot, " + itoa(len(a.Differences)) + " of them differ from the book."
	if a.Gaps > 0 {
		v.Gaps = plural(a.Gaps, "treatment lacks", "treatments lack") + " a record of this kind in the time when the lot may have been in the unit."
	}
	for _, x := range a.Excluded {
		v.Excluded = append(v.Excluded, plural(x.Treatments, "of these is", "of these are")+" not listed: "+x.Reason+".")
	}
}

func (v *lotAnswer) mass(a *trace.LotAnswer) {
	note := ""
	for _, x := range []struct {
		n    int64
		what string
	}{{a.Outside, "outside treatments"}, {a.Mixed, "in batches"}, {a.Opened, "opened for several treatments"}} {
		if x.n > 0 && note != "" {
			note += ", "
		}
		if x.n > 0 {
			note += itoa(x.n) + " " + x.what
		}
	}
	v.Mass = sidesOf(&a.Mass, note)
}

// sidesOf are the two sides of a mass balance; used says of what was used.
func sidesOf(m *inventory.MassBalance, used string) massSides {
	v := massSides{In: m.In(), Out: m.Out()}
	in := func(title string, n int64) { v.Terms = append(v.Terms, massTerm{title, n, true, ""}) }
	out := func(title string, n int64, note string) { v.Terms = append(v.Terms, massTerm{title, n, false, note}) }
	in("Received", m.Received)
	in("Transferred in", m.TransferredIn)
	out("Used", m.Used, used)
	out("Wasted", m.Wasted, "")
	out("On hand", m.OnHand, "")
	out("Held", m.Held, "")
	out("Returned", m.Returned, "")
	out("Destroyed", m.Destroyed, "")
	out("Transferred out", m.TransferredOut, "")
	note := "what counts found missing"
	if m.Unaccounted < 0 {
		note = "below zero: more was there than the book had"
	}
	out("Unaccounted", m.Unaccounted, note)
	return v
}

// pages says which exposures are shown and where the others are.
func (v *lotAnswer) pages(a *trace.LotAnswer, n, shown, total int) {
	if total == 0 {
		return
	}
	at := func(n int) string {
		return "/lots?" + url.Values{"product": {a.Question.Product}, "lot": {a.Question.Lot}, "page": {strconv.Itoa(n)}}.Encode() + "#exposures"
	}
	from := (n - 1) * exposuresPerPage
	v.Range = itoa(from+1) + " to " + itoa(from+shown) + " of " + itoa(total)
	if shown == 0 {
		v.Range = "none on this page, of " + itoa(total)
	}
	if n > 1 {
		v.PrevURL = at(n - 1)
	}
	if from+shown < total && shown > 0 {
		v.NextURL = at(n + 1)
	}
}

// fillAnswer adds what needs names of people, machines and places.
func (p *Pages) fillAnswer(r inventory.Reader, v *lotAnswer, a *trace.LotAnswer, list []trace.Exposure, people map[string]string) error {
	k, names, err := p.inWords(r)
	if err != nil {
		return err
	}
	names.people = people
	places, err := placesOf(r)
	if err != nil {
		return err
	}
	v.AskedAt = k.day(a.At)
	if a.Hold != nil {
		v.Hold = &holdRow{a.Hold.Reason, a.Hold.Notice, names.who(a.Hold.By), k.day(a.Hold.At)}
	}
	if !a.First.IsZero() {
		v.From, v.To = k.day(a.First), k.day(a.Last)
	}
	for _, l := range a.Similar {
		title := l.Number + " of " + string(l.Product)
		if q, err := p.Book.Product(r, l.Product); err != nil {
			return err
		} else if q != nil {
			title = l.Number + " of " + q.Name
		}
		product := string(l.Product)
		if gtin, ok := l.Product.ProvisionalGTIN(); ok {
			product = gtin
		}
		v.Similar = append(v.Similar, lotLink{title, lotURL(product, l.Number)})
	}
	known, err := p.Book.ListProblems(r, trace.ProblemQuery{Product: string(a.Product), Lot: a.Lot})
	if err != nil && !errors.Is(err, inventory.ErrNotFound) {
		return err
	}
	if err == nil && len(known.Problems) > 0 {
		v.Problems = &lotLink{plural(len(known.Problems), "problem", "problems") + " recorded with this lot", problemsURL(string(a.Product), a.Lot)}
	}
	for i := range list {
		row, err := names.exposure(k, &list[i])
		if err != nil {
			return err
		}
		row.Evidence = evidenceURL(a.Question, list[i].Treatment)
		v.Rows = append(v.Rows, row)
	}
	for i := range a.StruckOut {
		row, err := names.exposure(k, &a.StruckOut[i])
		if err != nil {
			return err
		}
		v.StruckOut = append(v.StruckOut, row)
	}
	for _, m := range a.Machines {
		v.Machines = append(v.Machines, machineRow{names.machine(m.Machine), string(m.Grade), gradeClass[m.Grade], k.day(m.First), k.day(m.Last), m.Treatments})
	}
	for _, s := range a.Stations {
		v.Stations = append(v.Stations, machineRow{names.station(s.Station), string(s.Grade), gradeClass[s.Grade], k.day(s.First), k.day(s.Last), s.Treatments})
	}
	for i := range a.Units {
		u := &a.Units[i]
		row := unitRow{u.Unit, k.day(u.First), k.day(u.Last), "", u.Lent, u.Taken}
		if u.Via != nil {
			row.Via = u.Via.String()
		}
		v.Units = append(v.Units, row)
	}
	for _, b := range a.Left {
		pl := places[b.Location]
		v.Left = append(v.Left, leftRow{pl.Name, b.Lot.Number, b.Quantity, a.Hold != nil || pl.Type == inventory.Quarantine, pl.Type == inventory.HomeStore})
		v.LeftTotal += b.Quantity
	}
	for _, b := range a.Lent {
		v.Lent = append(v.Lent, leftRow{Place: places[b.Location].Name, Lot: b.Lot.Number, Pieces: b.Quantity})
	}
	for i := range a.Holders {
		h := &a.Holders[i]
		name := h.Name
		if name == "" {
			name = string(h.Product)
		}
		v.Holders = append(v.Holders, holderRow{h.Kind, name, h.Lot, lotURL(string(h.Product), h.Lot), string(h.Grade), gradeClass[h.Grade], h.Why})
	}
	for _, h := range a.Homes {
		v.Homes = append(v.Homes, homeRow{string(h.Grade), gradeClass[h.Grade], h.Name, string(h.Patient), places[h.Location].Name, k.day(h.First), k.day(h.Last), h.Why, h.Supplied, h.Returned, h.Used})
	}
	for _, x := range a.Refused {
		text := plural(int(x.Quantity), "piece", "pieces") + " on " + k.day(x.At) + ", " + x.Cause
		if x.Supplier != "" {
			text += ", back to " + x.Supplier
		}
		v.Refused = append(v.Refused, text)
	}
	for _, d := range a.Differences {
		v.Counts = append(v.Counts, countRow{k.day(d.At), places[d.Location].Name, names.who(d.By), d.Cause, d.Book, d.Counted, signed(d.Counted - d.Book)})
	}
	return nil
}

func (n *names) exposure(k calendar, x *trace.Exposure) (row exposureRow, err error) {
	row = exposureRow{
		Grade: string(x.Grade), Class: gradeClass[x.Grade], Patient: x.Name, Number: string(x.Patient), Treatment: string(x.Treatment),
		URL: setupURL(x.Treatment), Start: k.day(x.Start), Machine: n.machine(x.Machine), Station: n.station(x.Station),
		Pieces: plural(int(x.Quantity), "piece", "pieces"), By: n.who(x.By), Serial: x.Serial, Why: x.Why, Entry: x.Entry,
	}
	if row.Patient == "" {
		if row.Patient, err = n.patient(x.Patient); err != nil {
			return row, err
		}
	}
	if x.Quantity == 0 {
		row.Pieces = "from a piece opened before"
	}
	if x.Via != nil || x.How == trace.Fed {
		row.Pieces = x.Why
	}
	if x.Grade == trace.Confirmed {
		row.How = howWords(x.How)
		row.From, row.Until = k.near(x.From, x.Start), ""
		if !x.Until.IsZero() {
			row.Until = k.near(x.Until, x.Start)
		}
	}
	return row, nil
}

// placesOf returns the unit's locations by id.
func placesOf(r inventory.Reader) (map[inventory.LocationID]inventory.Location, error) {
	list, err := inventory.Locations(r)
	places := map[inventory.LocationID]inventory.Location{}
	for _, l := range list {
		places[l.ID] = l
	}
	return places, err
}
