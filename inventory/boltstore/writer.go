package boltstore

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// The bounds of one commit: how many requests, and how many bytes of entries,
// share it.
const (
	maxGroup      = 256
	maxGroupBytes = 4 << 20
)

// A group is what shares one commit.
type group struct {
	tx      *bolt.Tx
	rows    *rowWriter
	arena   arena
	handles []indexHandle
	keys    *bolt.Bucket
	points  *bolt.Bucket
	members []member
	// rerun are requests that were undone with another's and run again.
	rerun []*pending
	// head and recorded are those of the journal with this group's entries.
	head     journal.Head
	recorded time.Time
	bytes    int
	dirty    bool
	scratch  []byte
}

// A member is a request of a group with the answer that it gets once the
// commit is durable.
type member struct {
	p       *pending
	receipt inventory.Receipt
	err     error
}

// write is the writer's goroutine: it ends when the queue is closed and empty.
func (s *Store) write() {
	debug.SetPanicOnFault(true)
	ended := false
	defer func() {
		if ended {
			close(s.writer)
			return
		}
		// A function of a caller ended this goroutine (runtime.Goexit, as
		// the FailNow of a test does). Nothing of the group was written.
		s.rollback()
		s.answerAll(errors.New("boltstore: a function given to the store ended its goroutine"))
		go s.write()
	}()
	s.runAgain()
	for p := range s.queue {
		s.serve(p)
	}
	s.finish()
	ended = true
}

// serve takes p and everything else that is waiting, and commits it.
func (s *Store) serve(p *pending) {
	yielded := false
	for {
		s.take(p)
		if len(s.group.members) >= maxGroup || s.group.bytes >= maxGroupBytes {
			break
		}
		var ok bool
		if p, ok = s.next(); ok {
			continue
		}
		if yielded || s.bulk > 0 {
			break
		}
		// Those that the last commit has woken are about to ask again. Let
		// them run: with nobody about this takes no time.
		yielded = true
		runtime.Gosched()
		if p, ok = s.next(); !ok {
			break
		}
	}
	if s.bulk == 0 {
		s.finish()
	}
}

// next returns a waiting request, if there is one.
func (s *Store) next() (*pending, bool) {
	select {
	case p, ok := <-s.queue:
		return p, ok
	default:
		return nil, false
	}
}

// take runs one request in the group's transaction.
func (s *Store) take(p *pending) {
	if !p.begin() {
		return
	}
	if p.flush {
		s.finish()
		var err error
		if p.sync {
			err = s.syncNow()
		}
		p.answer(inventory.Receipt{}, err)
		return
	}
	if err := s.begin(); err != nil {
		p.answer(inventory.Receipt{}, err)
		return
	}
	g := &s.group
	g.members = append(g.members, member{p: p})
	m := &g.members[len(g.members)-1]
	if err := s.apply(m); err != nil {
		s.undo(err)
		return
	}
	if s.bulk > 0 {
		p.answer(m.receipt, m.err)
		m.p = nil
		if len(g.members) >= s.bulk {
			s.finish()
		}
	}
}

// begin opens the group's transaction, if it isn't open.
func (s *Store) begin() error {
	if f := s.failure.Load(); f != nil {
		return fmt.Errorf("boltstore: %w: %v", inventory.ErrStoreFailed, *f)
	}
	g := &s.group
	if g.tx != nil {
		return nil
	}
	tx, err := s.db.Begin(true)
	if err != nil {
		return fmt.Errorf("boltstore: %w", closedError(err))
	}
	g.tx = tx
	snap := &snapshot{indexes: g.handles}
	snap.begin(context.Background(), tx)
	g.arena.reset()
	g.rows = &rowWriter{snapshot: snap, arena: &g.arena}
	g.rows.entries.FillPercent = 1 // its keys only grow
	g.keys = tx.Bucket([]byte(keysBucket))
	g.points = tx.Bucket([]byte(checkpointBucket))
	g.head, g.recorded = s.head, s.recorded
	g.bytes, g.dirty = 0, false
	g.rows.setHead(g.head)
	return nil
}

// undo ends the group after the last of its members failed when it had written
// already: that takes what the others wrote with it, so they are run again,
// each alone.
func (s *Store) undo(err error) {
	s.rollback()
	g := &s.group
	last := g.members[len(g.members)-1]
	others := g.members[:len(g.members)-1]
	if s.bulk > 0 && len(others) > 0 {
		s.fail(fmt.Errorf("%d appends that were not yet committed are lost: %w", len(others), err))
		others = nil // they were answered
	}
	for _, m := range others {
		g.rerun = append(g.rerun, m.p)
	}
	clear(g.members)
	g.members = g.members[:0]
	last.p.answer(inventory.Receipt{}, err)
	s.runAgain()
}

// runAgain commits the requests that were undone, each alone.
func (s *Store) runAgain() {
	g := &s.group
	for len(g.rerun) > 0 {
		p := g.rerun[0]
		g.rerun = g.rerun[1:]
		if err := s.begin(); err != nil {
			p.answer(inventory.Receipt{}, err)
			continue
		}
		g.members = append(g.members, member{p: p})
		if err := s.apply(&g.members[0]); err != nil {
			s.rollback()
			g.members[0].err = err
		}
		s.finish()
	}
	g.rerun = nil
}

// finish commits the group and answers its members.
func (s *Store) finish() {
	g := &s.group
	if g.tx == nil {
		s.answerAll(nil)
		return
	}
	if !g.dirty {
		s.rollback()
		s.answerAll(nil)
		return
	}
	g.rows.done = true
	tx := g.tx
	g.tx = nil
	err := protect(func() error { return s.commit(tx) })
	if err != nil {
		_ = protect(tx.Rollback) // lets go of the lock if the commit has not
		err = fmt.Errorf("boltstore: commit: %w: %w", inventory.ErrUnknownOutcome, err)
		s.fail(err)
		s.answerAll(err)
		return
	}
	s.head, s.recorded = g.head, g.recorded
	s.keepHandles()
	s.answerAll(nil)
}

// fail makes the store take no more writes.
func (s *Store) fail(err error) {
	s.failure.CompareAndSwap(nil, &err)
	noteFailedCommit(s.dir, err)
}

// rollback ends the group's transaction without writing.
func (s *Store) rollback() {
	g := &s.group
	if g.tx == nil {
		return
	}
	g.rows.done = true
	s.keepHandles()
	tx := g.tx
	g.tx = nil
	_ = protect(tx.Rollback)
}

// keepHandles keeps the memory of the index handles for the next group.
func (s *Store) keepHandles() { s.group.handles = s.group.rows.indexes }

// answerAll gives the members their answers, or err if it isn't nil.
func (s *Store) answerAll(err error) {
	g := &s.group
	for i := range g.members {
		m := &g.members[i]
		switch {
		case m.p == nil: // answered before its commit
		case err != nil:
			m.p.answer(inventory.Receipt{}, err)
		default:
			m.p.answer(m.receipt, m.err)
		}
	}
	clear(g.members)
	g.members = g.members[:0]
}

// syncNow flushes what NoSync left out.
func (s *Store) syncNow() error {
	if f := s.failure.Load(); f != nil {
		return fmt.Errorf("boltstore: %w: %v", inventory.ErrStoreFailed, *f)
	}
	if !s.noSync {
		return nil
	}
	if err := s.db.Sync(); err != nil {
		err = fmt.Errorf("boltstore: sync: %w: %w", inventory.ErrUnknownOutcome, err)
		s.fail(err)
		return err
	}
	return nil
}
