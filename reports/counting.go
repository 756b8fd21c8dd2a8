package reports

import (
	"fmt"

	"lotbook/inventory"
	"lotbook/trace/intake"
)

// Names are the catalogue's names by product id.
type Names map[inventory.ProductID]string

func (n Names) cell(id inventory.ProductID) Cell {
	if name := n[id]; name != "" {
		return Text(name)
	}
	return Text(string(id))
}

// CountPlan is what is to be counted on a day as a Workbook. It has no
// quantities that the book has: whoever counts by it counts blind.
func CountPlan(p *inventory.CountPlanning, names Names, by Asked) *Workbook {
	w := by.workbook("What to count on " + string(p.Date))
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "The plan", Facts: []Fact{
				{Label: "Day", Value: DateText(p.Date)},
				{Label: "To be counted", Value: Integer(int64(len(p.Due)))},
				{Label: "Later", Value: Integer(int64(len(p.Later)))},
				{Label: "Class A every", Value: Integer(p.Plan.ADays), Note: "days"},
				{Label: "Class B every", Value: Integer(p.Plan.BDays), Note: "days"},
				{Label: "Class C every", Value: Integer(p.Plan.CDays), Note: "days"},
			}},
			{Title: "How to read it", Text: []string{
				fmt.Sprintf("Products are ranked by their value, pieces used and wasted in the last %d days times the price: the first %s of it are class A, up to %s B, the rest C. Those without a price are ranked among each other by pieces.", p.Plan.MovementDays, percent(p.Plan.AShare), percent(p.Plan.BShare)),
				"What was due before and was not counted stands first. A count in between moves the next turn.",
			}},
		}}},
		{Name: "To count", Table: orNone(dueTable(p.Due, names), NoneFound())},
		{Name: "Later", Table: orNone(dueTable(p.Later, names), NoneFound())},
		{Name: "Classes", Table: orNone(classTable(p.Classes, names), NoneFound())},
	}
	return w
}

func percent(thousandths int64) string { return fmt.Sprintf("%g %%", float64(thousandths)/10) }

func dueTable(list []inventory.DueCount, names Names) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Place", Kind: KindText},
		{Header: "Product", Kind: KindText},
		{Header: "Id", Kind: KindText},
		{Header: "Class", Kind: KindText},
		{Header: "Due", Kind: KindDate},
		{Header: "Last counted", Kind: KindInstant},
		{Header: "Every (days)", Kind: KindInteger},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for _, d := range list {
			counted := Mark("never")
			if !d.Counted.IsZero() {
				counted = Instant(d.Counted)
			}
			if !yield([]Cell{Text(string(d.Location)), names.cell(d.Product), Text(string(d.Product)), Text(string(d.Class)), DateText(d.Due), counted, Integer(d.Every)}, nil) {
				return
			}
		}
	}
	return t
}

func classTable(list []inventory.Classified, names Names) *Table {
	t := &Table{Frozen: 1, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Id", Kind: KindText},
		{Header: "Class", Kind: KindText},
		{Header: "Pieces used and wasted", Kind: KindInteger},
		{Header: "Value", Kind: KindDecimal, Places: 2},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for _, c := range list {
			value := Mark("no price")
			if c.Value != 0 {
				value = Decimal(c.Value, 3)
			}
			if !yield([]Cell{names.cell(c.Product), Text(string(c.Product)), Text(string(c.Class)), Integer(c.Moved), value}, nil) {
				return
			}
		}
	}
	return t
}

// CountSheet is the paper of a count sheet: what may lie there, to be filled in
// with what is there. It tells nothing of what the book has.
func CountSheet(lots []inventory.LotFacts, names Names) *Table {
	t := listTable(&intake.CountSheet.Form)
	t.Rows = func(yield func([]Cell, error) bool) {
		for _, l := range lots {
			row := []Cell{Text(string(l.Lot.Product)), Text(names[l.Lot.Product]), Blank(), Text(l.Lot.Number), listDate(l.Expires), Blank()}
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

// CountSheetWorkbook is the paper of a count sheet as a Workbook.
func CountSheetWorkbook(s *inventory.Sheet, lots []inventory.LotFacts, names Names, by Asked) *Workbook {
	w := by.workbook(fmt.Sprintf("Count sheet %s, %s", s.ID, s.Location))
	scope := "Only what is written down is said: of other lots nothing."
	if s.Complete {
		scope = "The count is complete: of what nobody writes down there was none. Write 0, or leave the line empty, where there is none of a lot."
	}
	w.Sheets = []Sheet{
		{Name: intake.CountSheet.Title, Table: CountSheet(lots, names)},
		{Name: "How to fill it in", Summary: &Summary{Sections: []Section{
			{Title: "How to fill it in", Text: []string{
				"Write the pieces that are there into the column counted, and a line of its own for each lot that is not listed. Pieces are counted, not packs.",
				scope,
				"The list names what may lie there, also what was used up lately. It is not what the book has.",
				fmt.Sprintf("Then: lotbook count-sheet enter --data DIR %s FILE", s.ID),
			}},
			columnsSection(&intake.CountSheet.Form),
		}}},
	}
	return w
}
