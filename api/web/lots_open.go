package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// leftOutPerPage is how many treatments that are left out are shown at a time.
const leftOutPerPage = 100

// An evidencePage opens a line of an answer about a lot.
type evidencePage struct {
	Frame
	Lot, Product, Back string
	Grade, Class       string
	Patient, Number    string
	Treatment, URL     string
	Start              string
	Machine, Station   string
	Why                []string
	Rows               []evidenceRow
	Further            int
}

type evidenceRow struct {
	Entry                        uint64
	Happened, Recorded           string
	By, Words, Shows, TakenLater string
}

// A leftOutPage lists the treatments that an answer leaves out.
type leftOutPage struct {
	Frame
	Lot, Product, Back string
	From, To           string
	Rows               []leftOutRow
	NextURL            string
}

type leftOutRow struct{ Patient, Number, URL, Start, Machine, Station, Why, Evidence string }

func lotQuestion(c *gin.Context) trace.Question {
	return trace.Question{Product: strings.TrimSpace(c.Query("product")), Lot: strings.TrimSpace(c.Query("lot"))}
}

// evidenceURL is where a treatment's line in an answer is opened.
func evidenceURL(q trace.Question, id trace.TreatmentID) string {
	return "/lots/evidence?" + url.Values{"product": {q.Product}, "lot": {q.Lot}, "treatment": {string(id)}}.Encode()
}

// lotEvidence shows the entries that a line of an answer rests on.
func (p *Pages) lotEvidence(c *gin.Context) error {
	q := lotQuestion(c)
	e, err := p.Book.ExposureEvidence(c.Request.Context(), q, trace.TreatmentID(c.Query("treatment")))
	if err != nil {
		return err
	}
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return err
	}
	page := &evidencePage{
		Frame: p.frame(c, "Lot "+q.Lot+", "+e.Name, "/lots"), Lot: q.Lot, Product: q.Product, Back: lotURL(q.Product, q.Lot), Grade: string(e.Grade),
		Class: gradeClass[e.Grade], Patient: e.Name, Number: string(e.Patient), Treatment: string(e.Treatment), URL: setupURL(e.Treatment), Why: e.Why, Further: e.Further,
	}
	page.caution()
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, names, err := p.inWords(r)
		if err != nil {
			return err
		}
		names.people = people
		page.Unit, page.Start, page.Machine, page.Station = k.unit.Name, k.day(e.Start), names.machine(e.Machine), names.station(e.Station)
		for _, x := range e.Entries {
			row := evidenceRow{Entry: x.Entry, Happened: k.day(x.Happened), By: names.who(x.By), Words: x.Words, Shows: x.Shows}
			if x.Recorded.Sub(x.Happened) > time.Minute {
				row.TakenLater = k.near(x.Recorded, x.Happened)
			}
			page.Rows = append(page.Rows, row)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return show(c, http.StatusOK, p.views.evidence, page)
}

// lotLeftOut lists the treatments that an answer leaves out, each with why.
func (p *Pages) lotLeftOut(c *gin.Context) error {
	q := lotQuestion(c)
	ctx := c.Request.Context()
	a, err := p.Book.Exposures(ctx, q)
	if err != nil {
		return err
	}
	which := trace.LeftOutQuestion{From: inventory.Date(c.Query("from")), To: inventory.Date(c.Query("to")), After: trace.TreatmentID(c.Query("after")), Limit: leftOutPerPage}
	if which.After != "" {
		err := p.Book.View(ctx, func(r inventory.Reader) error {
			t, err := trace.TreatmentByID(r, which.After)
			if err == nil {
				which.Start = t.Start
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	list, more, err := p.Book.LeftOut(ctx, a, which)
	if err != nil {
		return err
	}
	page := &leftOutPage{
		Frame: p.frame(c, "Left out of the answer about lot "+a.Lot, "/lots"), Lot: a.Lot, Product: q.Product, Back: lotURL(q.Product, q.Lot),
		From: string(which.From), To: string(which.To),
	}
	page.caution()
	if more {
		page.NextURL = "/lots/left-out?" + url.Values{"product": {q.Product}, "lot": {q.Lot}, "from": {page.From}, "to": {page.To}, "after": {string(list[len(list)-1].Treatment)}}.Encode()
	}
	err = p.Book.View(ctx, func(r inventory.Reader) error {
		k, names, err := p.inWords(r)
		if err != nil {
			return err
		}
		page.Unit = k.unit.Name
		for i := range list {
			x := &list[i]
			page.Rows = append(page.Rows, leftOutRow{x.Name, string(x.Patient), setupURL(x.Treatment), k.day(x.Start), names.machine(x.Machine), names.station(x.Station), x.Why, evidenceURL(q, x.Treatment)})
		}
		return nil
	})
	if err != nil {
		return err
	}
	return show(c, http.StatusOK, p.views.leftOut, page)
}
