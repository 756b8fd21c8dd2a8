// Package intake reads lists that a unit has already, such as products,
// patients or receipts, as CSV (UTF-8, comma or semicolon) or Excel (the first
// sheet). The first row names the columns; their order does not matter.
//
//	t, err := intake.Open(f, "products.csv")
//	problems := intake.Products.Header(t)
//	err = intake.Products.Each(t, func(r *intake.Row[inventory.Product]) error { … })
//
// A row that can't be taken is a [Problem] with its line and column, and what
// to do. Rows are streamed, so that a list may have a million of them. Nothing
// is recorded here: the caller hands the items to a book, which may refuse rows
// too; [Refused] gives those the same form. A row's Key tells whether the same
// file, or one that it continues, was taken up to there before.
package intake
