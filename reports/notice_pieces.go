package reports

import (
	"fmt"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// The sheets of a notice's workbook on pieces: where they are, and how sure the
// record of them is.

// unitsTable lists the other units that had pieces from here, or gave some.
func unitsTable(a *notice.Answer) *Table {
	t := &Table{Columns: []Column{
		{Header: "Unit", Kind: KindText, Width: 24},
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Went there", Kind: KindInteger},
		{Header: "Came from there", Kind: KindInteger},
		{Header: "First", Kind: KindInstant},
		{Header: "Last", Kind: KindInstant},
		{Header: "Through", Kind: KindText, Width: 20},
	}}
	var rows [][]Cell
	for i := range a.Lots {
		l := &a.Lots[i]
		for _, u := range l.Units {
			rows = append(rows, []Cell{
				textOr(u.Unit), Text(string(l.Product)), lotCell(l.Lot), Integer(u.Lent), Integer(u.Taken),
				Instant(u.First), Instant(u.Last), throughCell(u.Via),
			})
		}
	}
	t.Rows = RowsOf(rows...)
	return t
}

// throughCell names the kit or the batch through which a lot went.
func throughCell(h *trace.Holder) Cell {
	if h == nil {
		return Blank()
	}
	return Text(fmt.Sprintf("%s %s %s", h.Kind, h.Product, h.Lot))
}

// recordTable says how completely each lot's kind was recorded in its time.
func recordTable(a *notice.Answer) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Kind", Kind: KindText},
		{Header: "Treatments in its time", Kind: KindInteger},
		{Header: "All pieces on record", Kind: KindInteger},
		{Header: "Done without", Kind: KindInteger},
		{Header: "Without a record", Kind: KindInteger},
		{Header: "Of these fed from tanks", Kind: KindInteger},
	}}
	var rows [][]Cell
	for i := range a.Lots {
		l := &a.Lots[i]
		for j := range l.Record {
			k := &l.Record[j]
			row := []Cell{Text(string(l.Product)), lotCell(l.Lot), Text(k.Category.Title())}
			if k.Kept {
				row = append(row, Integer(k.Total.Treatments()), Integer(k.Total.Recorded()), Integer(k.Total.DoneWithout), Integer(k.Total.Without), Integer(int64(k.Fed)))
			} else {
				row = append(row, Mark("not kept by lot"), Blank(), Blank(), Blank(), Blank())
			}
			rows = append(rows, row)
		}
	}
	t.Rows = RowsOf(rows...)
	return t
}

// massTable accounts for every piece, by lot and in total.
func massTable(a *notice.Answer) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Lot", Kind: KindText},
		{Header: "Meant", Kind: KindText},
		{Header: "Received", Kind: KindInteger},
		{Header: "Transferred in", Kind: KindInteger},
		{Header: "Used", Kind: KindInteger},
		{Header: "Wasted", Kind: KindInteger},
		{Header: "On hand", Kind: KindInteger},
		{Header: "Held", Kind: KindInteger},
		{Header: "Returned", Kind: KindInteger},
		{Header: "Destroyed", Kind: KindInteger},
		{Header: "Transferred out", Kind: KindInteger},
		{Header: "Unaccounted", Kind: KindInteger},
	}}
	var rows [][]Cell
	any := false
	for i := range a.Lots {
		l := &a.Lots[i]
		if l.Verdict == inventory.NotMeant {
			continue
		}
		any = true
		row := []Cell{Text(string(l.Product)), lotCell(l.Lot), Text(l.Verdict.String())}
		if !l.OnRecord {
			for range massCells(&l.Mass) {
				row = append(row, Mark("none received"))
			}
		} else {
			row = append(row, massCells(&l.Mass)...)
		}
		rows = append(rows, row)
	}
	if any {
		rows = append(rows, append([]Cell{Text("All lots that are meant"), Blank(), Text(inventory.Meant.String())}, massCells(&a.Mass)...))
		if a.InDoubt != (inventory.MassBalance{}) {
			rows = append(rows, append([]Cell{Text("All lots in doubt"), Blank(), Text(inventory.Doubtful.String())}, massCells(&a.InDoubt)...))
		}
	}
	t.Rows = RowsOf(rows...)
	return t
}

func massCells(m *inventory.MassBalance) []Cell {
	var row []Cell
	for _, n := range []int64{m.Received, m.TransferredIn, m.Used, m.Wasted, m.OnHand, m.Held, m.Returned, m.Destroyed, m.TransferredOut, m.Unaccounted} {
		row = append(row, Integer(n))
	}
	return row
}

func noticeDifferences(a *notice.Answer) *Table {
	t := &Table{Columns: append([]Column{{Header: "Product", Kind: KindText}, {Header: "Lot", Kind: KindText}}, differenceColumns()...)}
	var rows [][]Cell
	for i := range a.Lots {
		l := &a.Lots[i]
		for _, d := range l.Differences {
			rows = append(rows, append([]Cell{Text(string(l.Product)), lotCell(l.Lot)}, differenceRow(d)...))
		}
	}
	t.Rows = RowsOf(rows...)
	return t
}

func onOrderTable(a *notice.Answer) *Table {
	t := &Table{Columns: []Column{
		{Header: "Order", Kind: KindText},
		{Header: "Supplier", Kind: KindText, Width: 24},
		{Header: "Product", Kind: KindText},
		{Header: "Pieces awaited", Kind: KindInteger},
		{Header: "Expected", Kind: KindDate},
	}}
	var rows [][]Cell
	for _, o := range a.OnOrder {
		rows = append(rows, []Cell{Text(string(o.Order)), Text(o.Supplier), Text(string(o.Product)), Integer(o.Pieces), dateCell(o.Expected)})
	}
	t.Rows = RowsOf(rows...)
	return t
}
