package boltstore

import (
	"context"
	"sync"
	"sync/atomic"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
)

// maxWaiting is how many requests may wait for the writer before Append waits
// to join them.
const maxWaiting = 1024

// A pending is a request on its way to the writer and its answer on the way
// back. Exactly one of req.Decide, vault and flush is used.
type pending struct {
	ctx   context.Context
	req   inventory.Request
	vault func(*bolt.Bucket) error
	flush bool // commit what waits
	sync  bool // and flush the disk

	state   atomic.Int32
	receipt inventory.Receipt
	err     error
	done    chan struct{} // holds one
}

// The states of a pending. Whoever moves it from waiting owns it.
const (
	waiting int32 = iota
	begun
	abandoned
)

var pendings = sync.Pool{New: func() any { return &pending{done: make(chan struct{}, 1)} }}

func newPending(ctx context.Context) *pending {
	p := pendings.Get().(*pending)
	p.ctx = ctx
	return p
}

// release gives p back. Nobody else may hold it: not after abandoning it.
func (p *pending) release() {
	*p = pending{done: p.done}
	pendings.Put(p)
}

// begin makes the writer p's owner, unless its caller has gone.
func (p *pending) begin() bool {
	if err := p.ctx.Err(); err != nil {
		if p.state.CompareAndSwap(waiting, begun) {
			p.answer(inventory.Receipt{}, err)
		}
		return false
	}
	return p.state.CompareAndSwap(waiting, begun)
}

// answer ends p.
func (p *pending) answer(r inventory.Receipt, err error) {
	p.receipt, p.err = r, err
	p.done <- struct{}{}
}

// submit hands p to the writer and waits for its answer. With an error p may
// still be in the queue, and is left to it.
func (s *Store) submit(ctx context.Context, p *pending) error {
	if s.readOnly {
		return errReadOnly
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := s.enqueue(ctx, p); err != nil {
		return err
	}
	select {
	case <-p.done:
	case <-ctx.Done():
		if p.state.CompareAndSwap(waiting, abandoned) {
			return ctx.Err()
		}
		<-p.done
	}
	return nil
}

func (s *Store) enqueue(ctx context.Context, p *pending) error {
	s.closing.RLock()
	defer s.closing.RUnlock()
	if s.closed {
		return errClosed
	}
	select {
	case s.queue <- p:
		return nil
	default:
	}
	select {
	case s.queue <- p:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
