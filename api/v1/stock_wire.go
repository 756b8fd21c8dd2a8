package v1

import (
	"lotbook/inventory"
)

// stockIn names pieces of a lot in a request. Product may be left out where
// there is a GTIN, and quantity where there are packs.
type stockIn struct {
	Product  string `json:"product"`
	GTIN     string `json:"gtin"`
	Lot      string `json:"lot"`
	Serial   string `json:"serial"`
	Expires  string `json:"expires"`
	Made     string `json:"made"`
	Quantity int64  `json:"quantity"`
	Packs    int64  `json:"packs"`
}

func (s *stockIn) domain() inventory.Stock {
	return inventory.Stock{
		Product: inventory.ProductID(s.Product), GTIN: gtin14(s.GTIN), Lot: s.Lot, Serial: s.Serial,
		Expires: inventory.Date(s.Expires), Made: inventory.Date(s.Made), Quantity: s.Quantity, Packs: s.Packs,
	}
}

// finding is what was noticed.
type finding struct {
	Code    string `json:"code"`
	Level   string `json:"level"`
	Message string `json:"message"`
}

func findingsOf(fs []inventory.Finding) []finding {
	out := make([]finding, len(fs))
	for i, f := range fs {
		out[i] = finding{f.Code, string(f.Level), f.Message}
	}
	return out
}

// stockLine is what an entry says of pieces of a lot.
type stockLine struct {
	Entry    uint64    `json:"entry"`
	Product  string    `json:"product"`
	GTIN     string    `json:"gtin,omitempty"`
	Lot      string    `json:"lot,omitempty"`
	Serial   string    `json:"serial,omitempty"`
	Expires  string    `json:"expires,omitempty"`
	Made     string    `json:"made,omitempty"`
	Quantity int64     `json:"quantity"`
	Packs    int64     `json:"packs,omitempty"`
	From     string    `json:"from,omitempty"`
	To       string    `json:"to,omitempty"`
	Findings []finding `json:"findings"`
}

func lineOf(entry uint64, s *inventory.Stock, from, to inventory.LocationID) stockLine {
	return stockLine{
		Entry: entry, Product: string(s.Product), GTIN: s.GTIN, Lot: s.Lot, Serial: s.Serial, Expires: string(s.Expires), Made: string(s.Made),
		Quantity: s.Quantity, Packs: s.Packs, From: string(from), To: string(to), Findings: findingsOf(s.Findings),
	}
}

// stockWritten answers every write that moves pieces.
type stockWritten struct {
	written
	Lines []stockLine `json:"lines"`
}

// stockAnswer makes the answer to a write that moves pieces.
func stockAnswer(evs []inventory.Event, w written) (any, error) {
	out := stockWritten{written: w, Lines: make([]stockLine, len(evs))}
	for i, ev := range evs {
		var line stockLine
		n := w.Entries[i]
		switch v := ev.(type) {
		case *inventory.Received:
			line = lineOf(n, &v.Stock, "", v.To)
		case *inventory.Borrowed:
			line = lineOf(n, &v.Stock, v.From, v.To)
		case *inventory.Moved:
			line = lineOf(n, &v.Stock, v.From, v.To)
		case *inventory.Consumed:
			line = lineOf(n, &v.Stock, v.From, "")
		case *inventory.Wasted:
			line = lineOf(n, &v.Stock, v.From, "")
		case *inventory.Departed:
			line = lineOf(n, &v.Stock, v.From, v.To)
		default:
			return nil, errOtherEntry
		}
		out.Lines[i] = line
	}
	return out, nil
}
