package intake

import "lotbook/inventory"

// A FoundRow is what was found of a lot for a count sheet.
type FoundRow struct {
	inventory.SheetLine
	// Empty is a row of the paper on which nobody wrote anything: it says
	// nothing of the lot.
	Empty bool
}

// CountSheet is the paper of a count sheet, filled in. It is no list of the
// unit's: it belongs to one sheet.
var CountSheet = List[FoundRow]{
	Form: Form{Name: "count-sheet", Title: "Count sheet", Columns: []Column{
		{Name: "product", Label: true, What: "The product's id."},
		{Name: "name", What: "The product's name, to read; it is not taken in."},
		{Name: "gtin", Label: true, What: "GTIN of a pack, where there is no product."},
		{Name: "lot", Label: true, What: "The lot number exactly as printed."},
		{Name: "expires", What: "The last day of use, as 2027-03-31."},
		{Name: "counted", What: "Pieces that are there, 0 for none. Empty: nothing is said of the lot here."},
	}},
	read: func(r *reader) FoundRow {
		f := FoundRow{
			SheetLine: inventory.SheetLine{Product: inventory.ProductID(r.text("product")), Lot: r.label("lot"), Expires: r.date("expires"), Pieces: r.number("counted")},
			Empty:     r.text("counted") == "",
		}
		if gtin := r.gtin("gtin"); f.Product == "" && gtin != "" {
			f.Product = inventory.ProvisionalID(gtin)
		}
		if f.Product == "" && !f.Empty {
			r.fail("product", "Give the product's id or the GTIN of its pack.", "there is no product")
		}
		return f
	},
}

// SheetCauses are the causes of a count sheet's differences, a lot each.
var SheetCauses = List[inventory.LotCause]{
	Form: Form{Name: "causes", Title: "Causes", Columns: []Column{
		{Name: "product", Required: true, Label: true, What: "The product's id."},
		{Name: "lot", Label: true, What: "The lot number exactly as printed."},
		{Name: "cause", Required: true, What: "A code of the unit's list of causes."},
		{Name: "note", What: "What else there is to say."},
	}},
	read: func(r *reader) inventory.LotCause {
		return inventory.LotCause{Product: inventory.ProductID(r.text("product")), Lot: r.label("lot"), Cause: r.text("cause"), Note: r.text("note")}
	},
}
