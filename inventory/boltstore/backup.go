package boltstore

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Backup writes a copy of the whole store to w as it is at this moment, while
// appends go on. The copy is a store's file, and Restore makes a store of it.
// It holds pages back until it ends, so the file grows meanwhile: write to a
// local file, never straight to a network.
func (s *Store) Backup(ctx context.Context, w io.Writer) (c Copied, err error) {
	if err := ctx.Err(); err != nil {
		return c, err
	}
	if s.bulk > 0 {
		if err := s.flush(false); err != nil {
			return c, err
		}
	}
	err = guard(func() error {
		return s.db.View(func(tx *bolt.Tx) (err error) {
			if c.Head, _, err = readLast(tx); err != nil {
				return err
			}
			c.Bytes, err = tx.WriteTo(&ctxWriter{ctx, w})
			return err
		})
	})
	if err != nil {
		return c, fmt.Errorf("boltstore: backup: %w", closedError(err))
	}
	return c, nil
}

// A Copied is what Backup wrote: how many bytes, and the head of the journal in
// them.
type Copied struct {
	Bytes int64
	Head  journal.Head
}

// A ctxWriter ends with its context.
type ctxWriter struct {
	ctx context.Context
	w   io.Writer
}

func (w *ctxWriter) Write(b []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.w.Write(b)
}

// Restore makes a store in a folder out of what Backup wrote. The folder may
// exist but must not have a store: the error then is fs.ErrExist. The copy is
// verified first, with the options given, and put in its place only if nothing
// is wrong with it; else the error is the report's, which is ErrDamaged. If its
// derived rows have another form than the one given, they are made again in the
// copy, and it is verified once more; the error can then be ErrNotDerived.
func Restore(ctx context.Context, r io.Reader, dir string, o VerifyOptions) (Report, error) {
	path := filepath.Join(dir, FileName)
	if _, err := os.Lstat(path); err == nil {
		return Report{}, fmt.Errorf("boltstore: restore: there is a store in %s already: %w", dir, fs.ErrExist)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return Report{}, fmt.Errorf("boltstore: restore: %w", err)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return Report{}, fmt.Errorf("boltstore: restore: %w", err)
	}
	// Verify wants a folder; one of its own keeps the copy out of the way of
	// anyone who opens a store here meanwhile.
	temp, err := os.MkdirTemp(dir, "restore-*"+tempSuffix)
	if err != nil {
		return Report{}, fmt.Errorf("boltstore: restore: %w", err)
	}
	defer os.RemoveAll(temp)
	copied := filepath.Join(temp, FileName)
	if err := writeFile(ctx, copied, r); err != nil {
		return Report{}, fmt.Errorf("boltstore: restore: %w", err)
	}
	report, err := verifySound(ctx, temp, o)
	if err == nil && report.OtherForm && o.Project != nil {
		if err := rebuildRows(ctx, temp, inventory.Derivation{Form: o.Form, Project: o.Project}, o.Rebuilding); err != nil {
			return report, err
		}
		report, err = verifySound(ctx, temp, o)
	}
	if err != nil {
		return report, err
	}
	// A link, unlike a renaming, does not replace what came there meanwhile;
	// some file systems know none.
	if err := os.Link(copied, path); errors.Is(err, fs.ErrExist) {
		return report, fmt.Errorf("boltstore: restore: %w", err)
	} else if err != nil {
		if err := os.Rename(copied, path); err != nil {
			return report, fmt.Errorf("boltstore: restore: %w", err)
		}
	}
	return report, syncDir(dir)
}

// verifySound is Verify with the first problem as an error.
func verifySound(ctx context.Context, dir string, o VerifyOptions) (Report, error) {
	report, err := Verify(ctx, dir, o)
	if err == nil && report.Err() != nil {
		err = fmt.Errorf("boltstore: restore: %w", report.Err())
	}
	return report, err
}

// writeFile writes a new file and flushes it.
func writeFile(ctx context.Context, path string, r io.Reader) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if cerr := f.Close(); err == nil {
			err = cerr
		}
	}()
	if !tryLock(f) { // so that nobody takes it for left over
		return inventory.ErrInUse
	}
	if _, err := io.Copy(&ctxWriter{ctx, f}, r); err != nil {
		return err
	}
	return f.Sync()
}

// Sizes are a file's bytes before and after.
type Sizes struct {
	Before, After int64
}

// compactBytes is how much Compact writes in one transaction.
const compactBytes = 16 << 20

// Compact writes the store of a folder, which nobody may have open, anew
// without the room that is free in it, and puts that in the old one's place.
// It needs as much room again while it lasts.
func Compact(ctx context.Context, dir string) (sizes Sizes, err error) {
	fail := func(err error) (Sizes, error) {
		return sizes, fmt.Errorf("boltstore: compact %s: %w", dir, err)
	}
	path := filepath.Join(dir, FileName)
	if sizes.Before, err = size(path); err != nil {
		return fail(err)
	}
	// Open for writing, to keep everybody else out.
	src, err := openDB(path, Options{LockTimeout: defaultLockTimeout})
	if err != nil {
		return fail(err)
	}
	defer src.Close()
	removeLeftOvers(dir)
	err = guard(func() error {
		return src.View(func(tx *bolt.Tx) error {
			_, err := readMeta(tx)
			return err
		})
	})
	if err != nil {
		return fail(err)
	}
	temp, err := newTemp(dir, "compact")
	if err != nil {
		return fail(err)
	}
	defer os.Remove(temp)
	dst, err := openDB(temp, Options{LockTimeout: defaultLockTimeout, NoSync: true})
	if err != nil {
		return fail(err)
	}
	dst.AllocSize = 1 << 20 // so that little is allotted beyond the end
	err = guard(func() error { return bolt.Compact(dst, src, compactBytes) })
	if err == nil {
		err = dst.Sync()
	}
	if cerr := dst.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = ctx.Err()
	}
	if err == nil {
		err = sameStore(src, temp)
	}
	if err != nil {
		return fail(err)
	}
	if sizes.After, err = size(temp); err != nil {
		return fail(err)
	}
	if err := os.Rename(temp, path); err != nil {
		return fail(err)
	}
	return sizes, syncDir(dir)
}

func size(path string) (int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

// sameStore reads a copy of a store back and compares all rows.
func sameStore(src *bolt.DB, copied string) error {
	dst, err := openDB(copied, Options{ReadOnly: true, LockTimeout: defaultLockTimeout})
	if err != nil {
		return err
	}
	defer dst.Close()
	return guard(func() error {
		return src.View(func(a *bolt.Tx) error {
			return dst.View(func(b *bolt.Tx) error {
				return a.ForEach(func(name []byte, have *bolt.Bucket) error {
					copied := b.Bucket(name)
					if copied == nil {
						return fmt.Errorf("%w: the copy has no bucket %q", ErrDamaged, name)
					}
					return sameRows(string(name), have.Cursor(), copied.Cursor())
				})
			})
		})
	})
}

func sameRows(name string, a, b *bolt.Cursor) error {
	ak, av := a.First()
	bk, bv := b.First()
	for ak != nil || bk != nil {
		if string(ak) != string(bk) || string(av) != string(bv) {
			return fmt.Errorf("%w: the copy differs in bucket %q at row %q", ErrDamaged, name, ak)
		}
		ak, av = a.Next()
		bk, bv = b.Next()
	}
	return nil
}
