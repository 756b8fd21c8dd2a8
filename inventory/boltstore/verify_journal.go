package boltstore

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"sync/atomic"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory/journal"
)

// checkJournal checks the chain, the checkpoints and the rows of keys.
func (v *verifier) checkJournal() error {
	n := v.layout.entries
	rebuild := uint64(0)
	if v.derives() {
		rebuild = n
	}
	v.total.Store(v.layout.pages + n + rebuild)
	var keyed atomic.Uint64
	parts := int((n + CheckpointEvery - 1) / CheckpointEvery)
	if err := v.damaged(v.view(func(tx *bolt.Tx) error {
		k, _ := tx.Bucket([]byte(entriesBucket)).Cursor().Last()
		if n > 0 && (len(k) != 8 || binary.BigEndian.Uint64(k) != n) {
			parts = 1 // rows are missing or misplaced: go through all in one
		}
		return nil
	})); err != nil {
		return err
	}
	err := each(parts, func(i int) error {
		p := partCheck{v: v, from: uint64(i) * CheckpointEvery, to: uint64(i+1) * CheckpointEvery}
		if i == parts-1 {
			p.to = ^uint64(0)
		}
		err := v.view(p.run)
		keyed.Add(p.keyed)
		return v.damaged(err)
	})
	if err != nil {
		return err
	}
	return v.damaged(v.view(func(tx *bolt.Tx) error {
		v.report.Entries, v.report.Keys = n, v.layout.keys
		if k, val := tx.Bucket([]byte(entriesBucket)).Cursor().Last(); len(k) == 8 {
			sum, _, _ := splitStored(val)
			v.report.Head = journal.Head{Seq: binary.BigEndian.Uint64(k), Hash: sum}
		}
		v.checkPoints(tx)
		if !v.found.any() && keyed.Load() != v.layout.keys {
			return v.findKey(tx)
		}
		return nil
	}))
}

// A partCheck checks the entries from one checkpoint to the next.
type partCheck struct {
	v        *verifier
	from, to uint64 // from is the entry before the first
	keyed    uint64 // requests with a key that began here
	problems int
}

func (p *partCheck) problem(seq uint64, why string) {
	p.problems++
	p.v.found.add(Problem{Place: InEntry, Seq: seq, Why: why})
}

func (p *partCheck) run(tx *bolt.Tx) error {
	c := tx.Bucket([]byte(entriesBucket)).Cursor()
	keys := tx.Bucket([]byte(keysBucket)).Cursor()
	chain := new(journal.Chain)
	k, val := c.First()
	if p.from > 0 {
		start := seqKey(p.from)
		if k, val = c.Seek(start[:]); !bytes.Equal(k, start[:]) {
			return nil // the part before says that it is missing
		}
		chain = p.resume(p.from, val)
		k, val = c.Next()
	}
	var scratch []byte
	pending := uint64(0)
	for ; k != nil && p.problems < maxProblems; k, val = c.Next() {
		if len(k) != 8 {
			p.problem(chain.Head().Seq+1, fmt.Sprintf("its row's key has %d bytes", len(k)))
			return nil
		}
		seq := binary.BigEndian.Uint64(k)
		if seq > p.to {
			break
		}
		if want := chain.Head().Seq + 1; seq != want {
			p.problem(want, fmt.Sprintf("it is missing: after entry %d comes entry %d", want-1, seq))
			chain = journal.Resume(journal.Head{Seq: seq - 1})
		}
		sum, canonical, ok := splitStored(val)
		if !ok {
			p.problem(seq, "it is cut off")
			chain = journal.Resume(journal.Head{Seq: seq})
			continue
		}
		e, err := chain.Next(canonical, sum)
		if err != nil {
			var wrong *journal.Problem
			if !errors.As(err, &wrong) {
				return err
			}
			p.problem(wrong.Seq, wrong.Why)
			chain = p.resume(seq, val)
			continue
		}
		if scratch, err = p.key(keys, scratch, &e); err != nil {
			return err
		}
		if pending++; pending == 512 {
			if err := p.v.step(pending); err != nil {
				return err
			}
			pending = 0
		}
	}
	if k == nil && p.problems == 0 {
		var wrong *journal.Problem
		if errors.As(chain.End(), &wrong) {
			p.problem(wrong.Seq, wrong.Why)
		}
	}
	return p.v.step(pending)
}

// resume returns the chain after an entry, as much as can be known of it.
func (p *partCheck) resume(seq uint64, stored []byte) *journal.Chain {
	sum, canonical, _ := splitStored(stored)
	if c, err := journal.ResumeAfter(canonical, sum); err == nil && c.Head().Seq == seq {
		return c
	}
	return journal.Resume(journal.Head{Seq: seq, Hash: sum})
}

// key checks the row of a request's key.
func (p *partCheck) key(keys *bolt.Cursor, scratch []byte, e *journal.Entry) ([]byte, error) {
	if e.Key == "" || e.Part != 0 {
		return scratch, nil
	}
	p.keyed++
	scratch = appendKeyKey(scratch[:0], e.Actor, e.Key)
	k, val := keys.Seek(scratch)
	row, ok := parseKeyRow(val)
	why := ""
	switch {
	case !bytes.Equal(k, scratch):
		why = fmt.Sprintf("its row is missing: entry %d used it", e.Seq)
	case !ok || row.seq != e.Seq || row.parts != e.Parts:
		why = fmt.Sprintf("its row should name entry %d and %d in all", e.Seq, e.Parts)
	}
	if why != "" {
		p.problems++
		p.v.found.add(Problem{Place: InKey, Seq: e.Seq, Key: []byte(e.Key), Why: why})
	}
	return scratch, nil
}

// findKey finds the rows of keys that no entry used.
func (v *verifier) findKey(tx *bolt.Tx) error {
	entries := tx.Bucket([]byte(entriesBucket)).Cursor()
	return tx.Bucket([]byte(keysBucket)).ForEach(func(k, val []byte) error {
		row, _ := parseKeyRow(val)
		at := seqKey(row.seq)
		ek, stored := entries.Seek(at[:])
		_, canonical, _ := splitStored(stored)
		e, err := journal.Parse(canonical)
		if !bytes.Equal(ek, at[:]) || err != nil || e.Part != 0 || !bytes.Equal(appendKeyKey(nil, e.Actor, e.Key), k) {
			v.found.add(Problem{Place: InKey, Key: bytes.Clone(k), Why: "no entry used it"})
		}
		return nil
	})
}

// checkPoints compares the checkpoints, those of the file and those given, with
// the entries' hashes.
func (v *verifier) checkPoints(tx *bolt.Tx) {
	entries := tx.Bucket([]byte(entriesBucket)).Cursor()
	hash := func(seq uint64) (sum journal.Hash, ok bool) {
		at := seqKey(seq)
		k, val := entries.Seek(at[:])
		if !bytes.Equal(k, at[:]) {
			return sum, false
		}
		sum, _, ok = splitStored(val)
		return sum, ok
	}
	want := uint64(CheckpointEvery)
	c := tx.Bucket([]byte(checkpointBucket)).Cursor()
	for k, val := c.First(); k != nil; k, val = c.Next() {
		v.report.Checkpoints++
		if len(k) != 8 || binary.BigEndian.Uint64(k) != want {
			v.found.add(Problem{Place: InCheckpoint, Seq: want, Why: "it is missing"})
			return
		}
		if sum, ok := hash(want); !ok || !bytes.Equal(sum[:], val) {
			v.found.add(Problem{Place: InCheckpoint, Seq: want, Why: "it is not the hash of that entry"})
		}
		want += CheckpointEvery
	}
	if want <= v.report.Head.Seq {
		v.found.add(Problem{Place: InCheckpoint, Seq: want, Why: "it is missing"})
	}
	for _, p := range v.o.Checkpoints {
		v.report.Checkpoints++
		sum, ok := hash(p.Seq)
		switch {
		case p == journal.Head{}: // that of the empty journal
		case !ok && p.Seq > v.report.Head.Seq:
			v.found.add(Problem{Place: InEntry, Seq: v.report.Head.Seq + 1, Why: fmt.Sprintf(
				"it is missing: the journal once had %d entries, by a note kept elsewhere", p.Seq)})
		case !ok || sum != p.Hash:
			v.found.add(Problem{Place: InEntry, Seq: p.Seq, Why: "its hash is not the one that was noted elsewhere: " + p.Hash.String()})
		}
	}
}
