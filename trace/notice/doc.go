// Package notice is the quality officer's work on a field notice: what a maker
// or an authority wrote, which lots of this unit it means, who met them, what
// was done about it, and what was answered.
//
// A notice has versions, since notices grow: the first names two lots, the next
// one seven more. Each is kept as it was written. The scope is what all of them
// mean together, unless the issuer says that a version stands alone. A scope is
// judged against the lots on record by inventory.Scope: what is plain is meant,
// and what only one way of reading means is in doubt, until a person decides.
//
// Confirming a scope holds what it means, what lies here and what comes later
// (inventory.ScopeHeld). What is in doubt is held too: releasing it is a
// decision that somebody makes, using it is not.
//
// An Answer asks trace for each of the lots and puts what comes back together:
// a treatment stands in it once, under its surest grade, with all the lots that
// it met or may have met. It is plain data: it can be kept, and what is drawn
// from it later is what was drawn the first time.
package notice
