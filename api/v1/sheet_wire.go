package v1

import (
	"time"

	"lotbook/inventory"
)

// sheet is a blind count as anybody who handles packs sees it: without what the
// book has, until it was counted twice.
type sheet struct {
	ID         string           `json:"id"`
	Location   string           `json:"location"`
	Products   []string         `json:"products"`
	Complete   bool             `json:"complete"`
	Shift      *shift           `json:"shift,omitempty"`
	OpenedAt   time.Time        `json:"opened_at"`
	OpenedBy   string           `json:"opened_by"`
	State      string           `json:"state"`
	Found      []sheetFound     `json:"found"`
	CountAgain []sheetLot       `json:"count_again"`
	MayLie     []sheetLot       `json:"may_lie_there"`
	Compared   []sheetDiffering `json:"differences,omitempty"`
	Count      uint64           `json:"count,omitempty"`
}

type sheetLot struct {
	Product string `json:"product"`
	Lot     string `json:"lot,omitempty"`
}

type sheetFound struct {
	Entry   uint64    `json:"entry"`
	Product string    `json:"product"`
	Lot     string    `json:"lot,omitempty"`
	Expires string    `json:"expires,omitempty"`
	Pieces  int64     `json:"pieces"`
	By      string    `json:"by"`
	At      time.Time `json:"at"`
	Recount bool      `json:"recount,omitempty"`
}

// sheetDiffering is a lot beside the book.
type sheetDiffering struct {
	Product    string `json:"product"`
	Lot        string `json:"lot,omitempty"`
	Counted    int64  `json:"counted"`
	Book       int64  `json:"book"`
	Difference int64  `json:"difference"`
}

func sheetLotsOf(lots []inventory.Lot) []sheetLot {
	out := make([]sheetLot, len(lots))
	for i, l := range lots {
		out[i] = sheetLot{string(l.Product), l.Number}
	}
	return out
}

func sheetOf(s *inventory.Sheet) sheet {
	out := sheet{
		ID: string(s.ID), Location: string(s.Location), Products: make([]string, len(s.Products)), Complete: s.Complete, Shift: shiftOf(s.Shift),
		OpenedAt: s.At, OpenedBy: s.By, State: string(s.State), Found: make([]sheetFound, len(s.Found)), CountAgain: sheetLotsOf(s.Again),
		MayLie: []sheetLot{}, Count: s.Count,
	}
	for i, id := range s.Products {
		out.Products[i] = string(id)
	}
	for i, f := range s.Found {
		out.Found[i] = sheetFound{f.Entry, string(f.Product), f.Lot, string(f.Expires), f.Pieces, f.By, f.At, f.Recount}
	}
	return out
}

func differingOf(lines []inventory.CountLine, all bool) []sheetDiffering {
	out := []sheetDiffering{}
	for _, l := range lines {
		if all || l.Counted != l.Book {
			out = append(out, sheetDiffering{string(l.Product), l.Lot, l.Counted, l.Book, l.Counted - l.Book})
		}
	}
	return out
}

// counting is how the unit counts.
type counting struct {
	TolerancePieces int64           `json:"tolerance_pieces"`
	ToleranceShare  int64           `json:"tolerance_thousandths"`
	ByAnother       bool            `json:"recount_by_another"`
	Causes          []countingCause `json:"causes"`
	Plan            countingPlan    `json:"plan"`
}

type countingCause struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

type countingPlan struct {
	AShare       int64           `json:"a_share_thousandths"`
	BShare       int64           `json:"b_share_thousandths"`
	ADays        int64           `json:"a_days"`
	BDays        int64           `json:"b_days"`
	CDays        int64           `json:"c_days"`
	MovementDays int64           `json:"movement_days"`
	Prices       []countingPrice `json:"prices"`
}

type countingPrice struct {
	Product string `json:"product"`
	Price   int64  `json:"price_thousandths"`
}

func countingOf(c *inventory.Counting) counting {
	out := counting{
		TolerancePieces: c.TolerancePieces, ToleranceShare: c.ToleranceShare, ByAnother: c.ByAnother, Causes: make([]countingCause, len(c.Causes)),
		Plan: countingPlanOf(&c.Plan),
	}
	for i, x := range c.Causes {
		out.Causes[i] = countingCause(x)
	}
	return out
}

func countingPlanOf(p *inventory.CountPlan) countingPlan {
	out := countingPlan{p.AShare, p.BShare, p.ADays, p.BDays, p.CDays, p.MovementDays, make([]countingPrice, len(p.Prices))}
	for i, x := range p.Prices {
		out.Prices[i] = countingPrice{string(x.Product), x.Price}
	}
	return out
}

func (c *counting) domain() inventory.Counting {
	p := c.Plan
	out := inventory.Counting{
		TolerancePieces: c.TolerancePieces, ToleranceShare: c.ToleranceShare, ByAnother: c.ByAnother,
		Plan: inventory.CountPlan{AShare: p.AShare, BShare: p.BShare, ADays: p.ADays, BDays: p.BDays, CDays: p.CDays, MovementDays: p.MovementDays},
	}
	for _, x := range c.Causes {
		out.Causes = append(out.Causes, inventory.CountCause(x))
	}
	for _, x := range p.Prices {
		out.Plan.Prices = append(out.Plan.Prices, inventory.ProductPrice{Product: inventory.ProductID(x.Product), Price: x.Price})
	}
	return out
}
