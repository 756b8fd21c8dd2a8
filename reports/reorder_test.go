package reports_test

import (
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/trace"
)

// rowOf returns a table's only row by header, each cell checked to fit its
// column.
func rowOf(t *testing.T, table *reports.Table) map[string]reports.Cell {
	t.Helper()
	if err := table.Check(); err != nil {
		t.Fatal(err)
	}
	row, n := map[string]reports.Cell{}, 0
	for cells, err := range table.Rows {
		if err != nil {
			t.Fatal(err)
		}
		n++
		if err := table.CheckRow(n, cells); err != nil {
			t.Fatal(err)
		}
		for i, c := range cells {
			row[table.Columns[i].Header] = c
		}
	}
	if n != 1 {
		t.Fatalf("%d rows, want 1", n)
	}
	return row
}

// A figure that isn't known is a mark in the workbook, never a zero; none to
// order is a zero.
func TestReorderMarksWhatIsNotKnown(t *testing.T) {
	by := reports.Asked{By: "A clerk", At: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC), Unit: "Invented", Zone: time.UTC}
	line := trace.ProposalLine{Product: "STR", Name: "Test strip", Category: inventory.TestStrip, NotKnown: []string{"lead time: none"}}
	p := &trace.Proposal{At: by.At, Plan: &trace.Plan{Today: "2026-03-02"}, Record: &trace.Record{Days: 56}, Lines: []trace.ProposalLine{line}}
	wb := reports.Reorder(p, by)
	if err := wb.Check(); err != nil {
		t.Fatal(err)
	}
	row := rowOf(t, wb.Sheets[1].Table)
	for _, h := range []string{"Order (packs)", "Order (pieces)", "Order at once", "Days of cover", "Reorder point", "Safety stock", "Order up to", "Lead time (days)"} {
		if c := row[h]; c.Kind() != reports.KindMark || c.Text() != "not known" {
			t.Errorf("%s: %v %q", h, c.Kind(), c.Text())
		}
	}
	said := wb.Sheets[0].Summary.Sections[1]
	if !said.Caution || !strings.Contains(strings.Join(said.Text, "\n"), "Test strip: lead time: none") {
		t.Errorf("the summary does not say what is not known: %+v", said)
	}
	zero, cover := int64(0), 12.34
	p.Lines[0] = trace.ProposalLine{
		Product: "STR", Name: "Test strip", Category: inventory.TestStrip, Quantity: &zero, Packs: &zero, Safety: &zero, ReorderPoint: &zero, OrderUpTo: &zero,
		CoverDays: &cover, LeadTime: &trace.TakenLeadTime{Days: 7}, Pack: &inventory.Pack{Level: inventory.LevelCase, Holds: 1000},
	}
	row = rowOf(t, reports.Reorder(p, by).Sheets[1].Table)
	if c := row["Order (pieces)"]; c.Kind() != reports.KindInteger || c.Int() != 0 {
		t.Errorf("none to order: %v %d", c.Kind(), c.Int())
	}
	if c := row["Days of cover"]; c.Kind() != reports.KindDecimal || c.Int() != 123 {
		t.Errorf("cover: %v %d", c.Kind(), c.Int())
	}
}

func TestNextLotsMarksWhatIsNotKnown(t *testing.T) {
	by := reports.Asked{By: "A clerk", At: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC), Unit: "Invented", Zone: time.UTC}
	lot := trace.NextLot{ShelfLot: inventory.ShelfLot{Quantity: 4, Standing: inventory.StandsToTake}}
	shelf := trace.NextShelf{Location: "cart-a", LocationName: "Cart A", Product: "gtin:09506000100012", NotKnown: "no planned treatment uses it", Lots: []trace.NextLot{lot}}
	n := &trace.NextLots{At: by.At, Plan: &trace.Plan{Today: "2026-03-02"}, Shelves: []trace.NextShelf{shelf}}
	row := rowOf(t, reports.NextLots(n, by).Sheets[1].Table)
	for h, want := range map[string]string{"Lot": "not recorded", "Expires": "not recorded", "Left when it expires": "not known"} {
		if c := row[h]; c.Kind() != reports.KindMark || c.Text() != want {
			t.Errorf("%s: %v %q, want the mark %q", h, c.Kind(), c.Text(), want)
		}
	}
	if row["Product"].Text() != "gtin:09506000100012" || row["Take"].Int() != 1 || row["Note"].Text() != shelf.NotKnown {
		t.Errorf("row: %v", row)
	}
	// Nothing is left over as far as is known: the sheet says so.
	row = rowOf(t, reports.NextLots(n, by).Sheets[2].Table)
	if c := row["Place"]; c.Kind() != reports.KindMark {
		t.Errorf("an empty sheet: %v", c)
	}
}
