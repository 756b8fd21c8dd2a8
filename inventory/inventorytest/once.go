package inventorytest

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"lotbook/inventory/boltstore"
)

// MakeOnce fills a store in a folder, unless the folder has one already: a large
// journal for measuring. A store whose making was cut off is made anew.
func MakeOnce(dir string, clock func() time.Time, fill func(*boltstore.Store) error) error {
	if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	part := dir + ".part"
	if err := os.RemoveAll(part); err != nil {
		return err
	}
	store, err := boltstore.Open(part, boltstore.Options{Clock: clock, NoSync: true, Bulk: 2000})
	if err != nil {
		return err
	}
	if err := errors.Join(fill(store), store.Close()); err != nil {
		return err
	}
	return os.Rename(part, dir)
}
