package inventory

import (
	"lotbook/inventory/journal"
)

// Counted is a count of a location: what a person found there.
type Counted struct {
	Location LocationID  `json:"location"`
	Lines    []CountLine `json:"lines"`
	// Complete is set when the whole location was counted. Lots that the
	// book had there at that time and the count did not name are then among
	// the lines with 0, marked Unnamed; a lot of which that becomes known
	// later gets such a line in its ledger.
	Complete bool `json:"complete,omitempty"`
	// Shift is the shift that the count closes, if it closes one.
	Shift *Shift `json:"shift,omitempty"`
	// Cause is what the person says of the differences.
	Cause string `json:"cause,omitempty"`
	// Sheet is the count sheet that it comes from, if it comes from one.
	Sheet SheetID `json:"sheet,omitempty"`
}

// A CountLine is what was found of one lot.
type CountLine struct {
	Product ProductID `json:"product"`
	Lot     string    `json:"lot,omitempty"`
	Expires Date      `json:"expires,omitempty"`
	Counted int64     `json:"counted"`
	// Book is what the book had there at the time of the count, by all that
	// was known when the count was recorded.
	Book    int64  `json:"book"`
	Unnamed bool   `json:"unnamed,omitempty"`
	Cause   string `json:"cause,omitempty"`
	// CauseCode is the cause's code in the unit's list, whose text is in
	// Cause.
	CauseCode string `json:"cause_code,omitempty"`
	// Recount: it differed by more than the unit tolerates, and was not
	// counted twice.
	Recount bool `json:"recount,omitempty"`
}

// Kind implements Event.
func (*Counted) Kind() string { return "stock.counted" }

func (c *Counted) movement(l CountLine) Movement {
	cause := l.Cause
	if cause == "" {
		cause = c.Cause
	}
	return Movement{Class: ClassCounted, Lot: Lot{l.Product, l.Lot}, To: c.Location, Quantity: l.Counted, Cause: cause}
}

// PerLot returns a line for each lot, under the id that its product has in the
// catalogue by now: what was found under several ids is added up.
func (c *Counted) PerLot(r Reader) ([]CountLine, error) {
	var lines []CountLine
	at := map[Lot]int{}
	for _, l := range c.Lines {
		var err error
		if l.Product, err = Catalogued(r, l.Product); err != nil {
			return nil, err
		}
		if i, ok := at[Lot{l.Product, l.Lot}]; ok {
			lines[i].Counted += l.Counted
			lines[i].Book += l.Book
			lines[i].Unnamed = lines[i].Unnamed && l.Unnamed
			continue
		}
		at[Lot{l.Product, l.Lot}] = len(lines)
		lines = append(lines, l)
	}
	return lines, nil
}

// Project implements Event.
func (c *Counted) Project(w Writer, e journal.Entry) error {
	for _, l := range c.Lines {
		if err := noteLot(w, e, Lot{l.Product, l.Lot}, l.Expires, "", true); err != nil {
			return err
		}
	}
	lines, err := c.PerLot(w)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if err := Post(w, e, c.movement(l)); err != nil {
			return err
		}
	}
	if c.Sheet != "" {
		s, err := SheetByID(w, c.Sheet)
		if err != nil {
			return err
		}
		s.State, s.Count = SheetDone, e.Seq
		if err := s.save(w); err != nil {
			return err
		}
	}
	if err := noteCounted(w, e, c); err != nil {
		return err
	}
	return noteCount(w, e, c)
}

// Void implements Voider.
func (c *Counted) Void(w Writer, e, by journal.Entry) error {
	lines, err := c.PerLot(w)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if err := Strike(w, e, by, c.movement(l)); err != nil {
			return err
		}
	}
	if err := strikeUnnamed(w, e, by, c); err != nil {
		return err
	}
	if err := strikeCounted(w, e, c); err != nil {
		return err
	}
	return strikeCount(w, e, c)
}
