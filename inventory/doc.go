// Package inventory is a unit's stock: what a product is, where its lots lie,
// how many pieces, and why.
//
// Everything is an [Event] in one append-only journal, kept by a [Store]. A
// balance, the list of a lot's movements, a hold: all are rows derived from
// entries in the same transaction that appends them, and all can be made again
// from the journal alone. A [Book] is the way to write and read:
//
//	book := inventory.NewBook(store, inventory.NewRegistry(inventory.Events()), time.Now)
//	_, err := book.Receive(ctx, call, inventory.Received{ … })
//
// # Rules
//
// What happened can be written down. A receipt of an expired lot, a move of
// more than the book says is there, a lot that nobody received: each is
// recorded and answered with a [Finding]. Only what can't be a record at all
// (no product, a location that does not exist, a count below zero) is refused,
// with a [Refusal] that says what to do.
//
// Nothing is edited. A [Corrected] entry names the entry that it strikes out;
// both stay.
//
// A quantity is an integer in the product's base unit, usually pieces. A date
// is a [Date], an instant is UTC.
//
// # Late entries
//
// An entry may be recorded long after it happened. Balances are therefore
// sums over what happened, with the last count as their anchor, and not over
// the order of recording: see balance.go.
package inventory
