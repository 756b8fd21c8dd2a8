package reports

import (
	"fmt"
	"slices"
	"strings"

	"lotbook/inventory"
	"lotbook/trace"
)

// NextLots is which lots to take next, and what will expire unused, as a
// Workbook.
func NextLots(n *trace.NextLots, by Asked) *Workbook {
	w := by.workbook("What to take next on " + string(n.Plan.Today))
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: slices.Concat([]Section{
			{Title: "Worked out for", Facts: []Fact{
				{Label: "Today", Value: DateText(n.Plan.Today)},
				{Label: "Treatments planned until", Value: planUntil(n.Plan), Note: repeated(n.Plan)},
			}},
			{Title: "How to read it", Text: []string{
				"The first expired goes first out; lots without an expiry date come last, the one longest here first. Lots on hold, expired, or of which the book has nothing left are not to be taken.",
				"What will be left over is worked out day by day over the lots, as if every place took the first expired first, its own before the stores'. Deliveries to come are not in it. Where another place uses later lots until then, that is named as a fact.",
			}},
		}, beingCounted(n.Withheld), []Section{by.source(n.AsOf)})}},
		{Name: "Take next", Table: orNone(nextTable(n, func(*trace.NextLot) bool { return true }), NoneFound())},
		{Name: "Will expire unused", Table: orNone(nextTable(n, func(l *trace.NextLot) bool { return l.Left != nil && *l.Left > 0 }), NoneFound())},
	}
	return w
}

var standingTitles = map[inventory.Standing]string{
	inventory.StandsToTake: "take", inventory.StandsHeld: "on hold", inventory.StandsExpired: "expired",
	inventory.StandsNone: "none left by the book", inventory.StandsBelowZero: "less than none by the book",
}

func nextTable(n *trace.NextLots, list func(*trace.NextLot) bool) *Table {
	t := &Table{Frozen: 3, Columns: []Column{
		{Header: "Place", Kind: KindText},
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Take", Kind: KindInteger},
		{Header: "Standing", Kind: KindText},
		{Header: "Pieces by the book", Kind: KindInteger},
		{Header: "Expires", Kind: KindDate},
		{Header: "First used", Kind: KindDate},
		{Header: "Used up", Kind: KindDate},
		{Header: "Left when it expires", Kind: KindInteger},
		{Header: "Could be used at", Kind: KindText, Width: 40},
		{Header: "Counted", Kind: KindInstant},
		{Header: "Note", Kind: KindText, Width: 50},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range n.Shelves {
			s := &n.Shelves[i]
			for j := range s.Lots {
				if l := &s.Lots[j]; list(l) && !yield(nextRow(s, l, j), nil) {
					return
				}
			}
		}
	}
	return t
}

func nextRow(s *trace.NextShelf, l *trace.NextLot, at int) []Cell {
	name, turn, left, note := s.Name, Blank(), Blank(), s.NotKnown
	if name == "" {
		name = string(s.Product)
	}
	if l.Standing == inventory.StandsToTake {
		turn = Integer(int64(at + 1))
		if left = known(l.Left); l.Left == nil && s.NotKnown == "" {
			left = Mark("no expiry date")
		}
	}
	if l.Hold != nil {
		note = "on hold: " + l.Hold.Reason
	}
	could := make([]string, len(l.Elsewhere))
	for i, c := range l.Elsewhere {
		could[i] = fmt.Sprintf("%s: %d", c.Location, c.Pieces)
	}
	lot := Text(l.Lot.Number)
	if l.Lot.Number == "" {
		lot = NotRecorded()
	}
	return []Cell{
		Text(s.LocationName), Text(name), lot, turn, Text(standingTitles[l.Standing]), Integer(l.Quantity), dateCell(l.Expires),
		DateText(l.FirstUsed), DateText(l.LastUsed), left, Text(strings.Join(could, ", ")), instantCell(l.Counted), Text(note),
	}
}
