package boltstore

import (
	"errors"
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// apply runs one request and notes its answer in m. It returns an error if
// something was written before it failed, so that the transaction can't be
// used any more.
func (s *Store) apply(m *member) error {
	if m.p.vault != nil {
		s.group.dirty = true
		return m.p.vault(s.group.tx.Bucket([]byte(vaultBucket)))
	}
	req := &m.p.req
	if m.err = checkRequest(req); m.err != nil {
		return nil
	}
	if req.Key != "" {
		found := false
		if m.receipt, found, m.err = s.replay(req); found || m.err != nil {
			return nil
		}
	}
	var drafts []inventory.Draft
	m.err = protect(func() (err error) {
		drafts, err = req.Decide(s.group.rows.snapshot)
		return err
	})
	if m.err != nil || len(drafts) == 0 {
		return nil
	}
	if m.err = checkDrafts(drafts); m.err != nil {
		return nil
	}
	return s.put(m, drafts)
}

// replay looks a request's key up. If it was used, found is true and the first
// receipt is returned.
func (s *Store) replay(req *inventory.Request) (receipt inventory.Receipt, found bool, err error) {
	g := &s.group
	g.scratch = appendKeyKey(g.scratch[:0], req.Actor, req.Key)
	v := g.keys.Get(g.scratch)
	if v == nil {
		return receipt, false, nil
	}
	row, ok := parseKeyRow(v)
	if !ok {
		return receipt, false, fmt.Errorf("%w: the row of key %q", ErrDamaged, req.Key)
	}
	receipt.Replayed = true
	receipt.Entries = make([]journal.Entry, row.parts)
	for i := range receipt.Entries {
		canonical, err := g.rows.canonical(row.seq + uint64(i))
		if err != nil {
			return inventory.Receipt{}, false, err
		}
		// A copy: the receipt outlives the transaction.
		e, err := journal.Parse(append([]byte(nil), canonical...))
		if err != nil {
			return inventory.Receipt{}, false, fmt.Errorf("%w: entry %d: %w", ErrDamaged, row.seq+uint64(i), err)
		}
		if e.Digest != req.Digest {
			return inventory.Receipt{}, false, fmt.Errorf("boltstore: key %q: %w (entry %d)", req.Key, inventory.ErrKeyReused, row.seq)
		}
		receipt.Entries[i] = e
	}
	return receipt, true, nil
}

// put writes the entries that drafts become, and their rows.
func (s *Store) put(m *member, drafts []inventory.Draft) error {
	g := &s.group
	req := &m.p.req
	g.dirty = true
	now := instant(s.clock())
	if now.Before(g.recorded) {
		now = g.recorded
	}
	g.recorded = now
	first := g.head.Seq + 1
	entries := make([]journal.Entry, len(drafts))
	for i := range drafts {
		d, e := &drafts[i], &entries[i]
		*e = journal.Entry{
			Seq: g.head.Seq + 1, Recorded: now, Happened: now,
			Actor: req.Actor, Kind: d.Kind, Key: req.Key, Digest: req.Digest,
			Part: i, Parts: len(drafts), Prev: g.head.Hash, Body: d.Body,
		}
		if !d.Happened.IsZero() {
			e.Happened = instant(d.Happened)
		}
		if err := g.putEntry(e); err != nil {
			return err
		}
		if d.Rows != nil {
			if err := protect(func() error { return d.Rows(g.rows, *e) }); err != nil {
				return err
			}
		}
	}
	if req.Key != "" {
		g.scratch = appendKeyKey(g.scratch[:0], req.Actor, req.Key)
		row := g.arena.room(keyRowLen)
		row = keyRow{seq: first, parts: len(drafts)}.append(row)
		g.arena.took(row)
		if err := g.keys.Put(g.scratch, row); err != nil {
			return fmt.Errorf("boltstore: key: %w", err)
		}
	}
	m.receipt.Entries = entries
	return nil
}

// putEntry writes an entry and moves the head to it.
func (g *group) putEntry(e *journal.Entry) error {
	var sum journal.Hash
	b := g.arena.room(len(sum) + e.CanonicalLen())
	b = append(b, sum[:]...)
	b = e.AppendCanonical(b)
	sum = journal.Sum(b[len(sum):])
	copy(b, sum[:])
	g.arena.took(b)
	g.bytes += len(b)
	k := seqKey(e.Seq)
	if err := g.rows.entries.Put(k[:], b); err != nil {
		return fmt.Errorf("boltstore: entry %d: %w", e.Seq, err)
	}
	if e.Seq%CheckpointEvery == 0 {
		if err := g.points.Put(k[:], g.arena.copy(sum[:])); err != nil {
			return fmt.Errorf("boltstore: checkpoint %d: %w", e.Seq, err)
		}
	}
	g.head = journal.Head{Seq: e.Seq, Hash: sum}
	g.rows.setHead(g.head)
	return nil
}

// instant is t as the journal keeps it: UTC, nanoseconds, no monotonic part.
func instant(t time.Time) time.Time { return time.Unix(0, t.UnixNano()).UTC() }

func checkRequest(r *inventory.Request) error {
	switch {
	case r.Decide == nil:
		return errors.New("boltstore: Request.Decide is missing")
	case len(r.Key) > maxKey:
		return fmt.Errorf("boltstore: a key of %d bytes: at most %d", len(r.Key), maxKey)
	case len(r.Actor) > maxActor:
		return fmt.Errorf("boltstore: an actor's id of %d bytes: at most %d", len(r.Actor), maxActor)
	}
	return nil
}

func checkDrafts(drafts []inventory.Draft) error {
	if len(drafts) > maxParts {
		return fmt.Errorf("boltstore: %d entries in one request: at most %d", len(drafts), maxParts)
	}
	for i := range drafts {
		d := &drafts[i]
		switch {
		case len(d.Kind) > maxKind:
			return fmt.Errorf("boltstore: entry %d of the request: a kind of %d bytes: at most %d", i+1, len(d.Kind), maxKind)
		case len(d.Body) > maxBody:
			return fmt.Errorf("boltstore: entry %d of the request: a body of %d bytes: at most %d", i+1, len(d.Body), maxBody)
		case !d.Happened.IsZero() && !journal.Representable(d.Happened):
			return fmt.Errorf("boltstore: entry %d of the request: it can't have happened in the year %d", i+1, d.Happened.Year())
		}
	}
	return nil
}
