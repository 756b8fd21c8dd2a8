package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
)

// content is pieces of a lot that a kit's lot or a batch holds. Without a lot
// it is said that the lot is not known.
type content struct {
	Product string `json:"product"`
	Lot     string `json:"lot,omitempty"`
	Pieces  int64  `json:"pieces"`
	Entry   uint64 `json:"entry,omitempty"`
}

func contentOf(c inventory.Content) content {
	return content{string(c.Product), c.Number, c.Pieces, c.Entry}
}

// contentsOf returns what is on record of what a lot holds.
func contentsOf(r inventory.Reader, l inventory.Lot) (out []content, err error) {
	list, err := inventory.ContentsOf(r, l)
	for _, c := range list {
		out = append(out, contentOf(c))
	}
	return out, err
}

// kitContentsRequest says what a kit's lot holds.
type kitContentsRequest struct {
	happened
	Product  string        `json:"product"`
	GTIN     string        `json:"gtin"`
	Lot      string        `json:"lot"`
	Contents []contentLine `json:"contents"`
}

type contentLine struct {
	Product string `json:"product"`
	GTIN    string `json:"gtin"`
	Lot     string `json:"lot"`
	Pieces  int64  `json:"pieces"`
}

type kitContentsWritten struct {
	written
	Product  string    `json:"product"`
	Lot      string    `json:"lot"`
	Contents []content `json:"contents"`
	Findings []finding `json:"findings"`
}

// createKitContents answers POST /v1/kit-contents.
func (a *API) createKitContents(c *gin.Context) error {
	var req kitContentsRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if err := checkLines(len(req.Contents), "contents"); err != nil {
		return err
	}
	lines := make([]inventory.Stock, len(req.Contents))
	for i, l := range req.Contents {
		lines[i] = inventory.Stock{Product: inventory.ProductID(l.Product), GTIN: gtin14(l.GTIN), Lot: l.Lot, Quantity: l.Pieces}
	}
	kit := inventory.Stock{Product: inventory.ProductID(req.Product), GTIN: gtin14(req.GTIN), Lot: req.Lot}
	rec, err := a.Book.SetKitContents(c.Request.Context(), call, kit, lines...)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.KitContents](evs)
		if err != nil {
			return nil, err
		}
		out := kitContentsWritten{written: w, Product: string(ev.Product), Lot: ev.Lot, Findings: findingsOf(ev.Findings)}
		for _, x := range ev.Contents {
			out.Contents = append(out.Contents, contentOf(x))
		}
		return out, nil
	})
}

type contentPage struct {
	Product  string    `json:"product"`
	Lot      string    `json:"lot"`
	Contents []content `json:"contents"`
	// Within are the kits' lots and batches that hold the lot.
	Within []lotName `json:"within"`
}

// listContents answers GET /v1/kit-contents: what a lot holds, and what holds
// it.
func (a *API) listContents(c *gin.Context) error {
	q, err := query(c, "product", "lot")
	if err != nil {
		return err
	}
	if q.Get("product") == "" || q.Get("lot") == "" {
		return problem.Bad("parameter_missing", "lot", "Give the product's id or a GTIN, and the lot.", "The product or the lot is missing.")
	}
	out := contentPage{Contents: []content{}, Within: []lotName{}}
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		l := inventory.Lot{Product: inventory.ProductID(q.Get("product")), Number: q.Get("lot")}
		if p, _, err := a.Book.ProductByGTIN(r, gtin14(string(l.Product))); err != nil {
			return err
		} else if p != nil {
			l.Product = p.ID
		}
		if _, ok, err := inventory.LotFactsOf(r, l); err != nil {
			return err
		} else if !ok {
			return inventory.NotFound("lot", l.Number, "Compare the number with the pack: no entry names this lot of this product.")
		}
		out.Product, out.Lot = string(l.Product), l.Number
		list, err := contentsOf(r, l)
		if err != nil {
			return err
		}
		out.Contents = append(out.Contents[:0], list...)
		held, err := inventory.HoldersOf(r, l)
		out.Within = out.Within[:0]
		for _, h := range held {
			out.Within = append(out.Within, lotName{string(h.Product), h.Number})
		}
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
