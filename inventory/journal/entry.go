package journal

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// A Hash is a SHA-256 sum. The zero Hash stands before the first entry.
type Hash [sha256.Size]byte

// String returns the hash in lower-case hexadecimal.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// MarshalText makes a Hash a hexadecimal string in JSON.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (h *Hash) UnmarshalText(b []byte) (err error) {
	*h, err = ParseHash(string(b))
	return err
}

// ParseHash reads what String wrote.
func ParseHash(s string) (Hash, error) {
	var h Hash
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(h) {
		return h, fmt.Errorf("%q is not a hash: want %d hexadecimal digits", s, 2*len(h))
	}
	copy(h[:], b)
	return h, nil
}

// An Entry is one thing that happened, as written down. Entries are never
// edited and never removed.
type Entry struct {
	// Seq counts from 1 without gaps.
	Seq uint64
	// Recorded is when the entry was written, UTC, nanoseconds. It never
	// goes back from one entry to the next.
	Recorded time.Time
	// Happened is when the thing happened, UTC, nanoseconds: at or before
	// Recorded for anything written by a person, as early as they say.
	Happened time.Time
	// Actor is the id of the user who wrote it.
	Actor string
	// Kind names the form of Body, such as "stock.received".
	Kind string
	// Key is the key that the client gave its request, empty if none, and
	// Digest is the sum of that request. One request may write several
	// entries: Part counts them from 0, Parts says how many.
	Key    string
	Digest Hash
	Part   int
	Parts  int
	// Prev is the hash of the entry before, zero for the first.
	Prev Hash
	// Body is the content: JSON, but to this package only bytes.
	Body []byte
}

// version is the first byte of every entry's canonical bytes.
const version = 1

// ErrMalformed says that bytes are not an entry's canonical bytes.
var ErrMalformed = errors.New("not an entry's canonical bytes")

// AppendCanonical appends the canonical bytes of e to b:
//
//	version     1 byte, 1
//	seq         8 bytes, big endian
//	recorded    8 bytes, big endian, nanoseconds since 1970-01-01 UTC
//	happened    8 bytes, the same
//	part, parts 2 bytes each, big endian
//	prev        32 bytes
//	digest      32 bytes
//	actor, kind, key, body: each its length in 4 bytes, big endian, then it
//
// There is one way to write an entry, so equal entries have equal bytes.
func (e *Entry) AppendCanonical(b []byte) []byte {
	b = append(b, version)
	b = binary.BigEndian.AppendUint64(b, e.Seq)
	b = binary.BigEndian.AppendUint64(b, uint64(e.Recorded.UnixNano()))
	b = binary.BigEndian.AppendUint64(b, uint64(e.Happened.UnixNano()))
	b = binary.BigEndian.AppendUint16(b, uint16(e.Part))
	b = binary.BigEndian.AppendUint16(b, uint16(e.Parts))
	b = append(b, e.Prev[:]...)
	b = append(b, e.Digest[:]...)
	for _, s := range [...]string{e.Actor, e.Kind, e.Key} {
		b = binary.BigEndian.AppendUint32(b, uint32(len(s)))
		b = append(b, s...)
	}
	b = binary.BigEndian.AppendUint32(b, uint32(len(e.Body)))
	return append(b, e.Body...)
}

// CanonicalLen is the number of bytes that AppendCanonical appends.
func (e *Entry) CanonicalLen() int {
	return headLen + 4*4 + len(e.Actor) + len(e.Kind) + len(e.Key) + len(e.Body)
}

// Representable reports whether t can be written down: 64 bits of nanoseconds
// reach from the year 1677 to 2262.
func Representable(t time.Time) bool {
	return time.Unix(0, t.UnixNano()).Equal(t)
}

// headLen is the length of the part of fixed size.
const headLen = 1 + 8 + 8 + 8 + 2 + 2 + 32 + 32

// Parse reads canonical bytes back. The entry's Body is a part of b, not a
// copy. It returns an error that wraps ErrMalformed for anything that
// AppendCanonical could not have written.
func Parse(b []byte) (Entry, error) {
	var e Entry
	if len(b) < headLen {
		return e, fmt.Errorf("%w: %d bytes are too few", ErrMalformed, len(b))
	}
	if b[0] != version {
		return e, fmt.Errorf("%w: version %d, this program knows %d", ErrMalformed, b[0], version)
	}
	e.Seq = binary.BigEndian.Uint64(b[1:])
	e.Recorded = time.Unix(0, int64(binary.BigEndian.Uint64(b[9:]))).UTC()
	e.Happened = time.Unix(0, int64(binary.BigEndian.Uint64(b[17:]))).UTC()
	e.Part = int(binary.BigEndian.Uint16(b[25:]))
	e.Parts = int(binary.BigEndian.Uint16(b[27:]))
	copy(e.Prev[:], b[29:])
	copy(e.Digest[:], b[61:])
	rest := b[headLen:]
	var fields [4][]byte
	for i := range fields {
		if len(rest) < 4 {
			return e, fmt.Errorf("%w: cut off", ErrMalformed)
		}
		n := binary.BigEndian.Uint32(rest)
		rest = rest[4:]
		if uint64(n) > uint64(len(rest)) {
			return e, fmt.Errorf("%w: cut off", ErrMalformed)
		}
		fields[i], rest = rest[:n:n], rest[n:]
	}
	if len(rest) != 0 {
		return e, fmt.Errorf("%w: %d bytes too many", ErrMalformed, len(rest))
	}
	e.Actor, e.Kind, e.Key, e.Body = string(fields[0]), string(fields[1]), string(fields[2]), fields[3]
	return e, nil
}

// Sum returns the hash of an entry's canonical bytes.
func Sum(canonical []byte) Hash { return sha256.Sum256(canonical) }
