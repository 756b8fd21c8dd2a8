package boltstore

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync/atomic"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
)

// checkIndexes makes all indexes anew in a file of its own and compares.
func (v *verifier) checkIndexes() error {
	dir := v.o.TempDir
	if dir == "" {
		dir = v.dir
	}
	temp, err := newTemp(dir, "verify")
	if err != nil {
		return err
	}
	defer os.Remove(temp)
	o := boltOptions(Options{LockTimeout: defaultLockTimeout})
	o.NoSync, o.NoGrowSync, o.NoFreelistSync = true, true, true
	o.InitialMmapSize = defaultMmapSize()
	scratch, err := bolt.Open(temp, 0o600, o)
	if err != nil {
		return err
	}
	defer scratch.Close()
	for seq := uint64(1); seq <= v.report.Head.Seq; {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		next := seq
		err := v.view(func(src *bolt.Tx) error {
			var err error
			next, err = v.rebuild(src, scratch, seq)
			return err
		})
		if err := v.damaged(err); err != nil || v.found.any() {
			return err
		}
		seq = next
	}
	return v.compareIndexes(scratch)
}

// rebuild replays one batch of entries, and returns the number of the next.
func (v *verifier) rebuild(src *bolt.Tx, scratch *bolt.DB, seq uint64) (next uint64, err error) {
	next, err = replay(src, scratch, seq, v.o.Project)
	var d *deriveError
	switch {
	case errors.As(err, &d):
		v.found.add(Problem{Place: InEntry, Seq: d.seq, Why: "its rows can't be derived: " + d.err.Error()})
		return 0, nil
	case err != nil:
		return 0, err
	}
	return next, v.step(next - seq)
}

// compareIndexes compares the indexes row by row.
func (v *verifier) compareIndexes(scratch *bolt.DB) error {
	names, err := v.indexNames(scratch)
	if err != nil {
		return err
	}
	var rows atomic.Uint64
	err = each(len(names), func(i int) error {
		return v.damaged(v.view(func(have *bolt.Tx) error {
			return scratch.View(func(want *bolt.Tx) error {
				n, err := v.compare(names[i], have, want)
				rows.Add(n)
				return err
			})
		}))
	})
	v.report.Rebuilt, v.report.Indexes, v.report.Rows = err == nil, len(names), rows.Load()
	return err
}

// indexNames returns the indexes of the store and of the new file.
func (v *verifier) indexNames(scratch *bolt.DB) (names []inventory.Index, err error) {
	add := func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, _ *bolt.Bucket) error {
			ix, ok := strings.CutPrefix(string(name), indexPrefix)
			switch {
			case ok:
				names = append(names, inventory.Index(ix))
			case !slices.Contains([]string{metaBucket, entriesBucket, keysBucket, checkpointBucket, vaultBucket}, ix):
				v.found.add(Problem{Place: InFile, Why: fmt.Sprintf("it has a bucket %q that nothing is known of", ix)})
			}
			return nil
		})
	}
	if err := v.damaged(v.view(add)); err != nil {
		return nil, err
	}
	if err := scratch.View(add); err != nil {
		return nil, err
	}
	slices.Sort(names)
	return slices.Compact(names), nil
}

// compare compares one index with what it should be.
func (v *verifier) compare(ix inventory.Index, have, want *bolt.Tx) (rows uint64, err error) {
	h, w := walkIndex(have, ix), walkIndex(want, ix)
	problems := 0
	for (h.k != nil || w.k != nil) && problems < maxProblems {
		if rows%ctxEvery == ctxEvery-1 && v.ctx.Err() != nil {
			return rows, v.ctx.Err()
		}
		rows++
		key, why := h.k, ""
		switch c := bytes.Compare(h.k, w.k); {
		case w.k == nil || h.k != nil && c < 0:
			why = "it should not be there"
			h.next()
		case h.k == nil || c > 0:
			key, why = w.k, "it is missing"
			w.next()
		default:
			if !bytes.Equal(h.v, w.v) {
				why = fmt.Sprintf("its value is %q and should be %q", cutOff(h.v), cutOff(w.v))
			}
			h.next()
			w.next()
		}
		if why != "" {
			problems++
			v.found.add(Problem{Place: InIndex, Index: ix, Key: bytes.Clone(key), Why: why})
		}
	}
	return rows, nil
}

// cutOff shortens a value for a sentence.
func cutOff(b []byte) []byte { return b[:min(len(b), 64)] }

// A walk goes through an index; k is nil at its end, or if there is none.
type walk struct {
	c    *bolt.Cursor
	k, v []byte
}

func walkIndex(tx *bolt.Tx, ix inventory.Index) *walk {
	b := tx.Bucket(indexBucket(ix))
	if b == nil {
		return &walk{}
	}
	w := &walk{c: b.Cursor()}
	w.k, w.v = w.c.First()
	return w
}

func (w *walk) next() { w.k, w.v = w.c.Next() }
