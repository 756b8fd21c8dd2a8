package reports

import (
	"fmt"

	"lotbook/inventory"
)

// refusedSection names what came and went back at once; nothing if there is none.
func refusedSection(list []inventory.RefusedPieces) []Section {
	if len(list) == 0 {
		return nil
	}
	var pieces int64
	rows := make([][]Cell, len(list))
	for i, x := range list {
		pieces += x.Quantity
		rows[i] = []Cell{Instant(x.At), Integer(x.Quantity), Text(x.Cause), Text(x.Supplier), Text(x.Order), Text(x.By), Integer(int64(x.Entry))}
	}
	return []Section{{
		Title: "Refused at delivery, never received",
		Text:  []string{fmt.Sprintf("%s came and went back at once. They are no part of the balance above.", plural(int(pieces), "piece", "pieces"))},
		Table: &Table{Columns: []Column{
			{Header: "Refused", Kind: KindInstant},
			{Header: "Pieces", Kind: KindInteger},
			{Header: "Why", Kind: KindText},
			{Header: "Supplier", Kind: KindText},
			{Header: "Order", Kind: KindText},
			{Header: "By", Kind: KindText},
			{Header: "Entry", Kind: KindInteger},
		}, Rows: RowsOf(rows...)},
	}}
}
