package xlsx

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Errors of this package. Test for them with errors.Is.
var (
	// ErrNoTempDir says that Options.TempDir is empty. There is no default:
	// the system's folder is no place for patients' data.
	ErrNoTempDir = errors.New("no folder for temporary files was given")
	// ErrLeftOver says that temporary files with patients' data are still
	// there. The workbook itself may be whole.
	ErrLeftOver = errors.New("temporary files could not be removed")
)

// tempPrefix marks the folders that Sweep may remove.
const tempPrefix = "workbook-"

func makeTempDir(parent string) (string, error) {
	if parent == "" {
		return "", ErrNoTempDir
	}
	if err := os.MkdirAll(parent, 0o700); err != nil {
		return "", fmt.Errorf("folder for temporary files: %w", err)
	}
	// MkdirTemp gives rights to the owner only, and the files that excelize
	// makes inside have mode 0600.
	dir, err := os.MkdirTemp(parent, tempPrefix)
	if err != nil {
		return "", fmt.Errorf("folder for temporary files: %w", err)
	}
	return dir, nil
}

func removeTempDir(dir string) error {
	if err := os.RemoveAll(dir); err != nil {
		return fmt.Errorf("%w: %w", ErrLeftOver, err)
	}
	return nil
}

// Sweep removes what a killed process left in tempDir, the folder of
// [Options], and says how many workbooks' files that were. Call it before the
// first Write, and only by the process that alone uses the data folder: it
// can't tell left-overs from files in use. A folder that isn't there has no
// left-overs. An error is [ErrLeftOver]; the others were removed all the same.
func Sweep(tempDir string) (removed int, err error) {
	entries, err := os.ReadDir(tempDir)
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("%w: %w", ErrLeftOver, err)
	}
	var errs []error
	for _, e := range entries {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), tempPrefix) {
			continue
		}
		if err := removeTempDir(filepath.Join(tempDir, e.Name())); err != nil {
			errs = append(errs, err)
			continue
		}
		removed++
	}
	return removed, errors.Join(errs...)
}
