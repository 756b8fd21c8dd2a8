package web

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// A noticePage is a notice and the answer to it.
type noticePage struct {
	Frame
	Notice  noticeRow
	Problem *trouble
	// Confirm is the version whose scope may be confirmed here, 0 for none;
	// Decide are the lots on which whoever is signed in may decide.
	Confirm int
	Decide  []noticeLotRow
	// Reason is what was entered for a decision that was refused.
	Reason string
	// Actions are what the notice asks for, which comes first.
	Actions []actionRow
	Kind    string // of the verdict: "some", "none" or "unknown"
	Lead    string
	Rest    string
	// Undecided and Unmatched are what a person has to find out first.
	Undecided string
	Unmatched []string
	Lots      []noticeLotRow
	Grades    []gradeRow
	Patients  []noticePatientRow
	// Total is how many patients there are, Further how many of them are not on
	// the page.
	Total    int
	Further  int
	Machines []machineRow
	Stations []machineRow
	Homes    int
	Mass     massSides
	Doubt    []massSides // of lots in doubt, if there are any
	Limits   []string
	Replies  []replyRow
	Workbook string
	AskedAt  string
	AsOf     string
	Hash     string
}

type actionRow struct {
	Text, Due, To, Done, Note string
	NotConcerned              bool
}

type noticeLotRow struct {
	Product, ID, Lot, URL, Verdict, Class, Why, Decided string
	OnRecord, Undecided, Held, Released                 bool

	Received, Used, Left, Unaccounted int64
}

type noticePatientRow struct {
	Grade, Class, Patient, Number, First, Last string
	Treatments                                 int
	Home                                       bool
}

type replyRow struct {
	Number                     int
	At, Signer, Words          string
	Letter, Workbook, UnitBook string
}

// shownPatients is how many patients the page lists; the workbook has all.
const shownPatients = 200

// notice shows a notice with the answer of now.
func (p *Pages) notice(c *gin.Context) error {
	return p.showNotice(c, http.StatusOK, &noticePage{})
}

// noticePost takes the forms of a notice's page; the field "action" says which.
func (p *Pages) noticePost(c *gin.Context) error {
	who, err := identity(c)
	if err != nil {
		return err
	}
	v, err := postForm(c)
	if err != nil {
		return err
	}
	call, id, book := who.Call(v.Get("key")), notice.ID(pathID(c)), notice.NewBook(p.Book)
	switch action := v.Get("action"); action {
	case "confirm":
		// The version that was looked at, and no later one.
		version, bad := strconv.Atoi(v.Get("version"))
		if bad != nil || version < 1 {
			version = -1
		}
		_, err = book.Confirm(c.Request.Context(), call, notice.Confirming{Notice: id, Version: version})
	case "meant", "not meant":
		_, err = book.Decide(c.Request.Context(), call, notice.LotDecided{
			Notice: id, Product: inventory.ProductID(v.Get("product")), Lot: v.Get("lot"), Meant: action == "meant", Reason: strings.TrimSpace(v.Get("reason")),
		})
	default:
		err = inventory.Invalid("action", "Load the page again.", "there is no form %q", action)
	}
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) && !errors.Is(err, inventory.ErrNotFound) {
		return p.showNotice(c, http.StatusUnprocessableEntity, &noticePage{Problem: troubleOf(refusal), Reason: v.Get("reason")})
	}
	if err != nil {
		return err
	}
	see(c, noticeURL(id))
	return nil
}

func (p *Pages) showNotice(c *gin.Context, status int, page *noticePage) error {
	ctx := c.Request.Context()
	id := notice.ID(pathID(c))
	a, err := notice.NewBook(p.Book).Answer(ctx, id, 0)
	if err != nil {
		return err
	}
	people, err := p.Auth.Names(ctx)
	if err != nil {
		return err
	}
	page.Frame, page.AsOf, page.Hash, page.Homes = p.frame(c, "Field notice "+a.Reference, "/notices"), itoa(a.AsOf.Seq), a.AsOf.Hash.String(), len(a.Homes)
	page.caution()
	page.verdict(a)
	base := "/v1" + noticeURL(id)
	if p.may(c, "GET /v1/notices/:id/answer.xlsx") && a.Receipt() != notice.ReceivedNone {
		page.Workbook = base + "/answer.xlsx"
	}
	may := func(what string) string {
		if p.may(c, "GET /v1/notices/:id/replies/:number/"+what) {
			return base + "/replies/"
		}
		return ""
	}
	err = p.Book.View(ctx, func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		names, err := p.namesOf(r)
		if err != nil {
			return err
		}
		names.people = people
		s, err := notice.ByID(r, id)
		if err != nil {
			return err
		}
		list, err := notice.NewBook(p.Book).Standings(r)
		if err != nil {
			return err
		}
		for i := range list {
			if list[i].ID == id {
				page.Notice = noticeRowOf(&list[i], inventory.DateOf(p.Book.Now(), k.zone))
			}
		}
		progress, err := notice.ProgressOf(r, s)
		if err != nil {
			return err
		}
		page.Unit, page.AskedAt = k.unit.Name, k.day(a.At)
		for i := range progress.Actions {
			page.Actions = append(page.Actions, actionOf(&progress.Actions[i], k, names))
		}
		page.lots(a, names)
		if p.may(c, "POST /notices/:id") {
			page.forms(s)
		}
		page.met(a, k, names)
		for i := range progress.Replied {
			d := &progress.Replied[i]
			row := replyRow{Number: d.Number, At: k.day(d.At), Signer: d.Signer + ", " + d.Role, Words: d.Receipt.Words()}
			for _, l := range []struct {
				what string
				into *string
			}{{"letter", &row.Letter}, {"reply.xlsx", &row.Workbook}, {"unit.xlsx", &row.UnitBook}} {
				if base := may(l.what); base != "" {
					*l.into = base + itoa(d.Number) + "/" + l.what
				}
			}
			page.Replies = append(page.Replies, row)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return show(c, status, p.views.notice, page)
}

// forms adds what is to be decided and confirmed.
func (v *noticePage) forms(s *notice.State) {
	if s.Confirmed == nil || s.Confirmed.Version < len(s.Versions) {
		v.Confirm = len(s.Versions)
	}
	for _, l := range v.Lots {
		if l.Undecided {
			v.Decide = append(v.Decide, l)
		}
	}
}

func actionOf(x *notice.ActionState, k calendar, n *names) actionRow {
	row := actionRow{Text: x.Text, Due: string(x.Due), To: x.To, Note: x.Note, NotConcerned: x.NotConcerned}
	if x.To != "" {
		row.To = n.who(x.To)
	}
	if x.Done != nil {
		by := n.who(x.Done.By)
		if x.DoneBy != "" {
			by = x.DoneBy
		}
		row.Done = k.day(x.Done.At) + ", " + by
	}
	return row
}

// verdict says in one line what the answer is. None received, nobody met it and
// not known yet must not look alike.
func (v *noticePage) verdict(a *notice.Answer) {
	var sure, perhaps int
	for _, g := range a.Counts {
		v.Grades = append(v.Grades, gradeRow{g, gradeClass[g.Grade]})
		if g.Grade == trace.Confirmed {
			sure = g.Patients
		} else {
			perhaps += g.Patients
		}
	}
	v.Rest = a.Receipt().Words()
	switch {
	case a.Receipt() == notice.ReceivedNone:
		v.Kind, v.Lead = "none", "None received"
	case a.Receipt() == notice.ReceiptUnknown && sure+perhaps == 0:
		v.Kind, v.Lead = "unknown", "Not known yet"
	case sure+perhaps == 0:
		v.Kind, v.Lead = "none", "No patient found"
	default:
		v.Kind, v.Lead = "some", plural(sure, "patient", "patients")+" confirmed"
		if perhaps > 0 {
			v.Lead += ", " + plural(perhaps, "further one", "further ones") + " possible"
		}
	}
	if a.Undecided > 0 {
		v.Undecided = plural(a.Undecided, "lot on record may be meant, and nobody has decided on it.", "lots on record may be meant, and nobody has decided on them.")
	}
	for i := range a.Unmatched {
		l := &a.Unmatched[i]
		var words []string
		for j := range l.Scope {
			words = append(words, l.Scope[j].Words())
		}
		v.Unmatched = append(v.Unmatched, l.Printed+": "+strings.Join(words, "; "))
	}
	v.Limits = a.Limits
	v.Mass = sidesOf(&a.Mass, "")
	if a.InDoubt != (inventory.MassBalance{}) {
		v.Doubt = append(v.Doubt, sidesOf(&a.InDoubt, ""))
	}
}

func (v *noticePage) lots(a *notice.Answer, n *names) {
	class := map[inventory.Verdict]string{inventory.Meant: "confirmed", inventory.Doubtful: "probable", inventory.NotMeant: "open"}
	for i := range a.Lots {
		l := &a.Lots[i]
		row := noticeLotRow{
			Product: l.Name, ID: string(l.Product), Lot: l.Lot, Verdict: l.Verdict.String(), Class: class[l.Verdict], Why: l.Why, OnRecord: l.OnRecord, Undecided: l.Undecided(), Held: l.Held, Released: l.Released,
			Received: l.Mass.In(), Used: l.Mass.Used, Left: l.Mass.OnHand + l.Mass.Held, Unaccounted: l.Mass.Unaccounted,
		}
		if row.Product == "" {
			row.Product = string(l.Product)
		}
		if l.Lot != "" && l.OnRecord {
			row.URL = lotURL(string(l.Product), l.Lot)
		}
		if l.Decided != nil {
			row.Decided = n.who(l.Decided.By) + ": " + l.Decided.Reason
		}
		v.Lots = append(v.Lots, row)
	}
}

// met adds the patients, machines and stations.
func (v *noticePage) met(a *notice.Answer, k calendar, n *names) {
	v.Total = len(a.Patients)
	for i, x := range a.Patients {
		if i == shownPatients {
			v.Further = len(a.Patients) - i
			break
		}
		v.Patients = append(v.Patients, noticePatientRow{string(x.Grade), gradeClass[x.Grade], x.Name, string(x.Patient), k.day(x.First), k.day(x.Last), x.Treatments, x.Home})
	}
	for _, m := range a.Machines {
		v.Machines = append(v.Machines, machineRow{n.machine(trace.MachineID(m.ID)), string(m.Grade), gradeClass[m.Grade], k.day(m.First), k.day(m.Last), m.Treatments})
	}
	for _, m := range a.Stations {
		v.Stations = append(v.Stations, machineRow{n.station(trace.StationID(m.ID)), string(m.Grade), gradeClass[m.Grade], k.day(m.First), k.day(m.Last), m.Treatments})
	}
}
