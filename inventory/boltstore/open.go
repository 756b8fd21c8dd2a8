package boltstore

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Open opens the store in a folder. If there is none it makes one, and the
// folder (mode 0700, the file 0600), unless the options say otherwise.
//
// If the store's derived rows have another form than those of the options, they
// are made again first, from the journal, in a file that takes the old one's
// place when it is whole. That takes room for a second copy meanwhile.
//
// The error is inventory.ErrInUse if another process has the store open,
// inventory.ErrNewerFormat, inventory.ErrNotAStore, ErrDamaged, ErrNotDerived,
// or fs.ErrNotExist; else one of the file system.
func Open(dir string, o Options) (*Store, error) {
	return OpenContext(context.Background(), dir, o)
}

// OpenContext is Open with a context that ends the making of rows, after which
// the store is what it was.
func OpenContext(ctx context.Context, dir string, o Options) (*Store, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, FileName)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if o.ReadOnly || o.MustExist {
			return nil, fmt.Errorf("boltstore: there is no store in %s: %w", dir, fs.ErrNotExist)
		}
		if err := create(dir, o); err != nil {
			return nil, err
		}
	}
	forgetFailedCommit(dir)
	s, err := openStore(dir, o)
	if errors.Is(err, errOtherForm) {
		if err := rebuildRows(ctx, dir, o.Rows, o.Rebuilding); err != nil {
			return nil, err
		}
		s, err = openStore(dir, o)
	}
	if err != nil {
		return nil, err
	}
	if !o.ReadOnly {
		removeLeftOvers(dir)
		s.start()
	}
	return s, nil
}

// openStore opens the store of a folder, but does not start its writer.
func openStore(dir string, o Options) (*Store, error) {
	db, err := openDB(filepath.Join(dir, FileName), o)
	if err != nil {
		return nil, err
	}
	s, err := newStore(db, dir, o)
	if err != nil {
		_ = db.Close()
	}
	return s, err
}

// boltOptions returns the settings that doc.go explains.
func boltOptions(o Options) *bolt.Options {
	return &bolt.Options{
		Timeout:         o.LockTimeout,
		ReadOnly:        o.ReadOnly,
		PageSize:        pageSize,
		InitialMmapSize: o.InitialMmapSize,
		FreelistType:    bolt.FreelistMapType,
		NoFreelistSync:  false,
		NoSync:          o.NoSync,
		NoStatistics:    true,
	}
}

// openDB opens and locks the bbolt file at path. Between opening a file and
// locking it another process may have put a new one in its place (Compact), so
// it looks again.
func openDB(path string, o Options) (*bolt.DB, error) {
	for range 5 {
		db, stale, err := openOnce(path, o)
		if err != nil {
			return nil, openError(path, err)
		}
		if !stale {
			return db, nil
		}
		_ = db.Close()
	}
	return nil, fmt.Errorf("boltstore: %s is replaced again and again: %w", path, inventory.ErrInUse)
}

func openOnce(path string, o Options) (db *bolt.DB, stale bool, err error) {
	var file *os.File
	bo := boltOptions(o)
	bo.OpenFile = func(name string, flag int, mode os.FileMode) (*os.File, error) {
		f, err := os.OpenFile(name, flag, mode)
		file = f
		return f, err
	}
	err = guard(func() error {
		var err error
		db, err = bolt.Open(path, 0o600, bo)
		return err
	})
	if err != nil {
		if file != nil {
			_ = file.Close() // bbolt does not when it panics; twice is harmless
		}
		return nil, false, err
	}
	have, err := file.Stat()
	if err != nil {
		_ = db.Close()
		return nil, false, err
	}
	there, err := os.Stat(path)
	return db, err != nil || !os.SameFile(have, there), nil
}

// openError turns an error of bbolt into one of the contract.
func openError(path string, err error) error {
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return fmt.Errorf("boltstore: %s: %w", path, inventory.ErrInUse)
	case errors.Is(err, bolterrors.ErrInvalid), errors.Is(err, bolterrors.ErrVersionMismatch):
		return fmt.Errorf("boltstore: %s: %w: %v", path, inventory.ErrNotAStore, err)
	case errors.Is(err, bolterrors.ErrChecksum):
		return fmt.Errorf("boltstore: %s: %w: %v", path, ErrDamaged, err)
	}
	return fmt.Errorf("boltstore: open %s: %w", path, err)
}

// create makes a new store under a temporary name and then gives it its own,
// so that a crash leaves either none or a whole one.
func create(dir string, o Options) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("boltstore: %w", err)
	}
	path := filepath.Join(dir, FileName)
	temp := filepath.Join(dir, "new"+tempSuffix)
	co := o
	co.NoSync, co.InitialMmapSize = false, 0
	db, err := openOnceLocked(temp, co)
	if err != nil {
		return openError(temp, err)
	}
	// Whoever else was making one has let go by now. If it finished, that
	// one counts.
	if _, err := os.Stat(path); err == nil {
		return db.Close()
	}
	unit := o.Unit
	if unit == "" {
		unit = newUnit()
	}
	err = db.Update(func(tx *bolt.Tx) error { return initialise(tx, unit, o.Rows.Form) })
	if cerr := db.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("boltstore: create %s: %w", path, err)
	}
	if err := os.Rename(temp, path); err != nil {
		if _, serr := os.Stat(path); serr == nil {
			return nil
		}
		return fmt.Errorf("boltstore: %w", err)
	}
	return syncDir(dir)
}

func openOnceLocked(path string, o Options) (*bolt.DB, error) {
	db, _, err := openOnce(path, o)
	return db, err
}

// initialise writes the rows and buckets that each store has.
func initialise(tx *bolt.Tx, unit string, form inventory.RowForm) error {
	meta := tx.Bucket([]byte(metaBucket))
	if meta != nil {
		return nil // made by another process just before
	}
	meta, err := tx.CreateBucket([]byte(metaBucket))
	if err != nil {
		return err
	}
	for _, b := range []string{entriesBucket, keysBucket, checkpointBucket, vaultBucket} {
		if _, err := tx.CreateBucket([]byte(b)); err != nil {
			return err
		}
	}
	version := binary.BigEndian.AppendUint32(nil, FormatVersion)
	for k, v := range map[string][]byte{
		metaMagic:   []byte(magic),
		metaVersion: version,
		metaUnit:    []byte(unit),
		metaSum:     checksum(version, []byte(unit)),
	} {
		if err := meta.Put([]byte(k), v); err != nil {
			return err
		}
	}
	return writeRowForm(tx, form)
}

// readMeta checks that a bbolt file is a store which this program can read,
// and returns its unit.
func readMeta(tx *bolt.Tx) (unit string, err error) {
	meta := tx.Bucket([]byte(metaBucket))
	if meta == nil || string(meta.Get([]byte(metaMagic))) != magic {
		return "", inventory.ErrNotAStore
	}
	v := meta.Get([]byte(metaVersion))
	if len(v) != 4 {
		return "", fmt.Errorf("%w: its version can't be read", ErrDamaged)
	}
	switch n := binary.BigEndian.Uint32(v); {
	case n > FormatVersion:
		return "", fmt.Errorf("%w: format %d, this program knows %d", inventory.ErrNewerFormat, n, FormatVersion)
	case n < 1:
		return "", fmt.Errorf("%w: there is no format %d", ErrDamaged, n)
	}
	unit = string(meta.Get([]byte(metaUnit)))
	if !validUnit(unit) || string(meta.Get([]byte(metaSum))) != string(checksum(v, []byte(unit))) {
		return "", fmt.Errorf("%w: the unit's id %q can't be right", ErrDamaged, unit)
	}
	for _, b := range []string{entriesBucket, keysBucket, checkpointBucket, vaultBucket} {
		if tx.Bucket([]byte(b)) == nil {
			return "", fmt.Errorf("%w: it has no bucket %q", ErrDamaged, b)
		}
	}
	_, err = readRowForm(tx)
	return unit, err
}

// readLast returns the head of the journal and when its last entry was
// recorded.
func readLast(tx *bolt.Tx) (journal.Head, time.Time, error) {
	k, v := tx.Bucket([]byte(entriesBucket)).Cursor().Last()
	if k == nil {
		return journal.Head{}, time.Time{}, nil
	}
	sum, canonical, ok := splitStored(v)
	if !ok || len(k) != 8 {
		return journal.Head{}, time.Time{}, fmt.Errorf("%w: its last entry can't be read", ErrDamaged)
	}
	e, err := journal.Parse(canonical)
	if err != nil {
		return journal.Head{}, time.Time{}, fmt.Errorf("%w: its last entry: %v", ErrDamaged, err)
	}
	if e.Seq != binary.BigEndian.Uint64(k) {
		return journal.Head{}, time.Time{}, fmt.Errorf("%w: its last entry says that it is entry %d", ErrDamaged, e.Seq)
	}
	return journal.Head{Seq: e.Seq, Hash: sum}, e.Recorded, nil
}
