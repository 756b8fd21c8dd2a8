package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/trace"
)

// exposuresPerPage is how many treatments of an answer are shown at a time.
const exposuresPerPage = 50

// lots asks about a lot, or answers.
func (p *Pages) lots(c *gin.Context) error {
	page := &lotsPage{
		Frame: p.frame(c, "Who received a lot", "/lots"), Product: strings.TrimSpace(c.Query("product")), Lot: strings.TrimSpace(c.Query("lot")),
	}
	page.caution()
	if text := c.Query("code"); strings.TrimSpace(text) != "" {
		return p.lotsByCode(c, page, text)
	}
	// A scanner types wherever the focus is.
	switch {
	case codeIn(page.Product):
		text := c.Query("product")
		page.Product = ""
		return p.lotsByCode(c, page, text)
	case codeIn(page.Lot):
		text := c.Query("lot")
		page.Lot = ""
		return p.lotsByCode(c, page, text)
	}
	switch {
	case page.Product == "" && page.Lot == "":
		return p.showLots(c, http.StatusOK, page)
	case page.Product == "":
		page.Problem = &trouble{"There is no product.", "Give its GTIN, choose it, or scan a pack of the lot."}
		return p.showLots(c, http.StatusUnprocessableEntity, page)
	}
	return p.answerLots(c, page)
}

// lotsByCode goes to the lot that a pack's code names, or asks for what the
// code leaves open.
func (p *Pages) lotsByCode(c *gin.Context, page *lotsPage, text string) error {
	var r reading.Reading
	err := p.Book.View(c.Request.Context(), func(rd inventory.Reader) error {
		var failed error
		opts := p.scanOptions()
		var err error
		if opts.Profile, err = p.profile(c, rd); err != nil {
			return err
		}
		opts.Known = reading.Known(rd, func(err error) { failed = err })
		r = reading.Of(reading.Given{
			Codes: reading.Text(text, opts), Product: inventory.ProductID(page.Product), Lot: page.Lot, How: trace.Scanned,
			OnRecord: reading.OnRecord(p.Book, rd, func(err error) { failed = err }),
		})
		return failed
	})
	if err != nil {
		return err
	}
	product := r.Stock.GTIN
	if product == "" {
		product = string(r.Stock.Product)
	}
	switch r.Outcome {
	case reading.Ready:
		see(c, lotURL(product, r.Stock.Lot))
		return nil
	case reading.NeedsLot:
		page.Product = product
		page.Problem = &trouble{"This code names the product, but no lot.", "Scan the pack's second code, or type the lot number as it is printed."}
	case reading.NeedsProduct:
		page.Lot = r.Stock.Lot
		page.Problem = &trouble{"This code names the lot, but no product.", "Choose the product, or give its GTIN."}
	case reading.NeedsChoice:
		page.Problem = &trouble{"This code can be read in several ways.", "Type product and lot as they are printed on the pack."}
	default:
		page.Problem = &trouble{sentence(r.Fault.Message), "Scan another code of the pack, or type product and lot."}
	}
	return p.showLots(c, http.StatusUnprocessableEntity, page)
}

func lotURL(product, lot string) string {
	return "/lots?" + url.Values{"product": {product}, "lot": {lot}}.Encode()
}

// showLots shows the question, and the answer if there is one.
func (p *Pages) showLots(c *gin.Context, status int, page *lotsPage) error {
	err := p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		page.Unit = k.unit.Name
		products, err := p.Book.Products(r)
		for _, q := range products {
			page.Products = append(page.Products, option{Value: string(q.ID), Title: q.Name})
		}
		return err
	})
	if err != nil {
		return err
	}
	return show(c, status, p.views.lots, page)
}

func (p *Pages) answerLots(c *gin.Context, page *lotsPage) error {
	a, err := p.Book.Exposures(c.Request.Context(), trace.Question{Product: page.Product, Lot: page.Lot})
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) {
		page.Problem = troubleOf(refusal)
		return p.showLots(c, http.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	n, _ := strconv.Atoi(c.Query("page"))
	if page.Answer, err = p.lotAnswer(c, a, max(1, n)); err != nil {
		return err
	}
	page.Title = "Lot " + a.Lot
	return p.showLots(c, http.StatusOK, page)
}

// exposurePage returns the exposures from..from+n of an answer, surest first,
// and how many there are in all.
func (p *Pages) exposurePage(c *gin.Context, a *trace.LotAnswer, from, n int) (list []trace.Exposure, total int, err error) {
	confirmed := 0
	err = p.Book.EachConfirmed(c.Request.Context(), a, func(x *trace.Exposure) error {
		if confirmed >= from && len(list) < n {
			list = append(list, *x)
		}
		confirmed++
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	for i := range a.Unrecorded {
		if at := confirmed + i; at >= from && len(list) < n {
			list = append(list, a.Unrecorded[i])
		}
	}
	return list, confirmed + len(a.Unrecorded), nil
}

// lotsWorkbook hands over the whole answer.
func (p *Pages) lotsWorkbook(c *gin.Context) error {
	q := trace.Question{Product: strings.TrimSpace(c.Query("product")), Lot: strings.TrimSpace(c.Query("lot"))}
	a, err := p.Book.Exposures(c.Request.Context(), q)
	if err != nil {
		return err
	}
	return p.exposureBook(c, a)
}
