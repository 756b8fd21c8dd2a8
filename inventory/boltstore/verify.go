package boltstore

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// VerifyOptions are the settings of Verify. All may be left zero.
type VerifyOptions struct {
	// Project writes the rows that an entry derives: what the Rows of its
	// draft did. Without it the indexes are not compared. It is called for
	// each entry in order, from one goroutine.
	Project func(inventory.Writer, journal.Entry) error
	// Form is the form of the rows that Project writes. The indexes of a
	// store whose rows have another are not compared: the Report says so. If
	// it is 0 they are compared whatever form they have.
	Form inventory.RowForm
	// Checkpoints are heads that were noted elsewhere. They tell when
	// entries were cut off the end of the journal.
	Checkpoints []journal.Checkpoint
	// Progress is told now and then how far it is, in steps of no unit, by
	// one goroutine at a time.
	Progress func(done, total uint64)
	// Rebuilding is what Options.Rebuilding is; only a Restore uses it.
	Rebuilding func(done, total uint64)
	// TempDir is where the indexes are made anew; empty for the folder
	// itself. The file holds what the indexes hold, and is as large.
	TempDir string
	// Clock measures the Duration; without it that stays zero.
	Clock func() time.Time
}

// Verify checks the store in a folder, which nobody may have open for writing:
//
//   - each page of the file, by its own reading of them and not through the
//     file's mapping, so that no damage can make it fault or run for ever;
//   - the hash chain over all entries, in several parts at a time;
//   - the checkpoints, those of the file and those given;
//   - the rows of the clients' keys, and the vault's checksums;
//   - each row of each index, against indexes made anew from the entries.
//
// What is wrong with the store is in the Report; the error says why it could
// not be checked: inventory.ErrInUse, inventory.ErrNewerFormat,
// inventory.ErrNotAStore, fs.ErrNotExist, ctx's, or one of the file system. If
// pages are wrong nothing further is looked at; if the journal is, the indexes
// are not.
//
// It needs memory for some ten thousand rows and two bits a page, whatever the
// size of the journal.
func Verify(ctx context.Context, dir string, o VerifyOptions) (Report, error) {
	start := now(o.Clock)
	v := &verifier{ctx: ctx, dir: dir, o: o}
	err := v.run()
	v.found.cut()
	v.report.Problems, v.report.More = v.found.list, v.found.more
	v.report.Duration = now(o.Clock).Sub(start)
	if err != nil {
		return v.report, fmt.Errorf("boltstore: verify %s: %w", dir, err)
	}
	return v.report, nil
}

func now(clock func() time.Time) time.Time {
	if clock == nil {
		return time.Time{}
	}
	return clock()
}

// A verifier is one Verify under way.
type verifier struct {
	ctx    context.Context
	dir    string
	o      VerifyOptions
	report Report
	found  findings
	db     *bolt.DB
	layout fileLayout

	done, total atomic.Uint64
	telling     sync.Mutex
	told        uint64
}

func (v *verifier) run() error {
	path := filepath.Join(v.dir, FileName)
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if !lockShared(f, defaultLockTimeout) {
		return inventory.ErrInUse
	}
	removeLeftOvers(v.dir)
	if err := v.checkPages(f); err != nil || v.found.any() {
		return err
	}
	v.db, err = openDB(path, Options{ReadOnly: true, LockTimeout: defaultLockTimeout, InitialMmapSize: 0})
	if err != nil {
		return v.damaged(err)
	}
	defer v.db.Close()
	if err := v.damaged(v.view(v.checkMeta)); err != nil || v.found.any() {
		return err
	}
	if err := v.checkJournal(); err != nil {
		return err
	}
	if err := v.damaged(v.view(v.checkVault)); err != nil {
		return err
	}
	if !v.derives() || v.found.any() {
		return nil
	}
	return v.checkIndexes()
}

// view runs fn on the file, safe from faults.
func (v *verifier) view(fn func(*bolt.Tx) error) error {
	return guard(func() error { return v.db.View(fn) })
}

// damaged turns an error that is ErrDamaged into a problem of the file.
func (v *verifier) damaged(err error) error {
	if errors.Is(err, ErrDamaged) {
		v.found.add(Problem{Place: InFile, Why: err.Error()})
		return nil
	}
	return err
}

// step says that n further steps are done.
func (v *verifier) step(n uint64) error {
	done := v.done.Add(n)
	if v.o.Progress != nil {
		v.telling.Lock()
		if total := v.total.Load(); done > v.told+total/200 || done == total {
			v.told = done
			v.o.Progress(done, total)
		}
		v.telling.Unlock()
	}
	return v.ctx.Err()
}

func (v *verifier) checkMeta(tx *bolt.Tx) (err error) {
	if v.report.Unit, err = readMeta(tx); err != nil {
		return err
	}
	v.report.RowForm, err = readRowForm(tx)
	v.report.OtherForm = err == nil && v.o.Form != 0 && v.report.RowForm != v.o.Form
	return err
}

// derives reports whether the indexes are to be compared.
func (v *verifier) derives() bool { return v.o.Project != nil && !v.report.OtherForm }

func (v *verifier) checkVault(tx *bolt.Tx) error {
	return tx.Bucket([]byte(vaultBucket)).ForEach(func(k, stored []byte) error {
		v.report.Secrets++
		if _, ok := openSecret(k, stored); !ok {
			v.found.add(Problem{Place: InVault, Why: fmt.Sprintf("the checksum of row %d is wrong", v.report.Secrets)})
		}
		return nil
	})
}

// each runs fn for 0 to n-1 on as many goroutines as there are processors, in
// order of their beginning, until one returns an error.
func each(n int, fn func(i int) error) error {
	var wg sync.WaitGroup
	var next atomic.Int64
	var stop atomic.Bool
	errs := make([]error, max(n, 0))
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for !stop.Load() {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				if errs[i] = fn(i); errs[i] != nil {
					stop.Store(true)
				}
			}
		})
	}
	wg.Wait()
	return errors.Join(errs...)
}

// readThrough reads a file from end to end, so that the kernel has it: bbolt
// maps it with advice for random access, and a million entries take 30 s page
// by page from a cold disk instead of 2.
func readThrough(ctx context.Context, f *os.File, size int64) error {
	buf := make([]byte, 1<<20)
	for off := int64(0); off < size; {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := f.ReadAt(buf, off)
		off += int64(n)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			var pe *fs.PathError
			if errors.As(err, &pe) {
				err = pe.Err
			}
			return fmt.Errorf("%w: byte %d and on can't be read: %w", ErrDamaged, off, err)
		}
	}
	return nil
}
