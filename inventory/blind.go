package inventory

import (
	"slices"
	"time"
)

// A BlindCount is a part of a place that is being counted: its sheet is open, and
// what differs was not counted twice yet. Whoever counts must not be told what
// the book has there until then.
type BlindCount struct {
	Sheet    SheetID    `json:"sheet"`
	Location LocationID `json:"location"`
	// Products that are counted; all if empty.
	Products []ProductID `json:"products,omitempty"`
	Since    time.Time   `json:"since"`
}

// BlindCounts returns what is being counted, by place and sheet.
func BlindCounts(r Reader) ([]BlindCount, error) {
	sheets, err := OpenSheets(r, "")
	var list []BlindCount
	for _, s := range sheets {
		if s.State == SheetCounting || s.State == SheetRecount {
			list = append(list, BlindCount{s.ID, s.Location, s.Products, s.At})
		}
	}
	return list, err
}

// Covers reports whether a product at a place is being counted.
func (c *BlindCount) Covers(loc LocationID, p ProductID) bool {
	return c.Location == loc && (len(c.Products) == 0 || slices.Contains(c.Products, p))
}

// BeingCounted reports whether a product at a place is among what is being
// counted.
func BeingCounted(list []BlindCount, loc LocationID, p ProductID) bool {
	return slices.ContainsFunc(list, func(c BlindCount) bool { return c.Covers(loc, p) })
}

// blindAt reports whether a product at a place is being counted.
func blindAt(r Reader, loc LocationID, p ProductID) (bool, error) {
	list, err := BlindCounts(r)
	return BeingCounted(list, loc, p), err
}

// FindBelowZero adds the finding that more is taken than the book has at a place.
// It names no figure while the place is being counted.
func (s *Stock) FindBelowZero(r Reader, loc Location, has int64) error {
	blind, err := blindAt(r, loc.ID, s.Product)
	if blind {
		s.find(FindingBelowZero, Caution, "More of lot %s is taken at %s than the book has there. The count that is going on will show why.", s.Lot, loc.Name)
	} else {
		s.find(FindingBelowZero, Caution, "The book has %d of lot %s at %s, and %d are taken. The next count will show why.", has, s.Lot, loc.Name, s.Quantity)
	}
	return err
}
