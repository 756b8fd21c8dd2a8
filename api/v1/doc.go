// Package v1 is the API under /v1: JSON in, JSON out. openapi.yaml, in the
// folder above, is its description and its source.
//
// # Writing
//
// Every write needs the header Idempotency-Key. What is answered is made from
// the entries that the write appended and from nothing else, so that the same
// request sent again gets the same bytes, with Idempotency-Replayed: true, be
// it years later; another request under the same key is refused. A write may
// say when it happened ("at"); otherwise it happened now.
//
// A scan that needs an answer from a person first (which lot, which of several
// readings) writes nothing and says so; its key is not used up.
//
// A request's JSON is taken strictly: a member that is not known, stands twice,
// is null or is spelt in another case is refused by its name, since each of
// them is a mistake that would otherwise be recorded as something else.
//
// Users and tokens are kept by package account, whose answers can't all be made
// from entries: a token's secret is shown once and left out the second time,
// and that a change of a user was a repetition is not told.
//
// # Reading
//
// Lists come in pages: "limit" lines, and "next" to be sent as "after" for the
// page behind. No snapshot of the store is held while an answer travels.
//
// # Types
//
// The types that JSON is made from and read into are of this package, so that a
// change in the domain can't change the API unseen. The exception is
// scanner.Code, whose JSON form other programs rely on already.
//
// An action has a file: receipt_create.go has the request and the handler of
// POST /v1/receipts. Types that several actions share are in *_wire.go.
package v1
