package rowcode

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// ErrKey says that bytes are not a key of the expected form.
var ErrKey = errors.New("malformed key")

// Valid reports whether a text may stand in a key: not a zero byte in it.
func Valid(s string) bool { return strings.IndexByte(s, 0) < 0 }

// AppendText appends texts, each with the zero byte that ends it. A text must
// be Valid; whatever takes texts from outside refuses others long before.
func AppendText(b []byte, texts ...string) []byte {
	for _, s := range texts {
		b = append(b, s...)
		b = append(b, 0)
	}
	return b
}

// AppendNumber appends a number so that greater numbers sort later.
func AppendNumber(b []byte, n uint64) []byte { return binary.BigEndian.AppendUint64(b, n) }

// AppendTime appends an instant, to the nanosecond, so that later ones sort
// later, also those before 1970. Years 1678 to 2261.
func AppendTime(b []byte, t time.Time) []byte {
	return binary.BigEndian.AppendUint64(b, uint64(t.UnixNano())^(1<<63))
}

// A Key takes a key apart.
type Key struct {
	b   []byte
	err error
}

// ReadKey returns a Key over b.
func ReadKey(b []byte) *Key { return &Key{b: b} }

// Text takes the next text.
func (k *Key) Text() string {
	i := -1
	for j, c := range k.b {
		if c == 0 {
			i = j
			break
		}
	}
	if i < 0 {
		k.fail()
		return ""
	}
	s := string(k.b[:i])
	k.b = k.b[i+1:]
	return s
}

// Number takes the next number.
func (k *Key) Number() uint64 {
	if len(k.b) < 8 {
		k.fail()
		return 0
	}
	n := binary.BigEndian.Uint64(k.b)
	k.b = k.b[8:]
	return n
}

// Time takes the next instant, in UTC.
func (k *Key) Time() time.Time {
	n := k.Number()
	if k.err != nil {
		return time.Time{}
	}
	return time.Unix(0, int64(n^(1<<63))).UTC()
}

// Err returns an error that is ErrKey if anything was missing or left over.
func (k *Key) Err() error {
	if k.err == nil && len(k.b) != 0 {
		return fmt.Errorf("%w: %d bytes left over", ErrKey, len(k.b))
	}
	return k.err
}

func (k *Key) fail() {
	k.b = nil
	if k.err == nil {
		k.err = fmt.Errorf("%w: cut off", ErrKey)
	}
}

// MaxTime is the last instant that a key can hold.
var MaxTime = time.Unix(0, math.MaxInt64).UTC()
