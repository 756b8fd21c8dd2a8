package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

// A problemPage is one problem with a product.
type problemPage struct {
	Frame
	URL, Number, At, By string
	Lead                string // "Dialyzer: Blood leak"
	Struck              string
	Facts               []factRow
	Parts               []partRow
	Pictures            []pictureRow
	Beside              []groupRow
	Within              string
	DraftURL            string
	Workbook            string
	Problem             *trouble
	MayWrite            bool
	Entry               uint64
	MorePictures        bool
	// What can be chosen when more is said.
	Seen, Keeps, Outcomes []option
	KeptWhere             string
	Products              []option
	Lot, Serial, Expires  string
	Details               []detailRow
	Said                  string // the words that were not taken
	Chosen                url.Values
}

// A factRow is a label and a value; Missing ones were not recorded.
type factRow struct {
	Label, Value string
	Missing      bool
	URL          string
	Code         bool // a lot or another number, in the face of codes
}

// A partRow is what one entry said.
type partRow struct {
	Entry     uint64
	At, By    string
	Lines     []factRow
	Struck    uint64
	MayStrike bool
}

// A pictureRow is a picture, shown small and opened by touch.
type pictureRow struct {
	Entry              uint64
	URL, About, At, By string
	Width, Height      int
}

// A detailRow is a further field of a report.
type detailRow struct{ Key, Label, Value string }

func problemID(c *gin.Context) trace.ProblemID { return trace.ProblemID(pathID(c)) }

// pathID is the id that stands in the address.
func pathID(c *gin.Context) string {
	id, err := url.PathUnescape(c.Param("id"))
	if err != nil {
		return c.Param("id")
	}
	return id
}

func (p *Pages) problem(c *gin.Context) error { return p.showProblem(c, http.StatusOK, &problemPage{}) }

func (p *Pages) showProblem(c *gin.Context, status int, page *problemPage) error {
	page.Frame, page.MayWrite = p.frame(c, "Problem", "/problems"), p.may(c, "POST /problems/:id")
	page.caution()
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return err
	}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		x, err := p.Book.ProblemRowOf(r, problemID(c))
		if err != nil {
			return err
		}
		n, err := p.namesOf(r)
		if err != nil {
			return err
		}
		n.people = people
		return p.fillProblem(c, r, n, page, &x)
	})
	if err != nil {
		return err
	}
	return show(c, status, p.views.problem, page)
}

func (p *Pages) fillProblem(c *gin.Context, r inventory.Reader, n *names, page *problemPage, x *trace.ProblemRow) error {
	k, err := p.calendar(r)
	if err != nil {
		return err
	}
	set, err := trace.ProblemSettingsOf(r)
	if err != nil {
		return err
	}
	page.Unit, page.URL, page.Number, page.At, page.By, page.Entry = k.unit.Name, problemURL(x.ID), string(x.ID), k.day(x.At), n.who(x.By), x.Entry
	row, err := n.problem(k, &set, x)
	if err != nil {
		return err
	}
	page.Lead = row.Kind
	if page.Lead == "" {
		page.Lead = "A product"
	}
	if row.Seen != "" {
		page.Lead += ": " + lower(row.Seen)
	}
	page.Title = page.Lead
	if x.Struck != 0 {
		page.Struck, page.MayWrite = "Struck out by entry "+itoa(x.Struck)+": it does not count as a problem.", false
	}
	page.Facts = problemFacts(n, &row, x)
	for i := range x.Parts {
		page.Parts = append(page.Parts, p.part(k, n, &set, &x.Parts[i], i > 0 && page.MayWrite))
	}
	for _, q := range x.Standing() {
		page.Pictures = append(page.Pictures, pictureRow{q.Entry, page.URL + "/pictures/" + itoa(q.Entry), q.About, k.day(q.At), n.who(q.By), q.Width, q.Height})
	}
	page.MorePictures = len(x.Pictures) < trace.MostPictures
	if x.Struck == 0 {
		page.DraftURL = page.URL + "/draft"
		if p.may(c, "GET /problems/:id/draft.xlsx") {
			page.Workbook = page.URL + "/draft.xlsx"
		}
	}
	if err := p.fillBeside(r, k, page, x); err != nil {
		return err
	}
	return p.fillChoices(r, page, &set, x)
}

// fillBeside names the other problems of the lot and the product.
func (p *Pages) fillBeside(r inventory.Reader, k calendar, page *problemPage, x *trace.ProblemRow) error {
	b, err := p.Book.ProblemsBeside(r, x.Problem)
	if err != nil {
		return err
	}
	page.Within = "within " + plural(b.WithinDays, "day", "days") + " of this one, itself among them"
	for _, g := range []*trace.Together{b.OfLot, b.OfProduct} {
		if g == nil || g.Count < 2 || g.Lot == "" && g.Lots < 2 && b.OfLot != nil && b.OfLot.Count == g.Count {
			continue
		}
		row := groupRow{Product: g.Name, Lot: g.Lot, Count: plural(g.Count, "problem", "problems"), Between: k.day(g.First) + " to " + k.day(g.Last), URL: problemsURL(string(g.Product), g.Lot)}
		if g.Lot == "" {
			row.Lots = "in " + plural(g.Lots, "lot", "lots")
		}
		page.Beside = append(page.Beside, row)
	}
	return nil
}

// fillChoices fills in what can be said.
func (p *Pages) fillChoices(r inventory.Reader, page *problemPage, set *trace.ProblemSettings, x *trace.ProblemRow) error {
	for _, s := range set.AllSeen() {
		page.Seen = append(page.Seen, option{s.Code, s.Text, slices.Contains(x.Seen, s.Code)})
	}
	for _, s := range trace.Keeps() {
		page.Keeps = append(page.Keeps, option{string(s), s.Title(), s == x.Kept})
	}
	for _, o := range trace.Outcomes() {
		page.Outcomes = append(page.Outcomes, option{string(o), o.Title(), slices.Contains(x.Outcomes, o)})
	}
	page.KeptWhere, page.Lot, page.Serial, page.Expires = x.KeptWhere, x.Lot, x.Serial, string(x.Expires)
	for _, d := range trace.ProblemDetails() {
		if !d.Facility {
			page.Details = append(page.Details, detailRow{d.Key, d.Label, x.Details[d.Key]})
		}
	}
	products, err := p.Book.Products(r)
	for _, q := range products {
		page.Products = append(page.Products, option{string(q.ID), q.Name, q.ID == x.Product})
	}
	return err
}

// problemFacts are what is known of the item, its place and its keeping, with
// what is not recorded.
func problemFacts(n *names, row *problemRow, x *trace.ProblemRow) []factRow {
	fact := func(label, value string, code bool) factRow {
		if value == "" {
			return factRow{Label: label, Value: "not recorded", Missing: true}
		}
		return factRow{Label: label, Value: value, Code: code}
	}
	var outcomes []string
	for _, o := range x.Outcomes {
		outcomes = append(outcomes, o.Title())
	}
	item := x.Kept.Title()
	if item != "" && x.KeptWhere != "" {
		item += ": " + x.KeptWhere
	}
	list := []factRow{
		fact("Product", row.Product, false), fact("Lot", x.Lot, true), fact("Serial", x.Serial, true), fact("Expires", string(x.Expires), false),
		fact("The item", item, false), fact("Outcome for the patient", strings.Join(outcomes, ", "), false),
	}
	if x.Treatment == "" {
		return append(list, factRow{Label: "Treatment", Value: "none named", Missing: true})
	}
	t := factRow{Label: "Treatment", Value: row.Patient + " " + row.PatientNumber, URL: setupURL(x.Treatment)}
	return append(list, t, fact("Machine, station", n.machine(x.Machine)+", "+n.station(x.Station), false))
}

// part is what one entry said, line by line.
func (p *Pages) part(k calendar, n *names, set *trace.ProblemSettings, q *trace.ProblemPart, mayStrike bool) partRow {
	row := partRow{Entry: q.Entry, At: k.day(q.At), By: n.who(q.By), Struck: q.Struck, MayStrike: mayStrike && q.Struck == 0}
	add := func(label, value string) {
		if value != "" {
			row.Lines = append(row.Lines, factRow{Label: label, Value: value})
		}
	}
	var seen, outcomes []string
	for _, c := range q.Seen {
		seen = append(seen, set.SeenText(c))
	}
	for _, o := range q.Outcomes {
		outcomes = append(outcomes, o.Title())
	}
	add("Seen", strings.Join(seen, ", "))
	add("In words", q.Words)
	add("Done for the patient", q.Done)
	add("Outcome", strings.Join(outcomes, ", "))
	add("The item", q.Kept.Title())
	add("Where it is", q.KeptWhere)
	add("Lot", q.Lot)
	add("Serial", q.Serial)
	add("Code", strings.ReplaceAll(q.Code, "\x1d", "␝"))
	for _, d := range trace.ProblemDetails() {
		add(d.Label, q.Details[d.Key])
	}
	return row
}

// problemPicture shows a picture.
func (p *Pages) problemPicture(c *gin.Context) error {
	seq, err := strconv.ParseUint(c.Param("seq"), 10, 64)
	if err != nil {
		return inventory.NotFound("picture", c.Param("seq"), "Go back to the problem and choose one of its pictures.")
	}
	var pic []byte
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) (err error) {
		pic, err = p.Book.PictureOf(r, problemID(c), seq)
		return err
	})
	if err != nil {
		return err
	}
	secure(c)
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "image/jpeg", pic)
	return nil
}

// A draftPage is the draft of a report, to be printed.
type draftPage struct {
	Frame
	Number, URL      string
	Before           []string
	Deadlines, Notes []string
	Blocks           []draftBlock
	AsOf, Hash, At   string
	Paper            string // "a4" or "letter"
	OtherURL         string
	Other            string
	Workbook         string
}

type draftBlock struct {
	Title  string
	Fields []trace.DraftField
}

func (p *Pages) draft(c *gin.Context) (*trace.ProblemDraft, error) {
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return nil, err
	}
	return p.Book.DraftProblem(c.Request.Context(), problemID(c), people.Of)
}

func (p *Pages) problemDraft(c *gin.Context) error {
	d, err := p.draft(c)
	if err != nil {
		return err
	}
	by, err := p.asked(c, d.At)
	if err != nil {
		return err
	}
	page := &draftPage{
		Frame: p.frame(c, "Draft of a report, problem "+string(d.Problem), "/problems"), Number: string(d.Problem), URL: problemURL(d.Problem),
		Before: d.Before, Deadlines: d.Deadlines, Notes: d.Notes, AsOf: itoa(d.AsOf.Seq), Hash: d.AsOf.Hash.String(), At: by.At.In(by.Zone).Format("2006-01-02 15:04 MST"),
		Paper: "a4", Other: "Letter", OtherURL: "?paper=letter",
	}
	page.caution()
	page.Unit = by.Unit
	if c.Query("paper") == "letter" {
		page.Paper, page.Other, page.OtherURL = "letter", "A4", "?paper=a4"
	}
	if p.may(c, "GET /problems/:id/draft.xlsx") {
		page.Workbook = page.URL + "/draft.xlsx"
	}
	for _, b := range trace.DraftBlocks() {
		block := draftBlock{Title: b.Title}
		for _, f := range d.Fields {
			if strings.HasPrefix(f.Rule, b.Rule) {
				block.Fields = append(block.Fields, f)
			}
		}
		page.Blocks = append(page.Blocks, block)
	}
	return show(c, http.StatusOK, p.views.draft, page)
}

func (p *Pages) problemDraftWorkbook(c *gin.Context) error {
	d, err := p.draft(c)
	if err != nil {
		return err
	}
	by, err := p.asked(c, d.At)
	if err != nil {
		return err
	}
	return p.sendBook(c, "draft-"+string(d.Problem), reports.ProblemDraft(d, by))
}
