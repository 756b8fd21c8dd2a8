package boltstore

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// errDone says that a Reader outlived the function it was given to.
var errDone = errors.New("boltstore: this Reader's time is over: it is valid until the function returns")

// A snapshot is an inventory.Reader on a bbolt transaction.
type snapshot struct {
	tx      *bolt.Tx
	ctx     context.Context
	entries *bolt.Bucket
	cursor  *bolt.Cursor // on entries
	indexes []indexHandle
	head    journal.Head
	hasHead bool
	done    bool
	seek    [8]byte
}

// An indexHandle is an index's bucket, looked up once in a transaction, with
// cursors to use again. They cost more to make than to move.
type indexHandle struct {
	ix   inventory.Index
	b    *bolt.Bucket
	get  *bolt.Cursor
	scan *bolt.Cursor // nil while a scan uses it
}

func (s *snapshot) begin(ctx context.Context, tx *bolt.Tx) {
	clear(s.indexes)
	*s = snapshot{tx: tx, ctx: ctx, indexes: s.indexes[:0]}
	s.entries = tx.Bucket([]byte(entriesBucket))
	s.cursor = s.entries.Cursor()
}

// handle returns an index's handle, nil if it has no bucket. It is good until
// the next call.
func (s *snapshot) handle(ix inventory.Index) *indexHandle {
	for i := range s.indexes {
		if s.indexes[i].ix == ix {
			return &s.indexes[i]
		}
	}
	if b := s.tx.Bucket(indexBucket(ix)); b != nil {
		return s.keep(ix, b)
	}
	return nil
}

func (s *snapshot) keep(ix inventory.Index, b *bolt.Bucket) *indexHandle {
	s.indexes = append(s.indexes, indexHandle{ix: ix, b: b, get: b.Cursor(), scan: b.Cursor()})
	return &s.indexes[len(s.indexes)-1]
}

// Head implements inventory.Reader.
func (s *snapshot) Head() journal.Head {
	if !s.hasHead && !s.done {
		k, v := s.cursor.Last()
		if sum, _, ok := splitStored(v); ok && len(k) == 8 {
			s.head = journal.Head{Seq: binary.BigEndian.Uint64(k), Hash: sum}
		}
		s.hasHead = true
	}
	return s.head
}

// Entry implements inventory.Reader.
func (s *snapshot) Entry(seq uint64) (journal.Entry, error) {
	if s.done {
		return journal.Entry{}, errDone
	}
	canonical, err := s.canonical(seq)
	if err != nil {
		return journal.Entry{}, err
	}
	e, err := journal.Parse(canonical)
	if err != nil {
		return e, fmt.Errorf("%w: entry %d: %w", ErrDamaged, seq, err)
	}
	return e, nil
}

func (s *snapshot) canonical(seq uint64) ([]byte, error) {
	if s.hasHead && seq > s.head.Seq { // a replay shows an entry what came before it
		return nil, fmt.Errorf("boltstore: entry %d: %w", seq, inventory.ErrNoEntry)
	}
	binary.BigEndian.PutUint64(s.seek[:], seq)
	k, v := s.cursor.Seek(s.seek[:])
	if !bytes.Equal(k, s.seek[:]) {
		return nil, fmt.Errorf("boltstore: entry %d: %w", seq, inventory.ErrNoEntry)
	}
	_, canonical, ok := splitStored(v)
	if !ok {
		return nil, fmt.Errorf("%w: entry %d is cut off", ErrDamaged, seq)
	}
	return canonical, nil
}

// Get implements inventory.Reader.
func (s *snapshot) Get(ix inventory.Index, key []byte) ([]byte, error) {
	if s.done {
		return nil, errDone
	}
	h := s.handle(ix)
	if h == nil {
		return nil, nil
	}
	k, v := h.get.Seek(key)
	if k == nil || !bytes.Equal(k, key) {
		return nil, nil
	}
	return present(v), nil
}

// present makes the value of a row that exists not nil: bbolt hands out nil
// for an empty value that was put in the same transaction.
func present(v []byte) []byte {
	if v == nil {
		return []byte{}
	}
	return v
}

// ctxEvery is how many rows of a scan pass between two looks at the context.
const ctxEvery = 1024

func (s *snapshot) ended(n int) error {
	if n%ctxEvery == ctxEvery-1 {
		return s.ctx.Err()
	}
	return nil
}

// Scan implements inventory.Reader.
func (s *snapshot) Scan(ix inventory.Index, prefix, from []byte, fn func(key, value []byte) error) error {
	start := prefix
	if bytes.Compare(from, prefix) > 0 {
		start = from
	}
	return s.scan(ix, prefix, fn, func(c *bolt.Cursor) ([]byte, []byte) {
		return c.Seek(start)
	}, next)
}

// ScanBack implements inventory.Reader.
func (s *snapshot) ScanBack(ix inventory.Index, prefix, from []byte, fn func(key, value []byte) error) error {
	return s.scan(ix, prefix, fn, func(c *bolt.Cursor) ([]byte, []byte) {
		end := after(prefix) // the first key above the prefix's, nil if none
		if from != nil && (end == nil || bytes.Compare(from, end) < 0) {
			if k, v := c.Seek(from); k == nil || bytes.Equal(k, from) {
				return s.lastIfNil(c, k, v)
			}
			return s.prev(c, from)
		}
		if end == nil {
			return s.lastIfNil(c, nil, nil)
		}
		if k, _ := c.Seek(end); k == nil {
			return s.lastIfNil(c, nil, nil)
		}
		return s.prev(c, end)
	}, s.prev)
}

// lastIfNil returns k and v, or the bucket's last row if k is nil.
func (s *snapshot) lastIfNil(c *bolt.Cursor, k, v []byte) ([]byte, []byte) {
	if k != nil {
		return k, v
	}
	if s.tx.Writable() {
		// Cursor.Last runs for ever if the transaction has deleted all rows
		// of several pages.
		if k, _ := c.First(); k == nil {
			return nil, nil
		}
	}
	return c.Last()
}

// prev moves a cursor, which stands on the first row that is not below a key,
// to the row before. In a transaction that deleted every row of a page, Cursor.Prev stops there as if
// it were the beginning; prev goes on.
func (s *snapshot) prev(c *bolt.Cursor, below []byte) (k, v []byte) {
	if k, v = c.Prev(); k != nil || !s.tx.Writable() {
		return k, v
	}
	first, _ := c.Bucket().Cursor().First()
	if first == nil || bytes.Compare(first, below) >= 0 {
		return nil, nil
	}
	for k == nil {
		k, v = c.Prev()
	}
	return k, v
}

func next(c *bolt.Cursor, _ []byte) ([]byte, []byte) { return c.Next() }

// after returns the smallest key above all keys with the prefix, nil if there
// is none.
func after(prefix []byte) []byte {
	for i := len(prefix) - 1; i >= 0; i-- {
		if prefix[i] != 0xff {
			end := bytes.Clone(prefix[:i+1])
			end[i]++
			return end
		}
	}
	return nil
}

func (s *snapshot) scan(
	ix inventory.Index, prefix []byte, fn func(key, value []byte) error,
	first func(*bolt.Cursor) (k, v []byte), next func(c *bolt.Cursor, k []byte) ([]byte, []byte),
) error {
	if s.done {
		return errDone
	}
	h := s.handle(ix)
	if h == nil {
		return nil
	}
	c := h.scan
	if c == nil { // a scan of the same index is under way
		c = h.b.Cursor()
	}
	h.scan = nil
	defer func() {
		if h := s.handle(ix); h != nil {
			h.scan = c
		}
	}()
	n := 0
	for k, v := first(c); k != nil && bytes.HasPrefix(k, prefix); k, v = next(c, k) {
		if err := fn(k, present(v)); err != nil {
			if errors.Is(err, inventory.ErrStop) {
				return nil
			}
			return err
		}
		if err := s.ended(n); err != nil {
			return err
		}
		n++
	}
	return nil
}

// A rowWriter is an inventory.Writer on a bbolt transaction.
type rowWriter struct {
	*snapshot
	arena *arena
	puts  int
}

// setHead makes the journal end at an entry of the transaction.
func (w *rowWriter) setHead(h journal.Head) { w.head, w.hasHead = h, true }

// Put implements inventory.Writer.
func (w *rowWriter) Put(ix inventory.Index, key, value []byte) error {
	if w.done {
		return errDone
	}
	h := w.handle(ix)
	if h == nil {
		if ix == "" {
			return errors.New("boltstore: an index has no name")
		}
		b, err := w.tx.CreateBucketIfNotExists(indexBucket(ix))
		if err != nil {
			return fmt.Errorf("boltstore: index %q: %w", ix, err)
		}
		h = w.keep(ix, b)
	}
	w.puts++
	if err := h.b.Put(key, w.arena.copy(value)); err != nil {
		return fmt.Errorf("boltstore: index %q: %w", ix, err)
	}
	return nil
}

// Delete implements inventory.Writer.
func (w *rowWriter) Delete(ix inventory.Index, key []byte) error {
	if w.done {
		return errDone
	}
	h := w.handle(ix)
	if h == nil {
		return nil
	}
	if err := h.b.Delete(key); err != nil {
		return fmt.Errorf("boltstore: index %q: %w", ix, err)
	}
	return nil
}

// An arena holds the values of a transaction: bbolt keeps what it is given
// until the commit, so each must be a copy, and they all go at the same time.
type arena struct {
	chunk []byte
}

const arenaChunk = 256 << 10

// copy returns a copy of b that is valid until reset.
func (a *arena) copy(b []byte) []byte {
	p := a.room(len(b))
	p = append(p, b...)
	a.took(p)
	return p
}

// room returns an empty slice with a capacity of n at least; took ends its use.
func (a *arena) room(n int) []byte {
	if cap(a.chunk)-len(a.chunk) < n {
		a.chunk = make([]byte, 0, max(n, arenaChunk))
	}
	return a.chunk[len(a.chunk):len(a.chunk):cap(a.chunk)]
}

func (a *arena) took(p []byte) {
	a.chunk = a.chunk[:len(a.chunk)+len(p)]
}

// reset takes all back. The transaction must be over.
func (a *arena) reset() { a.chunk = a.chunk[:0] }
