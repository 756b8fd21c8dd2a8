package v1

import (
	"context"
	"fmt"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
)

// openQuestion is what has to be asked before a delivery is recorded.
type openQuestion struct {
	Code    string   `json:"code"`
	Message string   `json:"message"`
	Answers []string `json:"answers"`
}

func openQuestionsOf(qs []inventory.Question) []openQuestion {
	out := make([]openQuestion, len(qs))
	for i, q := range qs {
		out[i] = openQuestion(q)
	}
	return out
}

// deliveryOpen answers a delivery that was not recorded: it was only checked, or
// something has to be asked first.
type deliveryOpen struct {
	Outcome   string         `json:"outcome"` // "checked" or "needs_answer"
	Message   string         `json:"message"`
	Questions []openQuestion `json:"questions"`
	Order     *order         `json:"order,omitempty"`
	Lines     []checkedLine  `json:"lines"`
}

// checkedLine shows what a line would be recorded as: packs × what one holds =
// pieces.
type checkedLine struct {
	// Outcome is how the label was read: "ready", or what is lacking.
	Outcome  string `json:"outcome"`
	Message  string `json:"message,omitempty"`
	Product  string `json:"product,omitempty"`
	Name     string `json:"product_name,omitempty"`
	GTIN     string `json:"gtin,omitempty"`
	Level    string `json:"level,omitempty"`
	Lot      string `json:"lot,omitempty"`
	Serial   string `json:"serial,omitempty"`
	Expires  string `json:"expires,omitempty"`
	Unit     string `json:"logistic_unit,omitempty"`
	Packs    int64  `json:"packs,omitempty"`
	Holds    int64  `json:"holds,omitempty"`
	Quantity int64  `json:"quantity"`
	// Pieces is the same in words: "3 × 24 = 72 pieces".
	Pieces    string              `json:"pieces"`
	To        string              `json:"to,omitempty"`
	Becomes   string              `json:"becomes,omitempty"`
	Lacking   int64               `json:"lacking,omitempty"`
	Findings  []finding           `json:"findings"`
	Questions []openQuestion      `json:"questions"`
	Choices   []scanner.Candidate `json:"choices,omitempty"`
	Warnings  []scanner.Warning   `json:"warnings,omitempty"`
	Error     *scanner.Fault      `json:"error,omitempty"`
}

// deliveryOpen puts the checked lines back into the places of those that were
// sent.
func (a *API) deliveryOpen(ctx context.Context, c *inventory.CheckedDelivery, labels []reading.Label, at []int) (*deliveryOpen, error) {
	out := &deliveryOpen{Outcome: "checked", Message: "Nothing was recorded: this is what it would be.", Questions: openQuestionsOf(c.Questions), Lines: make([]checkedLine, len(labels))}
	if c.Open() || len(at) < len(labels) {
		out.Outcome, out.Message = "needs_answer", "Nothing was recorded: answer what is asked, and send the delivery again."
	}
	for i := range labels {
		out.Lines[i] = unreadLine(&labels[i])
	}
	for i, place := range at {
		l := &c.Lines[i]
		line := &out.Lines[place]
		*line = checkedLine{
			Outcome: string(reading.Ready), Product: string(l.Product), Name: l.Name, GTIN: l.GTIN, Level: l.Level, Lot: l.Lot, Serial: l.Serial,
			Expires: string(l.Expires), Unit: l.Unit(), Packs: l.Packs, Holds: l.Holds, Quantity: l.Quantity, Pieces: l.InPieces(), To: string(l.To),
			Becomes: l.Becomes, Lacking: l.Lacking, Findings: findingsOf(l.Findings), Questions: openQuestionsOf(l.Questions), Warnings: labels[place].Warnings,
		}
	}
	if c.Order == nil {
		return out, nil
	}
	return out, a.Book.View(ctx, func(r inventory.Reader) error {
		today, err := a.today(r)
		o := orderOf(c.Order, today)
		out.Order = &o
		return err
	})
}

// unreadLine is a line of which something must be known first.
func unreadLine(l *reading.Label) checkedLine {
	s := &l.Stock
	out := checkedLine{
		Outcome: string(l.Outcome), Message: openMessage(&l.Reading), Product: string(s.Product), GTIN: s.GTIN, Lot: s.Lot, Serial: s.Serial,
		Expires: string(s.Expires), Unit: l.Unit, Findings: []finding{}, Questions: []openQuestion{}, Choices: l.Choices, Warnings: l.Warnings, Error: l.Fault,
	}
	if l.Unit != "" && l.Outcome == reading.NeedsProduct {
		out.Message = fmt.Sprintf("Nothing was recorded: this is the label of logistic unit %s without its content. Scan the label's other code and send both, or scan the cases.", l.Unit)
	}
	return out
}

// deliveryWritten answers a delivery that was recorded.
type deliveryWritten struct {
	Outcome string `json:"outcome"` // "recorded"
	written
	Supplier string          `json:"supplier,omitempty"`
	Order    string          `json:"order,omitempty"`
	Number   string          `json:"number,omitempty"`
	Lines    []deliveredLine `json:"lines"`
}

// deliveredLine is what became of a line: received, refused or lacking.
type deliveredLine struct {
	Result string `json:"result"`
	stockLine
	Unit    string     `json:"logistic_unit,omitempty"`
	Cause   string     `json:"cause,omitempty"`
	Noted   int64      `json:"noted,omitempty"`
	Closed  bool       `json:"closed,omitempty"`
	Answers []answered `json:"answers"`
}

type answered struct {
	Question string `json:"question"`
	Answer   string `json:"answer"`
	Why      string `json:"why,omitempty"`
}

func deliveryAnswer(evs []inventory.Event, w written) (any, error) {
	out := deliveryWritten{Outcome: "recorded", written: w, Lines: make([]deliveredLine, len(evs))}
	for i, ev := range evs {
		n := w.Entries[i]
		line := &out.Lines[i]
		var papers inventory.Papers
		switch v := ev.(type) {
		case *inventory.Received:
			*line = deliveredLine{Result: "received", stockLine: lineOf(n, &v.Stock, "", v.To)}
			out.Supplier, out.Order, papers = v.Supplier, v.Order, v.Papers
		case *inventory.Refused:
			*line = deliveredLine{Result: "refused", stockLine: lineOf(n, &v.Stock, "", ""), Cause: v.Cause}
			out.Supplier, out.Order, papers = v.Supplier, v.Order, v.Papers
		case *inventory.Lacking:
			s := inventory.Stock{Product: v.Product, Quantity: v.Noted - v.Came}
			*line = deliveredLine{Result: "lacking", stockLine: lineOf(n, &s, "", ""), Noted: v.Noted, Closed: v.Closed}
			out.Supplier, out.Order, papers = v.Supplier, v.Order, v.Papers
		default:
			return nil, errOtherEntry
		}
		out.Number, line.Unit, line.Answers = papers.Delivery, papers.Unit, []answered{}
		for _, a := range papers.Answers {
			line.Answers = append(line.Answers, answered(a))
		}
	}
	return out, nil
}
