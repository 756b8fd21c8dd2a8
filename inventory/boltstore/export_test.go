package boltstore

import (
	"os"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Names that the tests of damage need to reach into a file.
const (
	EntriesBucket    = entriesBucket
	KeysBucket       = keysBucket
	CheckpointBucket = checkpointBucket
	VaultBucket      = vaultBucket
	MetaBucket       = metaBucket
	IndexPrefix      = indexPrefix
	TempSuffix       = tempSuffix
	FailedName       = failedName
)

// SetCommit puts fn around the store's commits. Call it before any append.
func (s *Store) SetCommit(fn func(commit func() error) error) {
	s.commit = func(tx *bolt.Tx) error { return fn(tx.Commit) }
}

// TryLock locks a file as whoever makes a temporary one does.
func TryLock(f *os.File) bool { return tryLock(f) }

// AwaitWaiting returns when n requests wait for the writer.
func (s *Store) AwaitWaiting(n int) {
	for len(s.queue) < n {
		time.Sleep(time.Millisecond)
	}
}

// WriteRowForm is how a test makes rows those of another program.
var WriteRowForm = writeRowForm

// AtStage has fn called at each stage of the making of rows.
func AtStage(fn func(stage string)) { atStage = fn }
