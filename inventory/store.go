package inventory

import (
	"context"
	"errors"
	"time"

	"lotbook/inventory/journal"
)

// Errors of a Store. Test for them with errors.Is.
var (
	// ErrNoEntry says that the journal has no entry of that number.
	ErrNoEntry = errors.New("no such entry")
	// ErrKeyReused says that a client key was used before, by the same
	// actor, for a request with another digest.
	ErrKeyReused = errors.New("this key was used for another request")
	// ErrUnknownOutcome says that a commit failed in such a way that it may
	// or may not be durable. Send the same request with the same key again:
	// it answers with the first receipt if it was.
	ErrUnknownOutcome = errors.New("it is not known whether this was written")
	// ErrStoreFailed says that the store takes no more writes since a
	// commit failed; reads go on. Reopen it.
	ErrStoreFailed = errors.New("the store takes no more writes until it is opened again")
	// ErrInUse says that another process has the store open.
	ErrInUse = errors.New("another process has this store open")
	// ErrNewerFormat says that a later version of the program wrote the store.
	ErrNewerFormat = errors.New("the store was written by a newer version")
	// ErrNotAStore says that a file exists and is not a store.
	ErrNotAStore = errors.New("not a store of this program")
	// ErrStop, returned by the function given to Scan, ends the scan
	// without an error.
	ErrStop = errors.New("stop scanning")
)

// An Index names a set of derived rows. Its rows can always be made again from
// the journal.
type Index string

// A Store keeps one unit's journal, the rows derived from it, and a Vault.
//
// Durability: when Append returns without an error, its entries and rows are
// on stable storage, and a crash at any later time MUST NOT lose them. When it
// returns an error that is ErrUnknownOutcome the entries may or may not be
// there; with any other error they MUST NOT be.
//
// Atomicity: all entries of a Request and all rows that they derive become
// visible together or not at all.
//
// Order: appends are serialised. Decide sees everything that was appended
// before it, acknowledged or not yet, and nothing else can come between
// Decide and the writing of what it returned.
//
// Concurrency: all methods are safe for use by many goroutines. Appends that
// wait at the same time SHOULD share one commit; a lone Append MUST NOT wait
// for company.
type Store interface {
	// Append runs req.Decide and writes what it returns.
	//
	// If the actor has used req.Key before, Decide is not run: with the
	// same digest the first receipt is returned, marked Replayed; with
	// another, an error that is ErrKeyReused.
	//
	// An error from Decide is returned as it is and nothing is written. If
	// ctx ends before the request was begun nothing is written and ctx's
	// error is returned; a request that was begun is seen through.
	Append(ctx context.Context, req Request) (Receipt, error)
	// View runs fn on a snapshot. It MUST be short: page through long
	// answers with several Views, and never hold one over the network.
	// Slices that the Reader hands out are valid until fn returns and MUST
	// NOT be changed.
	View(ctx context.Context, fn func(Reader) error) error
	// Unit is the id that was given to this unit's journal when it was
	// made: 8 letters and digits, different in every journal.
	Unit() string
	// Vault holds what must not be in a journal that nobody can edit.
	Vault() Vault
	// Close waits for appends under way, then releases the store.
	Close() error
}

// A Request asks a Store to append entries.
type Request struct {
	// Actor is the id of the user who asks.
	Actor string
	// Key is the client's key for this request, at most 200 bytes, empty
	// for none. Keys of different actors never meet.
	Key string
	// Digest is a sum over the whole request.
	Digest journal.Hash
	// Decide looks at the state and returns what is to be written, in
	// order. It may be run more than once and MUST NOT have effects of its
	// own. Returning no drafts and no error is allowed: nothing is written,
	// the receipt is empty and the key is not kept.
	Decide func(Reader) ([]Draft, error)
}

// A Draft is an entry before it has a place in the journal.
type Draft struct {
	Kind string
	// Happened is when it happened; the zero time means now.
	Happened time.Time
	Body     []byte
	// Rows writes the rows that the entry derives. It sees the rows of the
	// drafts before it. An error undoes the whole request.
	Rows func(Writer, journal.Entry) error
}

// A Receipt says where the entries of a request stand.
type Receipt struct {
	Entries []journal.Entry
	// Replayed is set when the request had been written before.
	Replayed bool
}

// A Reader reads one consistent state.
type Reader interface {
	// Head is the journal's last entry in this state.
	Head() journal.Head
	// Entry returns an entry by its number, or an error that is ErrNoEntry.
	Entry(seq uint64) (journal.Entry, error)
	// Get returns a row's value, nil if there is no such row.
	Get(ix Index, key []byte) ([]byte, error)
	// Scan calls fn for the rows whose keys begin with prefix, in the order
	// of their bytes, from the first key that is not below from (nil: from
	// the start). An error from fn ends it and is returned, but for
	// ErrStop, which ends it without an error. fn MUST NOT write.
	Scan(ix Index, prefix, from []byte, fn func(key, value []byte) error) error
	// ScanBack does the same in descending order, from the last key that is
	// not above from (nil: from the end).
	ScanBack(ix Index, prefix, from []byte, fn func(key, value []byte) error) error
}

// A Writer also writes derived rows.
type Writer interface {
	Reader
	// Put sets a row. The store copies key and value.
	Put(ix Index, key, value []byte) error
	// Delete removes a row; it is no error if there is none.
	Delete(ix Index, key []byte) error
}

// A Vault holds small secrets that come and go: password hashes, sums of
// session and token strings. It is not part of the journal and not hashed.
// Each call is atomic and durable when it returns. Keys and values are at most
// 4096 bytes.
type Vault interface {
	// Get returns a copy of the value, nil if there is none.
	Get(ctx context.Context, key string) ([]byte, error)
	Put(ctx context.Context, key string, value []byte) error
	Delete(ctx context.Context, key string) error
	// Scan calls fn with copies of all pairs whose key begins with prefix,
	// in order.
	Scan(ctx context.Context, prefix string, fn func(key string, value []byte) error) error
}
