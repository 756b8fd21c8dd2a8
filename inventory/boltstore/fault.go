package boltstore

import (
	"fmt"
	"runtime/debug"
)

// A PanicError is what a panic in a function given to the store became.
type PanicError struct {
	Value any
	Stack []byte
}

// Error implements the error interface. It leaves out the stack: that is for
// the log.
func (p *PanicError) Error() string { return fmt.Sprintf("boltstore: panic: %v", p.Value) }

// fault is what the runtime's error for a fault at a mapped address looks
// like, after debug.SetPanicOnFault.
type fault interface {
	error
	Addr() uintptr
}

// asFault turns a recovered fault into an error, nil for any other panic.
func asFault(r any) error {
	if f, ok := r.(fault); ok {
		return fmt.Errorf("%w: %v", ErrDamaged, f)
	}
	return nil
}

// guard runs fn, which reads the file through its mapping, and turns faults
// and bbolt's assertions into errors that are ErrDamaged.
func guard(fn func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if r := recover(); r != nil {
			if err = asFault(r); err == nil {
				err = fmt.Errorf("%w: %v", ErrDamaged, r)
			}
		}
	}()
	return fn()
}

// protect runs a caller's function and turns a panic in it into a PanicError.
func protect(fn func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			if err = asFault(r); err == nil {
				err = &PanicError{Value: r, Stack: debug.Stack()}
			}
		}
	}()
	return fn()
}
