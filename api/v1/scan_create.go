package v1

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/trace"
)

// scanRequest is a pack taken in hand for a treatment: the text of its codes,
// the symbols that were read in its picture, or what a person typed.
type scanRequest struct {
	happened
	Codes   []string `json:"codes"`
	Scanner string   `json:"scanner"` // the tested scanner that typed the codes
	Symbols []symbol `json:"symbols"`

	Product string `json:"product"`
	GTIN    string `json:"gtin"`
	Lot     string `json:"lot"`
	Serial  string `json:"serial"`
	Expires string `json:"expires"`
	NoLot   bool   `json:"no_lot"`
	Choice  int    `json:"choice"`

	How          string `json:"how"`
	Quantity     int64  `json:"quantity"`
	Packs        int64  `json:"packs"`
	Category     string `json:"category"`
	OpenedBefore bool   `json:"opened_before"`
	Container    string `json:"container"`
	Reason       string `json:"reason"`
	Replaces     uint64 `json:"replaces"`
	Cause        string `json:"cause"`
}

// symbol is a symbol that was read in a picture.
type symbol struct {
	Symbology string `json:"symbology"`
	Raw       string `json:"raw"`
}

// maxCodes is how many codes one label may have.
const maxCodes = 20

// createScan answers POST /v1/treatments/:id/scans.
func (a *API) createScan(c *gin.Context) error {
	var req scanRequest
	pics, err := bodyOf(c, "scan", &req)
	if err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	given, err := a.given(c.Request.Context(), &req, pics)
	if err != nil {
		return err
	}
	r := reading.Reading{Outcome: reading.Ready, How: given.How}
	if req.Container == "" || given.Product != "" || given.GTIN != "" || len(given.Codes) > 0 {
		if r, err = a.readingOf(c.Request.Context(), given); err != nil {
			return err
		}
	} // else the container's number says which product and lot it is
	if r.Outcome != reading.Ready {
		out, err := a.open(c.Request.Context(), trace.TreatmentID(id), &r, given.Codes)
		if err != nil {
			return err
		}
		return respond(c, http.StatusOK, out)
	}
	s := r.Scan(trace.TreatmentID(id))
	s.Container = trace.ContainerID(req.Container)
	s.Quantity, s.Packs = req.Quantity, req.Packs
	s.Category, s.OpenedBefore, s.Reason = inventory.Category(req.Category), req.OpenedBefore, req.Reason
	s.Replaces, s.Cause = req.Replaces, req.Cause
	rec, err := a.Book.Scan(c.Request.Context(), call, s)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		out, err := scanAnswer(evs, w)
		if err != nil {
			return nil, err
		}
		out.Warnings, out.Others = r.Warnings, r.Others
		return out, nil
	})
}

// given puts together what came in about one pack.
func (a *API) given(ctx context.Context, req *scanRequest, pics [][]byte) (reading.Given, error) {
	g := reading.Given{
		Choice: req.Choice, Product: inventory.ProductID(req.Product), GTIN: gtin14(req.GTIN), Lot: req.Lot, Serial: req.Serial,
		Expires: inventory.Date(req.Expires), NoLot: req.NoLot,
	}
	ways := 0
	for _, yes := range []bool{pics != nil, len(req.Codes) > 0, len(req.Symbols) > 0} {
		if yes {
			ways++
		}
	}
	switch {
	case ways > 1:
		return g, problem.Bad("lines", "codes", "Send the picture, or the symbols that were read in it, or the text of codes.", "There are codes of several kinds, and it can't be told whether they are of one pack.")
	case len(req.Codes) > maxCodes || len(req.Symbols) > maxCodes:
		return g, problem.Bad("lines", "codes", "Send the codes of one pack.", "One pack does not have more than %d codes.", maxCodes)
	}
	switch {
	case pics != nil:
		codes, err := a.readPictures(ctx, pics)
		if err != nil {
			return g, err
		}
		g.Codes, g.How = codes, trace.Photo
	case len(req.Symbols) > 0:
		for _, s := range req.Symbols {
			g.Codes = append(g.Codes, scanner.FromSymbol(s.Symbology, s.Raw, a.options()))
		}
		g.How = trace.Photo
	case len(req.Codes) > 0:
		codes, err := a.readLines(ctx, req.Codes, req.Scanner, req.Choice == 0)
		if err != nil {
			return g, err
		}
		g.Codes, g.How = codes, trace.Scanned
	}
	switch h := trace.How(req.How); h {
	case "":
	case trace.Scanned, trace.Photo, trace.Typed, trace.Assumed:
		g.How = h
	default:
		return g, problem.Bad("wrong_type", "how", "Use scanned, photo, typed or assumed, or leave it out.", "There is no way of knowing %q.", req.How)
	}
	return g, nil
}

// readingOf reads what came in as the pages do: of several ways, the one whose
// lot is on record.
func (a *API) readingOf(ctx context.Context, g reading.Given) (out reading.Reading, err error) {
	err = a.Book.View(ctx, func(r inventory.Reader) error {
		var failed error
		g.OnRecord = reading.OnRecord(a.Book, r, func(err error) { failed = err })
		out = reading.Of(g)
		return failed
	})
	return out, err
}

// takenAs is what a pack was taken as.
type takenAs struct {
	Category category `json:"category"`
	Product  string   `json:"product"`
	Name     string   `json:"product_name,omitempty"`
	GTIN     string   `json:"gtin,omitempty"`
	Lot      string   `json:"lot,omitempty"`
	Serial   string   `json:"serial,omitempty"`
	Expires  string   `json:"expires,omitempty"`
	Quantity int64    `json:"quantity"`
	How      string   `json:"how"`
}

// scanWritten answers a scan that was recorded, as used or as stopped.
type scanWritten struct {
	Outcome string `json:"outcome"`
	written
	Treatment string              `json:"treatment"`
	TakenAs   takenAs             `json:"taken_as"`
	Findings  []finding           `json:"findings"`
	Missing   []missing           `json:"missing"`
	Replaces  uint64              `json:"replaces,omitempty"`
	Cause     string              `json:"cause,omitempty"`
	Reason    string              `json:"reason,omitempty"`
	Answers   uint64              `json:"answers,omitempty"`
	Message   string              `json:"message"`
	Warnings  []scanner.Warning   `json:"warnings,omitempty"`
	Others    []scanner.Candidate `json:"other_readings,omitempty"`
}

func takenOf(s *inventory.Stock, name string, c inventory.Category, how trace.How) takenAs {
	return takenAs{
		Category: categoryOf(c), Product: string(s.Product), Name: name, GTIN: s.GTIN, Lot: s.Lot, Serial: s.Serial,
		Expires: string(s.Expires), Quantity: s.Quantity, How: string(how),
	}
}

// scanAnswer makes the answer from the entry of a scan.
func scanAnswer(evs []inventory.Event, w written) (*scanWritten, error) {
	switch v := evs[len(evs)-1].(type) {
	case *trace.Used:
		return &scanWritten{
			Outcome: string(reading.Used), written: w, Treatment: string(v.Treatment), TakenAs: takenOf(&v.Stock, v.Name, v.Category, v.How),
			Findings: findingsOf(v.Findings), Missing: missingOf(v.Missing), Replaces: v.Replaces, Cause: v.Cause, Reason: v.Reason,
			Answers: v.Answers, Message: "Recorded as used.",
		}, nil
	case *trace.ScanStopped:
		return &scanWritten{
			Outcome: string(reading.Stopped), written: w, Treatment: string(v.Treatment), TakenAs: takenOf(&v.Stock, v.Name, v.Category, v.How),
			Findings: findingsOf(v.Findings), Missing: missingOf(v.Missing), Replaces: v.Replaces, Cause: v.Cause,
			Message: "Not recorded as used: say what becomes of it, used all the same with a reason, or set aside.",
		}, nil
	}
	return nil, errOtherEntry
}

// scanOpen answers a scan of which something must be asked first. Nothing was
// written.
type scanOpen struct {
	Outcome   string              `json:"outcome"`
	Treatment string              `json:"treatment"`
	Message   string              `json:"message"`
	Read      *readSoFar          `json:"read,omitempty"`
	Choices   []scanner.Candidate `json:"choices,omitempty"`
	// Symbols are to be sent again, with the answer added.
	Symbols  []symbol          `json:"symbols,omitempty"`
	Warnings []scanner.Warning `json:"warnings,omitempty"`
	Error    *scanner.Fault    `json:"error,omitempty"`
}

// readSoFar is what is known of a pack that can't be recorded yet.
type readSoFar struct {
	Product  string    `json:"product,omitempty"`
	Name     string    `json:"product_name,omitempty"`
	Category *category `json:"category,omitempty"`
	GTIN     string    `json:"gtin,omitempty"`
	Lot      string    `json:"lot,omitempty"`
	Serial   string    `json:"serial,omitempty"`
	Expires  string    `json:"expires,omitempty"`
}

// openMessage says in words what has to be asked.
func openMessage(r *reading.Reading) string {
	switch r.Outcome {
	case reading.NeedsLot:
		return "Nothing was recorded: this code has no lot. Scan the label's other code and send both, or type the lot as printed; if it can't be read, send no_lot."
	case reading.NeedsProduct:
		return "Nothing was recorded: it is not known which product this is. Scan the label's other code and send both, or give the product."
	case reading.NeedsChoice:
		if r.RunTogether {
			return "Nothing was recorded: the line may hold the codes of two packs. Scan each by itself; if it was one, send the number of the choice, from 1."
		}
		return "Nothing was recorded: this can be read in several ways. Compare with the label and send the number of the choice, from 1."
	}
	return "Nothing was recorded."
}

// open answers what has to be asked first. The treatment must be there.
func (a *API) open(ctx context.Context, id trace.TreatmentID, r *reading.Reading, codes []scanner.Code) (*scanOpen, error) {
	out := &scanOpen{
		Outcome: string(r.Outcome), Treatment: string(id), Message: openMessage(r),
		Choices: r.Choices, Warnings: r.Warnings, Error: r.Fault,
	}
	if r.Fault != nil {
		out.Message = "Nothing was recorded: " + strings.TrimSuffix(r.Fault.Message, ".") + "."
	}
	for _, c := range codes {
		if c.Error == nil && r.How == trace.Photo {
			out.Symbols = append(out.Symbols, symbol{c.Symbology, c.Raw})
		}
	}
	s := &r.Stock
	err := a.Book.View(ctx, func(rd inventory.Reader) error {
		if _, err := trace.TreatmentByID(rd, id); err != nil {
			return err
		}
		if s.GTIN == "" && s.Product == "" && s.Lot == "" && s.Serial == "" && s.Expires == "" {
			return nil
		}
		out.Read = &readSoFar{Product: string(s.Product), GTIN: s.GTIN, Lot: s.Lot, Serial: s.Serial, Expires: string(s.Expires)}
		p, _, err := a.Book.ProductByGTIN(rd, s.GTIN)
		if s.GTIN == "" {
			if p, _, err = a.Book.ProductByCode(rd, s.Product); err == nil && p == nil {
				p, err = a.Book.Product(rd, s.Product)
			}
		}
		if err != nil || p == nil {
			return err
		}
		cat := categoryOf(p.Category)
		out.Read.Product, out.Read.Name, out.Read.Category = string(p.ID), p.Name, &cat
		return nil
	})
	return out, err
}
