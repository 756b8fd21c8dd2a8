package boltstore

import (
	"crypto/rand"
	"errors"
	"fmt"
	"strconv"
	"time"

	"lotbook/inventory"
)

// ErrDamaged says that the file can't be read as what it was written as. A
// [Verify] says where.
var ErrDamaged = errors.New("the store's file is damaged")

// Options are the settings of Open. All but Clock may be left zero.
type Options struct {
	// Clock says what time it is, in any zone. It is asked once for each
	// request that writes. If it goes back, Recorded stays where it was.
	Clock func() time.Time
	// Unit is the id that a new store gets: 8 capital letters or digits.
	// Empty for one from crypto/rand. An existing store keeps its own.
	Unit string
	// MustExist makes Open refuse, with an error that is fs.ErrNotExist, a
	// folder without a store, instead of making one.
	MustExist bool
	// ReadOnly opens an existing store for reading. Several processes may do
	// so at a time, but none while another has it open for writing.
	ReadOnly bool
	// Rows says how the derived rows follow from the entries. If the store's
	// rows have another form, Open makes them again first, also with
	// ReadOnly, for which nobody else may have the store open then. Without a
	// Project nothing is looked at, and a new store's rows have form 0: for
	// scratch stores and tests, which one program writes and reads.
	Rows inventory.Derivation
	// Rebuilding is told, while the rows are made again, how far that is, in
	// steps of no unit; at the beginning that none is done.
	Rebuilding func(done, total uint64)
	// LockTimeout is how long to wait for another process to let go of the
	// store; zero means a quarter of a second.
	LockTimeout time.Duration
	// InitialMmapSize is how many bytes of address space are reserved for
	// the file, not memory and not disk. Zero means 16 GiB, or 256 MiB on a
	// machine with 32-bit addresses. A file that outgrows it stalls all
	// readers and the writer once for each further GiB.
	InitialMmapSize int
	// NoSync leaves out every flush until Sync or Close. For scratch stores
	// and fixtures only: a crash before it can lose or damage all of it.
	NoSync bool
	// Bulk, with NoSync, lets an Append return before its commit, and
	// commits when so many requests have come together, or when anyone
	// reads. It makes loading many entries from one goroutine some ten times
	// faster. If a Draft's Rows fails, what was not committed is lost and
	// the store is ErrStoreFailed.
	Bulk int
}

const defaultLockTimeout = 250 * time.Millisecond

// filled returns o with its defaults put in.
func (o Options) filled() (Options, error) {
	if o.Clock == nil {
		return o, errors.New("boltstore: Options.Clock is missing")
	}
	if o.Bulk > 0 && !o.NoSync {
		return o, errors.New("boltstore: Options.Bulk needs NoSync")
	}
	if o.Unit != "" && !validUnit(o.Unit) {
		return o, fmt.Errorf("boltstore: %q is not a unit's id: want %d capital letters or digits", o.Unit, unitLen)
	}
	if o.LockTimeout == 0 {
		o.LockTimeout = defaultLockTimeout
	}
	if o.InitialMmapSize == 0 {
		o.InitialMmapSize = defaultMmapSize()
	}
	return o, nil
}

func defaultMmapSize() int {
	mib := 1 << 20
	if strconv.IntSize < 64 {
		return 256 * mib
	}
	return 16 * 1024 * mib
}

const unitLen = 8

// unitLetters leaves out I, L, O and U, which are misread or make words; 32 of
// them give 40 bits.
const unitLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

func newUnit() string {
	var b [unitLen]byte
	_, _ = rand.Read(b[:]) // never fails: crypto/rand ends the process first
	for i := range b {
		b[i] = unitLetters[b[i]%32]
	}
	return string(b[:])
}

func validUnit(s string) bool {
	if len(s) != unitLen {
		return false
	}
	for _, c := range []byte(s) {
		if (c < '0' || c > '9') && (c < 'A' || c > 'Z') {
			return false
		}
	}
	return true
}
