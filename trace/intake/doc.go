// Package intake reads lists that a unit has already: products, patients, a
// schedule, receipts, as CSV (UTF-8, comma or semicolon) or Excel (the first
// sheet). The first row names the columns; their order does not matter.
//
//	t, err := intake.Open(r, "products.csv")
//	list, problems := intake.Products(t)
//
// A row that can't be taken is a [Problem] with its line and column, and what
// to do. Nothing is recorded here: the caller hands the list to a book, which
// may refuse rows too; [Refused] gives those the same form.
package intake
