package boltstore

import (
	"context"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// A batch of a replay ends at one of these: they bound its memory.
const (
	replayPuts    = 60_000
	replayEntries = 10_000
)

// A deriveError says that the rows of an entry could not be derived.
type deriveError struct {
	seq uint64
	err error
}

func (e *deriveError) Error() string { return fmt.Sprintf("entry %d: %v", e.seq, e.err) }
func (e *deriveError) Unwrap() error { return e.err }

// replay derives the rows of one batch of the entries of src into dst, from
// the entry seq on, and returns the number of the first entry of the next. The
// error is a deriveError if project fails.
func replay(src *bolt.Tx, dst *bolt.DB, seq uint64, project func(inventory.Writer, journal.Entry) error) (next uint64, err error) {
	tx, err := dst.Begin(true)
	if err != nil {
		return 0, err
	}
	defer func() { _ = tx.Rollback() }()
	entries := src.Bucket([]byte(entriesBucket))
	w := &rowWriter{
		snapshot: &snapshot{tx: tx, ctx: context.Background(), entries: entries, cursor: entries.Cursor()},
		arena:    new(arena),
	}
	c := entries.Cursor()
	first, at := seq, seqKey(seq)
	for k, val := c.Seek(at[:]); k != nil && seq < first+replayEntries && w.puts < replayPuts; k, val = c.Next() {
		sum, canonical, _ := splitStored(val)
		e, err := journal.Parse(canonical)
		if err != nil {
			return 0, fmt.Errorf("%w: entry %d: %w", ErrDamaged, seq, err)
		}
		w.setHead(journal.Head{Seq: e.Seq, Hash: sum})
		if err := protect(func() error { return project(w, e) }); err != nil {
			return 0, &deriveError{e.Seq, err}
		}
		seq = e.Seq + 1
	}
	w.done = true
	return seq, tx.Commit()
}
