package v1

import (
	"context"
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/trace"
)

// deliveryRequest is what a clerk found in a delivery. With check set nothing is
// recorded.
type deliveryRequest struct {
	happened
	Check      bool           `json:"check"`
	Supplier   string         `json:"supplier"`
	Order      string         `json:"order"`
	Number     string         `json:"number"`
	To         string         `json:"to"`
	Quarantine string         `json:"quarantine"`
	Scanner    string         `json:"scanner"` // the tested scanner that typed the codes
	Confirm    []string       `json:"confirm"`
	Lines      []deliveryLine `json:"lines"`
}

// deliveryLine is a label and how often it was there.
type deliveryLine struct {
	stockIn
	// Codes are those of one label, as a scanner typed them.
	Codes        []string `json:"codes"`
	Choice       int      `json:"choice"`
	NoLot        bool     `json:"no_lot"`
	LogisticUnit string   `json:"logistic_unit"`
	Holds        int64    `json:"holds"`
	To           string   `json:"to"`
	Noted        int64    `json:"noted"`
	NotedPacks   int64    `json:"noted_packs"`
	Damaged      string   `json:"damaged"`
	Answer       string   `json:"answer"`
	Why          string   `json:"why"`
	Rest         string   `json:"rest"`
	Confirm      []string `json:"confirm"`
}

// createDelivery answers POST /v1/deliveries.
func (a *API) createDelivery(c *gin.Context) error {
	var req deliveryRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if err := checkLines(len(req.Lines), "lines"); err != nil {
		return err
	}
	ctx := c.Request.Context()
	d := inventory.Delivery{
		Supplier: req.Supplier, Order: inventory.OrderID(req.Order), Number: req.Number, To: inventory.LocationID(req.To),
		Quarantine: inventory.LocationID(req.Quarantine), Confirm: req.Confirm,
	}
	labels := make([]reading.Label, len(req.Lines))
	ready := true
	var at []int // the places of the lines that could be read
	for i := range req.Lines {
		if req.Lines[i].Packs < 0 || req.Lines[i].Quantity < 0 || req.Lines[i].Packs > maxPacks {
			return inventory.Invalid("packs", "Give numbers of pieces and packs, 0 or more.", "line %d has a quantity that can't be", i+1)
		}
		if labels[i], err = a.labelOf(ctx, &req.Lines[i], req.Scanner); err != nil {
			return err
		}
		if labels[i].Outcome != reading.Ready && !req.Lines[i].absent() {
			ready = false
			continue
		}
		at = append(at, i)
		d.Lines = append(d.Lines, req.Lines[i].domain(&labels[i]))
	}
	if ready && !req.Check {
		rec, err := a.Book.Deliver(ctx, call, d)
		var open *inventory.OpenQuestions
		if !errors.As(err, &open) {
			return a.created(c, rec, err, deliveryAnswer)
		}
	}
	checked := &inventory.CheckedDelivery{}
	if len(d.Lines) > 0 {
		if checked, err = a.Book.CheckDelivery(ctx, call, d); err != nil {
			return err
		}
	}
	out, err := a.deliveryOpen(ctx, checked, labels, at)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// maxPacks is more than any delivery's line has.
const maxPacks = 10_000_000

// absent reports whether a line says only what did not come: it has no lot.
func (l *deliveryLine) absent() bool {
	return len(l.Codes) == 0 && l.Quantity == 0 && l.Packs == 0 && l.Noted+l.NotedPacks > 0
}

// labelOf reads what a line gives about a label.
func (a *API) labelOf(ctx context.Context, l *deliveryLine, scanner string) (reading.Label, error) {
	g := reading.Given{
		Choice: l.Choice, Product: inventory.ProductID(l.Product), GTIN: gtin14(l.GTIN), Lot: l.Lot, Serial: l.Serial,
		Expires: inventory.Date(l.Expires), NoLot: l.NoLot,
	}
	if len(l.Codes) > 0 {
		if err := checkLines(len(l.Codes), "codes"); err != nil {
			return reading.Label{}, err
		}
		codes, err := a.readLines(ctx, l.Codes, scanner, l.Choice == 0)
		if err != nil {
			return reading.Label{}, err
		}
		g.Codes, g.How = codes, trace.Scanned
	}
	var out reading.Label
	err := a.Book.View(ctx, func(r inventory.Reader) error {
		var failed error
		g.OnRecord = reading.OnRecord(a.Book, r, func(err error) { failed = err })
		out = reading.Delivered(g)
		return failed
	})
	return out, err
}

// domain puts a line together of what its label says and what a person says,
// which goes before.
func (l *deliveryLine) domain(label *reading.Label) inventory.DeliveryLine {
	out := inventory.DeliveryLine{
		Stock: label.Stock, To: inventory.LocationID(l.To), Unit: l.LogisticUnit, PackHolds: l.Holds, Noted: l.Noted, NotedPacks: l.NotedPacks,
		Damaged: l.Damaged, Answer: l.Answer, Why: l.Why, Rest: l.Rest, Confirm: l.Confirm,
	}
	if out.Made == "" {
		out.Made = inventory.Date(l.Made)
	}
	if out.Unit == "" {
		out.Unit = label.Unit
	}
	if out.PackHolds == 0 {
		out.PackHolds = label.Holds
	}
	out.Quantity, out.Packs = l.Quantity, l.Packs
	switch {
	case len(l.Codes) == 0:
	case l.Packs > 0:
		out.Packs *= label.Packs // so many labels, each of so many packs
	case l.Quantity == 0:
		out.Packs = label.Packs
	}
	return out
}
