//go:build !unix

package boltstore

import (
	"os"
	"time"
)

// tryLock reports true: such a system does not let go of a name while its file
// is open, which serves the same purpose.
func tryLock(*os.File) bool { return true }

// lockShared reports true: opening the store afterwards locks it.
func lockShared(*os.File, time.Duration) bool { return true }
