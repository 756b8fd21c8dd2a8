package boltstore

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// tempSuffix ends the name of every file that a crash may leave behind in the
// data folder. They hold patient data, so the next Open removes them.
const tempSuffix = ".lotbook-tmp"

// failedName is the file that says that a commit failed.
const failedName = "commit-failed"

// removeLeftOvers removes temporary files that nobody has locked. Whoever makes
// one locks it as long as it is in use.
func removeLeftOvers(dir string) {
	names, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, n := range names {
		switch path := filepath.Join(dir, n.Name()); {
		case !strings.HasSuffix(n.Name(), tempSuffix):
		case n.Type().IsRegular():
			removeUnlocked(path)
		case n.IsDir(): // of a Restore; the copy in it is locked while it lasts
			removeUnlocked(filepath.Join(path, FileName))
			removeLeftOvers(path)
			_ = os.Remove(path) // if it is empty
		}
	}
}

// newTemp makes a file of that kind and returns its path. Whoever opens it
// next locks it.
func newTemp(dir, what string) (string, error) {
	f, err := os.CreateTemp(dir, what+"-*"+tempSuffix) // mode 0600
	if err != nil {
		return "", fmt.Errorf("boltstore: %w", err)
	}
	return f.Name(), f.Close()
}

func removeUnlocked(path string) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return
	}
	defer f.Close()
	if tryLock(f) {
		_ = os.Remove(path)
	}
}

// syncDir makes a change of names in a folder durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("boltstore: %w", err)
	}
	defer d.Close()
	if err := d.Sync(); err != nil {
		return fmt.Errorf("boltstore: %w", err)
	}
	return nil
}

// noteFailedCommit leaves a note for the next Open. Best effort: the disk it
// is written to has just failed.
func noteFailedCommit(dir string, cause error) {
	_ = os.WriteFile(filepath.Join(dir, failedName), []byte(cause.Error()+"\n"), 0o600)
}

// forgetFailedCommit, if there is such a note, has the kernel drop what it
// holds of the file: pages whose flush failed are marked clean on Linux and
// would be read back as if they were on the disk.
func forgetFailedCommit(dir string) {
	note := filepath.Join(dir, failedName)
	if _, err := os.Stat(note); err != nil {
		return
	}
	f, err := os.Open(filepath.Join(dir, FileName))
	if err != nil {
		return
	}
	defer f.Close()
	// Pages that another process has mapped would stay, so only without one.
	if tryLock(f) && dropCache(f) == nil {
		_ = os.Remove(note)
	}
}
