package rowcode

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"
)

// ErrValue says that bytes are not a value of the expected form.
var ErrValue = errors.New("malformed value")

// An Enc writes a value field by field.
type Enc struct{ b []byte }

// NewEnc begins a value of the given form with room for size bytes.
func NewEnc(form byte, size int) *Enc { return &Enc{b: append(make([]byte, 0, size), form)} }

// Bytes returns the value.
func (e *Enc) Bytes() []byte { return e.b }

// Text appends a text.
func (e *Enc) Text(s string) {
	e.b = binary.AppendUvarint(e.b, uint64(len(s)))
	e.b = append(e.b, s...)
}

// Blob appends bytes.
func (e *Enc) Blob(p []byte) {
	e.b = binary.AppendUvarint(e.b, uint64(len(p)))
	e.b = append(e.b, p...)
}

// Int appends a signed number.
func (e *Enc) Int(n int64) { e.b = binary.AppendVarint(e.b, n) }

// Uint appends a number.
func (e *Enc) Uint(n uint64) { e.b = binary.AppendUvarint(e.b, n) }

// Flag appends a truth value.
func (e *Enc) Flag(v bool) {
	if v {
		e.b = append(e.b, 1)
	} else {
		e.b = append(e.b, 0)
	}
}

// Time appends an instant; the zero time is kept as such.
func (e *Enc) Time(t time.Time) {
	if t.IsZero() {
		e.b = append(e.b, 0)
		return
	}
	e.b = append(e.b, 1)
	e.b = binary.AppendVarint(e.b, t.UnixNano())
}

// A Dec reads what an Enc wrote, in the same order. After a failure all reads
// return zero values and Err says why.
type Dec struct {
	b    []byte
	text string // the whole value, if texts are parts of it
	err  error
}

// NewDec begins to read a value that must have the given form.
func NewDec(form byte, b []byte) *Dec {
	d := &Dec{b: b}
	if len(b) == 0 || b[0] != form {
		d.fail("not of form %d", form)
		return d
	}
	d.b = b[1:]
	return d
}

// NewTextDec does the same for a value with many texts that are kept together:
// they share one copy of the value, and keep all of it in memory.
func NewTextDec(form byte, b []byte) *Dec {
	d := NewDec(form, b)
	if d.err == nil {
		d.text = string(b)
	}
	return d
}

// Text reads a text.
func (d *Dec) Text() string {
	p := d.Blob()
	if d.text == "" {
		return string(p)
	}
	end := len(d.text) - len(d.b)
	return d.text[end-len(p) : end]
}

// Blob reads bytes, a part of the value, not a copy.
func (d *Dec) Blob() []byte {
	n := d.Uint()
	if n > uint64(len(d.b)) {
		d.fail("cut off")
		return nil
	}
	p := d.b[:n:n]
	d.b = d.b[n:]
	return p
}

// Int reads a signed number.
func (d *Dec) Int() int64 {
	n, l := binary.Varint(d.b)
	if l <= 0 {
		d.fail("cut off")
		return 0
	}
	d.b = d.b[l:]
	return n
}

// Uint reads a number.
func (d *Dec) Uint() uint64 {
	n, l := binary.Uvarint(d.b)
	if l <= 0 {
		d.fail("cut off")
		return 0
	}
	d.b = d.b[l:]
	return n
}

// Count reads a number of things to follow, each at least one byte.
func (d *Dec) Count() int {
	n := d.Uint()
	if n > uint64(len(d.b)) {
		d.fail("cut off")
		return 0
	}
	return int(n)
}

// Flag reads a truth value.
func (d *Dec) Flag() bool {
	if len(d.b) == 0 {
		d.fail("cut off")
		return false
	}
	v := d.b[0] == 1
	d.b = d.b[1:]
	return v
}

// Time reads an instant, in UTC.
func (d *Dec) Time() time.Time {
	if !d.Flag() {
		return time.Time{}
	}
	n := d.Int()
	if d.err != nil {
		return time.Time{}
	}
	return time.Unix(0, n).UTC()
}

// Err returns an error that is ErrValue if anything was missing or left over.
func (d *Dec) Err() error {
	if d.err == nil && len(d.b) != 0 {
		return fmt.Errorf("%w: %d bytes left over", ErrValue, len(d.b))
	}
	return d.err
}

func (d *Dec) fail(format string, args ...any) {
	d.b = nil
	if d.err == nil {
		d.err = fmt.Errorf("%w: "+format, append([]any{ErrValue}, args...)...)
	}
}
