package boltstore

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// errReadOnly says that a store was opened for reading.
var errReadOnly = errors.New("boltstore: the store is open for reading only")

// A Store is an inventory.Store in one bbolt file.
type Store struct {
	db       *bolt.DB
	dir      string
	unit     string
	clock    func() time.Time
	readOnly bool
	noSync   bool
	bulk     int

	// closing is held for reading while a request is handed to the writer,
	// and for writing while Close shuts that door.
	closing sync.RWMutex
	closed  bool
	queue   chan *pending
	writer  chan struct{} // closed when the writer has ended

	// failure is set by the first commit that fails.
	failure atomic.Pointer[error]

	// What follows belongs to the writer's goroutine.
	head     journal.Head // of the last commit
	recorded time.Time    // of the last entry
	group    group
	// commit ends a transaction; tests put a failing one in its place.
	commit func(*bolt.Tx) error
}

var _ inventory.Store = (*Store)(nil)

// newStore reads what a Store keeps in memory.
func newStore(db *bolt.DB, dir string, o Options) (*Store, error) {
	s := &Store{
		db: db, dir: dir, clock: o.Clock, readOnly: o.ReadOnly, noSync: o.NoSync, bulk: o.Bulk,
		queue: make(chan *pending, maxWaiting), writer: make(chan struct{}),
		commit: (*bolt.Tx).Commit,
	}
	err := guard(func() error {
		return db.View(func(tx *bolt.Tx) (err error) {
			if s.unit, err = readMeta(tx); err != nil {
				return err
			}
			if err := checkRowForm(tx, o.Rows); err != nil {
				return err
			}
			s.head, s.recorded, err = readLast(tx)
			return err
		})
	})
	if err != nil {
		return nil, fmt.Errorf("boltstore: %s: %w", db.Path(), err)
	}
	return s, nil
}

func (s *Store) start() { go s.write() }

// Unit implements inventory.Store.
func (s *Store) Unit() string { return s.unit }

// View implements inventory.Store. A scan in fn ends with ctx's error when ctx
// ends. Don't call View in fn.
func (s *Store) View(ctx context.Context, fn func(inventory.Reader) error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	if s.bulk > 0 {
		if err := s.flush(false); err != nil {
			return err
		}
	}
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if r := recover(); r != nil {
			if err = asFault(r); err == nil {
				panic(r) // fn's own
			}
		}
	}()
	err = s.db.View(func(tx *bolt.Tx) error {
		snap := new(snapshot)
		snap.begin(ctx, tx)
		defer func() { snap.done = true }()
		return fn(snap)
	})
	return closedError(err)
}

// Append implements inventory.Store.
func (s *Store) Append(ctx context.Context, req inventory.Request) (inventory.Receipt, error) {
	p := newPending(ctx)
	p.req = req
	if err := s.submit(ctx, p); err != nil {
		return inventory.Receipt{}, err
	}
	receipt, err := p.receipt, p.err
	p.release()
	return receipt, err
}

// Sync makes everything that was appended so far durable. It matters with
// Options.NoSync only.
func (s *Store) Sync() error {
	if s.readOnly {
		return nil
	}
	return s.flush(true)
}

// flush commits what Options.Bulk has kept waiting.
func (s *Store) flush(sync bool) error {
	p := newPending(context.Background())
	p.flush, p.sync = true, sync
	if err := s.submit(context.Background(), p); err != nil {
		return err
	}
	err := p.err
	p.release()
	return err
}

// Close implements inventory.Store: it ends when the appends under way and the
// views under way have.
func (s *Store) Close() error {
	s.closing.Lock()
	if s.closed {
		s.closing.Unlock()
		return nil
	}
	s.closed = true
	close(s.queue)
	s.closing.Unlock()
	var err error
	if !s.readOnly {
		<-s.writer
		if s.noSync && s.failure.Load() == nil {
			err = s.db.Sync()
		}
	}
	if cerr := s.db.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("boltstore: close: %w", err)
	}
	return nil
}

// closedError gives the use of a closed store its error, fs.ErrClosed.
func closedError(err error) error {
	if errors.Is(err, bolterrors.ErrDatabaseNotOpen) {
		return errClosed
	}
	return err
}

var errClosed = fmt.Errorf("boltstore: the store: %w", fs.ErrClosed)
