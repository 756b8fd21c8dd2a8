package web

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

// A problemsPage lists problems with products, those that belong together first.
type problemsPage struct {
	Frame
	Product, Lot, From, To string
	Products               []option
	Problem                *trouble
	Groups                 []groupRow
	Within                 string // "within 90 days of each other"
	Rows                   []problemRow
	Total                  int
	Shown                  string // "The latest 100 of 312", empty for all
	Workbook               string
	MayWrite               bool
	Seen                   []option
	Report                 reportForm
}

// A reportForm is what was entered of a problem outside a treatment.
type reportForm struct{ Code, Product, Lot, Words string }

// A groupRow is problems that belong together.
type groupRow struct {
	Product, Lot, Count, Lots, Between, URL string
}

// A problemRow is a problem in a list.
type problemRow struct {
	URL, Number, At, Kind, Product, Lot, Seen, Words, Item, Patient, PatientNumber, By string
	Pictures                                                                           string
}

func problemURL(id trace.ProblemID) string { return "/problems/" + url.PathEscape(string(id)) }

func problemsURL(product, lot string) string {
	return "/problems?" + url.Values{"product": {product}, "lot": {lot}}.Encode()
}

// shownProblems is how many a page lists; the workbook has all.
const shownProblems = 100

func (p *Pages) problems(c *gin.Context) error {
	return p.showProblems(c, http.StatusOK, &problemsPage{})
}

// problemsTask says what was reported lately.
func (p *Pages) problemsTask(r inventory.Reader) (task, error) {
	known, err := p.Book.KnownProblems(r, p.Book.Now())
	if err != nil {
		return task{}, err
	}
	t := task{
		Title: "Problems with products", URL: "/problems", Do: "Look at problems", Figure: itoa(known.Count), Of: "in " + itoa(known.Days) + " days",
		Text: "What went wrong with a product at the chair or in the store, with pictures, and the draft of a report.",
	}
	if n := known.Lots(); n > 0 {
		t.Text = plural(n, "lot has", "lots have") + " several. " + t.Text
	}
	return t, nil
}

// problemQuery reads what narrows a list.
func (p *Pages) problemQuery(c *gin.Context) (q trace.ProblemQuery, err error) {
	q = trace.ProblemQuery{Product: strings.TrimSpace(c.Query("product")), Lot: strings.TrimSpace(c.Query("lot"))}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		u, err := p.Book.Unit(r)
		if err != nil {
			return err
		}
		q.From, q.To, err = u.Days(inventory.Date(dateTyped(c.Query("from"))), inventory.Date(dateTyped(c.Query("to"))))
		return err
	})
	return q, err
}

func (p *Pages) showProblems(c *gin.Context, status int, page *problemsPage) error {
	page.Frame, page.MayWrite = p.frame(c, "Problems with products", "/problems"), p.may(c, "POST /problems")
	page.caution()
	page.Product, page.Lot, page.From, page.To = c.Query("product"), c.Query("lot"), c.Query("from"), c.Query("to")
	ctx := c.Request.Context()
	people, err := p.Auth.Names(ctx)
	if err != nil {
		return err
	}
	q, err := p.problemQuery(c)
	if err == nil {
		err = p.Book.View(ctx, func(r inventory.Reader) error {
			n, err := p.namesOf(r)
			if err != nil {
				return err
			}
			n.people = people
			return p.fillProblems(r, n, page, q)
		})
	}
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) && page.Problem == nil {
		page.Problem, status, err = troubleOf(refusal), http.StatusUnprocessableEntity, nil
	}
	if err != nil {
		return err
	}
	if p.may(c, "GET /problems.xlsx") && page.Total > 0 {
		page.Workbook = "/problems.xlsx?" + c.Request.URL.RawQuery
	}
	return show(c, status, p.views.problems, page)
}

func (p *Pages) fillProblems(r inventory.Reader, n *names, page *problemsPage, q trace.ProblemQuery) error {
	k, err := p.calendar(r)
	if err != nil {
		return err
	}
	page.Unit = k.unit.Name
	products, err := p.Book.Products(r)
	if err != nil {
		return err
	}
	for _, x := range products {
		page.Products = append(page.Products, option{string(x.ID), x.Name, string(x.ID) == page.Report.Product})
	}
	if page.Seen, err = seenOptions(r); err != nil {
		return err
	}
	l, err := p.Book.ListProblems(r, q)
	if err != nil {
		return err
	}
	page.Within = "within " + plural(l.WithinDays, "day", "days") + " of each other"
	for _, g := range slices.Concat(l.OfLots, l.OfProducts) {
		name := g.Name
		if name == "" {
			name = string(g.Product)
		}
		row := groupRow{name, g.Lot, plural(g.Count, "problem", "problems"), "", k.day(g.First) + " to " + k.day(g.Last), problemsURL(string(g.Product), g.Lot)}
		if g.Lot == "" {
			row.Lots = "in " + plural(g.Lots, "lot", "lots")
		}
		page.Groups = append(page.Groups, row)
	}
	set, err := trace.ProblemSettingsOf(r)
	if err != nil {
		return err
	}
	page.Total = len(l.Problems)
	if page.Total > shownProblems {
		page.Shown = "The latest " + itoa(shownProblems) + " of " + itoa(page.Total)
	}
	for i := range l.Problems[:min(shownProblems, page.Total)] {
		x, err := p.Book.ProblemRowOf(r, l.Problems[i].ID)
		if err != nil {
			return err
		}
		row, err := n.problem(k, &set, &x)
		if err != nil {
			return err
		}
		page.Rows = append(page.Rows, row)
	}
	return nil
}

// problem writes a problem for a list.
func (n *names) problem(k calendar, set *trace.ProblemSettings, x *trace.ProblemRow) (problemRow, error) {
	row := problemRow{
		URL: problemURL(x.ID), Number: string(x.ID), At: k.day(x.At), Kind: x.Category.Title(), Product: x.Name, Lot: x.Lot, Item: x.Kept.Title(),
		By: n.who(x.By), PatientNumber: string(x.Patient),
	}
	if row.Product == "" {
		row.Product = string(x.Product)
	}
	if x.Category == "" {
		row.Kind = ""
	}
	var seen []string
	for _, c := range x.Seen {
		seen = append(seen, set.SeenText(c))
	}
	row.Seen = strings.Join(seen, ", ")
	for i := range x.Parts {
		if q := &x.Parts[i]; q.Struck == 0 && q.Words != "" {
			row.Words = q.Words
			break
		}
	}
	if m := len(x.Standing()); m > 0 {
		row.Pictures = plural(m, "picture", "pictures")
	}
	var err error
	if x.Patient != "" {
		row.Patient, err = n.patient(x.Patient)
	}
	return row, err
}

// problemsPost records a problem outside a treatment.
func (p *Pages) problemsPost(c *gin.Context) error {
	id, err := identity(c)
	if err != nil {
		return err
	}
	v, err := postForm(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	facts := trace.ProblemFacts{
		Product: inventory.ProductID(v.Get("product")), Lot: strings.TrimSpace(v.Get("lot")), Code: strings.TrimSpace(v.Get("code")), Seen: v["seen"], Words: v.Get("words"),
	}
	reading.Item(reading.Text(facts.Code, p.scanOptions()), &facts)
	if len(facts.Seen) == 0 && strings.TrimSpace(facts.Words) == "" {
		err = inventory.Invalid("seen", "Choose what was seen, or say it in words.", "it is not said what was seen")
	}
	var rec inventory.Receipt
	if err == nil {
		rec, err = p.Book.ReportProblem(ctx, id.Call(v.Get("key")), facts)
	}
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) {
		page := &problemsPage{Problem: troubleOf(refusal), Report: reportForm{v.Get("code"), v.Get("product"), v.Get("lot"), v.Get("words")}}
		return p.showProblems(c, http.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	ev, err := p.Book.Registry().Decode(rec.Entries[0])
	if err != nil {
		return err
	}
	see(c, problemURL(ev.(*trace.ProblemReported).Problem))
	return nil
}

// problemsWorkbook hands over all that the query asks for.
func (p *Pages) problemsWorkbook(c *gin.Context) error {
	q, err := p.problemQuery(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	t, err := p.Book.ProblemTable(ctx, q)
	if err != nil {
		return err
	}
	by, err := p.asked(c, t.List.At)
	if err != nil {
		return err
	}
	people, err := p.Auth.Names(ctx)
	if err != nil {
		return err
	}
	return p.sendBook(c, "problems-"+string(inventory.DateOf(by.At, by.Zone)), reports.Problems(t, people.Of, by))
}
