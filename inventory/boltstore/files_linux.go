package boltstore

import (
	"os"

	"golang.org/x/sys/unix"
)

// dropCache has the kernel forget the clean pages that it holds of a file.
func dropCache(f *os.File) error {
	return unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED)
}
