package inventorytest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Memory is a place for stores in memory, each under a name that stands for
// its folder. The stores pass the suite but for durability beyond the Memory.
// The zero Memory is empty and ready for use.
type Memory struct {
	mu    sync.Mutex
	disks map[string]*disk
}

// A disk is what stays when a store in memory is closed.
type disk struct {
	unit  string
	state state
	vault map[string][]byte
	inUse bool
}

// A state is one consistent state. It is never changed, only replaced.
type state struct {
	entries []journal.Entry // in its order; shared by the states before
	head    journal.Head
	indexes map[inventory.Index]*tree
	keys    map[[2]string]int // actor and key to the place of its first entry
}

// Open opens the store of a name.
func (m *Memory) Open(name string, clock func() time.Time) (inventory.Store, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	d := m.disks[name]
	if d == nil {
		d = &disk{unit: fmt.Sprintf("MEM%05d", len(m.disks)), vault: map[string][]byte{}}
		d.state.keys = map[[2]string]int{}
		if m.disks == nil {
			m.disks = map[string]*disk{}
		}
		m.disks[name] = d
	}
	if d.inUse {
		return nil, fmt.Errorf("memory %s: %w", name, inventory.ErrInUse)
	}
	d.inUse = true
	return &memoryStore{place: m, disk: d, clock: clock}, nil
}

// NewMemory returns an empty store in memory.
func NewMemory(clock func() time.Time) inventory.Store {
	s, err := new(Memory).Open("", clock)
	if err != nil {
		panic(err) // nobody else has it
	}
	return s
}

type memoryStore struct {
	place *Memory
	disk  *disk
	clock func() time.Time
	turn  turnstile
	mu    sync.Mutex // over what is in disk, and closed
	done  bool
}

// A turnstile lets one in at a time, and those who wait may give up.
type turnstile struct {
	once sync.Once
	free chan struct{}
}

func (t *turnstile) enter(ctx context.Context) error {
	t.once.Do(func() { t.free = make(chan struct{}, 1) })
	if err := ctx.Err(); err != nil {
		return err
	}
	select {
	case t.free <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (t *turnstile) leave() { <-t.free }

var errMemoryClosed = fmt.Errorf("memory: the store: %w", fs.ErrClosed)

func (s *memoryStore) Unit() string { return s.disk.unit }

func (s *memoryStore) current() (state, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done {
		return state{}, errMemoryClosed
	}
	return s.disk.state, nil
}

func (s *memoryStore) View(ctx context.Context, fn func(inventory.Reader) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	st, err := s.current()
	if err != nil {
		return err
	}
	return fn(&memoryRows{st})
}

func (s *memoryStore) Append(ctx context.Context, req inventory.Request) (inventory.Receipt, error) {
	if len(req.Key) > 200 {
		return inventory.Receipt{}, fmt.Errorf("memory: a key of %d bytes: at most 200", len(req.Key))
	}
	if err := s.turn.enter(ctx); err != nil {
		return inventory.Receipt{}, err
	}
	defer s.turn.leave()
	st, err := s.current()
	if err != nil {
		return inventory.Receipt{}, err
	}
	if first, ok := st.keys[[2]string{req.Actor, req.Key}]; ok && req.Key != "" {
		e := st.entries[first]
		if e.Digest != req.Digest {
			return inventory.Receipt{}, fmt.Errorf("memory: key %q: %w", req.Key, inventory.ErrKeyReused)
		}
		return inventory.Receipt{Entries: slices.Clone(st.entries[first : first+e.Parts]), Replayed: true}, nil
	}
	next := &memoryRows{st}
	next.indexes = cloneMap(st.indexes)
	entries, err := s.write(next, req)
	if err != nil || len(entries) == 0 {
		return inventory.Receipt{}, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if req.Key != "" {
		st.keys[[2]string{req.Actor, req.Key}] = int(entries[0].Seq - 1)
	}
	s.disk.state = next.state
	return inventory.Receipt{Entries: entries}, nil
}

func (s *memoryStore) write(w *memoryRows, req inventory.Request) (entries []journal.Entry, err error) {
	defer func() {
		if r := recover(); r != nil {
			entries, err = nil, fmt.Errorf("memory: panic: %v", r)
		}
	}()
	drafts, err := req.Decide(&memoryRows{w.state})
	if err != nil || len(drafts) == 0 {
		return nil, err
	}
	now := s.clock()
	if !journal.Representable(now) {
		return nil, errors.New("memory: the clock is out of range")
	}
	now = time.Unix(0, now.UnixNano()).UTC()
	if n := len(w.entries); n > 0 && now.Before(w.entries[n-1].Recorded) {
		now = w.entries[n-1].Recorded
	}
	for i, d := range drafts {
		e := journal.Entry{
			Seq: w.head.Seq + 1, Recorded: now, Happened: now, Actor: req.Actor, Kind: d.Kind, Key: req.Key,
			Digest: req.Digest, Part: i, Parts: len(drafts), Prev: w.head.Hash, Body: bytes.Clone(d.Body),
		}
		if !d.Happened.IsZero() {
			if !journal.Representable(d.Happened) {
				return nil, fmt.Errorf("memory: it can't have happened in the year %d", d.Happened.Year())
			}
			e.Happened = time.Unix(0, d.Happened.UnixNano()).UTC()
		}
		w.entries = append(w.entries[:len(w.entries):len(w.entries)], e)
		w.head = journal.Head{Seq: e.Seq, Hash: journal.Sum(e.AppendCanonical(nil))}
		entries = append(entries, e)
		if d.Rows != nil {
			if err := d.Rows(memoryWriter{w}, e); err != nil {
				return nil, err
			}
		}
	}
	return entries, nil
}

func (s *memoryStore) Close() error {
	s.turn.once.Do(func() { s.turn.free = make(chan struct{}, 1) })
	s.turn.free <- struct{}{}
	defer s.turn.leave()
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.done {
		s.done = true
		s.place.mu.Lock()
		s.disk.inUse = false
		s.place.mu.Unlock()
	}
	return nil
}

// memoryRows is a Reader of a state.
type memoryRows struct{ state }

func (r *memoryRows) Head() journal.Head { return r.head }

func (r *memoryRows) Entry(seq uint64) (journal.Entry, error) {
	if seq < 1 || seq > uint64(len(r.entries)) {
		return journal.Entry{}, fmt.Errorf("memory: entry %d: %w", seq, inventory.ErrNoEntry)
	}
	return r.entries[seq-1], nil
}

func (r *memoryRows) Get(ix inventory.Index, key []byte) ([]byte, error) {
	v, _ := r.indexes[ix].get(string(key))
	return v, nil
}

func (r *memoryRows) Scan(ix inventory.Index, prefix, from []byte, fn func(key, value []byte) error) error {
	return stopped(r.indexes[ix].up(max(string(prefix), string(from)), prefixed(prefix, fn)))
}

func (r *memoryRows) ScanBack(ix inventory.Index, prefix, from []byte, fn func(key, value []byte) error) error {
	past := func(k string) bool { // k is above all that is asked for
		return from != nil && k > string(from) || k > string(prefix) && !strings.HasPrefix(k, string(prefix))
	}
	return stopped(r.indexes[ix].down(past, prefixed(prefix, fn)))
}

func prefixed(prefix []byte, fn func(key, value []byte) error) func(string, []byte) error {
	return func(k string, v []byte) error {
		if !strings.HasPrefix(k, string(prefix)) {
			return inventory.ErrStop
		}
		return fn([]byte(k), v)
	}
}

func stopped(err error) error {
	if errors.Is(err, inventory.ErrStop) {
		return nil
	}
	return err
}

type memoryWriter struct{ *memoryRows }

func (w memoryWriter) Put(ix inventory.Index, key, value []byte) error {
	if len(key) == 0 {
		return errors.New("memory: a row's key is empty")
	}
	w.indexes[ix] = w.indexes[ix].put(string(key), append([]byte{}, value...))
	return nil
}

func (w memoryWriter) Delete(ix inventory.Index, key []byte) error {
	w.indexes[ix] = w.indexes[ix].without(string(key))
	return nil
}
