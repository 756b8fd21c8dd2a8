//go:build unix

package boltstore

import (
	"os"
	"syscall"
	"time"
)

// tryLock locks a file if nobody else has it locked, as bbolt does. The lock
// ends when the file is closed.
func tryLock(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}

// lockShared locks a file for reading as bbolt does, beside others who read. It
// reports false if somebody writes for so long.
func lockShared(f *os.File, timeout time.Duration) bool {
	const pause = 10 * time.Millisecond
	for waited := time.Duration(0); ; waited += pause {
		if syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB) == nil {
			return true
		}
		if waited >= timeout {
			return false
		}
		time.Sleep(pause)
	}
}
