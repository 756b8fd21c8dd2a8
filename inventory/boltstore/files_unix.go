//go:build unix

package boltstore

import (
	"os"
	"syscall"
)

// tryLock locks a file if nobody else has it locked, as bbolt does. The lock
// ends when the file is closed.
func tryLock(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
