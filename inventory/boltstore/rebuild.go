package boltstore

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// ErrNotDerived says that the derived rows of a store have another form than
// the program's and can't be made again by it: it does not understand an entry
// of the journal. Nothing was changed.
var ErrNotDerived = errors.New("the derived rows can't be made again")

// copyBytes is how many bytes of rows are copied in one transaction.
const copyBytes = 8 << 20

// A rebuild makes the derived rows of a folder's store again. It writes a new
// file, with a copy of everything else and the rows that the entries derive,
// and gives it the old one's name when it is whole and flushed: until then the
// old file is only read, and a crash leaves it and a file that the next Open
// removes.
type rebuild struct {
	ctx  context.Context
	rows inventory.Derivation
	tell func(done, total uint64)

	src, dst    *bolt.DB
	done, total uint64
}

// atStage is called at the stages of a rebuild; tests stop there.
var atStage = func(string) {}

// rebuildRows makes the derived rows of the store in a folder again, unless
// they have the form wanted. It holds the store against everybody else.
func rebuildRows(ctx context.Context, dir string, rows inventory.Derivation, tell func(done, total uint64)) error {
	fail := func(err error) error { return fmt.Errorf("boltstore: rows of %s: %w", dir, err) }
	path := filepath.Join(dir, FileName)
	r := &rebuild{ctx: ctx, rows: rows, tell: tell}
	var err error
	if r.src, err = openDB(path, Options{LockTimeout: defaultLockTimeout, InitialMmapSize: defaultMmapSize()}); err != nil {
		return fail(err)
	}
	defer r.src.Close()
	other := false
	if err := r.read(func(tx *bolt.Tx) (err error) {
		other, err = r.look(tx)
		return err
	}); err != nil || !other {
		return err
	}
	removeLeftOvers(dir)
	temp, err := newTemp(dir, "rows")
	if err != nil {
		return fail(err)
	}
	defer os.Remove(temp)
	if err := r.make(temp); err != nil {
		return fail(err)
	}
	atStage("flushed")
	if err := os.Rename(temp, path); err != nil {
		return fail(err)
	}
	atStage("renamed")
	return syncDir(dir)
}

func (r *rebuild) read(fn func(*bolt.Tx) error) error {
	return guard(func() error { return r.src.View(fn) })
}

// look reads whether the rows have another form, and how much there is to do.
func (r *rebuild) look(tx *bolt.Tx) (other bool, err error) {
	if _, err := readMeta(tx); err != nil {
		return false, err
	}
	form, err := readRowForm(tx)
	if err != nil {
		return false, err
	}
	head, _, err := readLast(tx)
	r.total = 2 * head.Seq // each entry is copied, then replayed
	return form != r.rows.Form, err
}

// make writes the new file.
func (r *rebuild) make(path string) (err error) {
	// The page cache takes all of it: nothing is flushed before the end.
	if r.dst, err = openDB(path, Options{LockTimeout: defaultLockTimeout, NoSync: true, InitialMmapSize: defaultMmapSize()}); err != nil {
		return err
	}
	defer func() {
		if cerr := r.dst.Close(); err == nil {
			err = cerr
		}
	}()
	r.dst.AllocSize = 1 << 20 // so that little is allotted beyond the end
	r.step(0)
	if err := r.copyAll(); err != nil {
		return err
	}
	atStage("copied")
	for seq := uint64(1); seq <= r.total/2; {
		next := seq
		err := r.read(func(tx *bolt.Tx) (err error) {
			next, err = replay(tx, r.dst, seq, r.rows.Project)
			return err
		})
		var d *deriveError
		if errors.As(err, &d) {
			return fmt.Errorf("%w: %w", ErrNotDerived, err)
		}
		if err != nil {
			return err
		}
		if err := r.ctx.Err(); err != nil {
			return err
		}
		r.step(next - seq)
		seq = next
	}
	atStage("derived")
	if err := r.dst.Update(func(tx *bolt.Tx) error { return writeRowForm(tx, r.rows.Form) }); err != nil {
		return err
	}
	return r.dst.Sync()
}

func (r *rebuild) step(n uint64) {
	r.done += n
	if r.tell != nil {
		r.tell(r.done, r.total)
	}
}

// copyAll copies every bucket that is not an index.
func (r *rebuild) copyAll() error {
	var names []string
	if err := r.read(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, _ *bolt.Bucket) error {
			if !strings.HasPrefix(string(name), indexPrefix) {
				names = append(names, string(name))
			}
			return nil
		})
	}); err != nil {
		return err
	}
	chain := new(journal.Chain)
	for _, name := range names {
		check := func(*bolt.Tx, []byte, []byte) error { return nil }
		switch name {
		case entriesBucket:
			check = func(tx *bolt.Tx, k, v []byte) error { return r.checkEntry(chain, tx, k, v) }
		case metaBucket, keysBucket, checkpointBucket, vaultBucket:
		default:
			return fmt.Errorf("%w: it has a bucket %q that nothing is known of", ErrDamaged, name)
		}
		if err := r.copy(name, check); err != nil {
			return err
		}
	}
	if err := chain.End(); err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return nil
}

// checkEntry checks that an entry follows the one before, and its checkpoint.
func (r *rebuild) checkEntry(chain *journal.Chain, tx *bolt.Tx, k, v []byte) error {
	sum, canonical, _ := splitStored(v)
	e, err := chain.Next(canonical, sum)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	if len(k) != 8 || binary.BigEndian.Uint64(k) != e.Seq {
		return fmt.Errorf("%w: entry %d is not where it belongs", ErrDamaged, e.Seq)
	}
	if e.Seq%CheckpointEvery == 0 && !bytes.Equal(tx.Bucket([]byte(checkpointBucket)).Get(k), sum[:]) {
		return fmt.Errorf("%w: the checkpoint of entry %d is not its hash", ErrDamaged, e.Seq)
	}
	r.step(1)
	return nil
}

// copy copies a bucket, in several transactions if it is large.
func (r *rebuild) copy(name string, check func(tx *bolt.Tx, k, v []byte) error) error {
	var from []byte
	for more := true; more; {
		if err := r.ctx.Err(); err != nil {
			return err
		}
		err := r.read(func(src *bolt.Tx) error {
			return r.dst.Update(func(dst *bolt.Tx) error {
				b, err := dst.CreateBucketIfNotExists([]byte(name))
				if err != nil {
					return err
				}
				b.FillPercent = 1 // the rows come in the order of their keys
				c, n := src.Bucket([]byte(name)).Cursor(), 0
				k, v := c.Seek(from)
				for ; k != nil && n < copyBytes; k, v = c.Next() {
					if err := check(src, k, v); err != nil {
						return err
					}
					if err := b.Put(k, v); err != nil {
						return err
					}
					n += len(k) + len(v)
				}
				from, more = bytes.Clone(k), k != nil
				return nil
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}
