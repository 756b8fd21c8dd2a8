package inventory

import (
	"errors"
	"fmt"
)

// What kind of refusal it is; test for them with errors.Is.
var (
	// ErrInvalid says that what was given can't be a record.
	ErrInvalid = errors.New("invalid")
	// ErrNotFound says that something named does not exist.
	ErrNotFound = errors.New("not found")
	// ErrConflict says that it contradicts what is recorded.
	ErrConflict = errors.New("conflict")
)

// A Refusal is why something was not recorded, in words for the person who
// asked: Message says what is wrong, Hint what to do.
type Refusal struct {
	Kind    error  // ErrInvalid, ErrNotFound or ErrConflict
	Code    string // for programs: "unknown_location"
	Field   string // the member that it is about, "" if none
	Message string
	Hint    string
}

// Error implements the error interface.
func (r *Refusal) Error() string {
	if r.Field != "" {
		return r.Field + ": " + r.Message
	}
	return r.Message
}

// Unwrap makes errors.Is find the kind.
func (r *Refusal) Unwrap() error { return r.Kind }

// Invalid returns a Refusal of a member that can't be recorded as it is.
func Invalid(field, hint, format string, args ...any) *Refusal {
	return &Refusal{Kind: ErrInvalid, Code: "invalid", Field: field, Hint: hint, Message: fmt.Sprintf(format, args...)}
}

// NotFound returns a Refusal of something named that does not exist. What is a
// noun for the code, such as "location".
func NotFound(what, id, hint string) *Refusal {
	return &Refusal{Kind: ErrNotFound, Code: "unknown_" + what, Field: what, Hint: hint, Message: fmt.Sprintf("there is no %s %q", what, id)}
}

// Conflict returns a Refusal of what contradicts the record.
func Conflict(code, hint, format string, args ...any) *Refusal {
	return &Refusal{Kind: ErrConflict, Code: code, Hint: hint, Message: fmt.Sprintf(format, args...)}
}

// A LineError says which of the lines of a request was refused, and why. A
// request whose lines are refused returns them all, joined.
type LineError struct {
	Line int // from 0
	Err  error
}

// Error implements the error interface.
func (l *LineError) Error() string { return fmt.Sprintf("line %d: %v", l.Line+1, l.Err) }

// Unwrap returns the reason.
func (l *LineError) Unwrap() error { return l.Err }

// EachLine calls fn for 0 to n-1 and returns what was refused, joined, each as
// a *LineError. An error that is not a Refusal ends it at once.
func EachLine(n int, fn func(i int) error) error {
	var errs []error
	for i := range n {
		err := fn(i)
		if err == nil {
			continue
		}
		if r := (*Refusal)(nil); !errors.As(err, &r) {
			return err
		}
		errs = append(errs, &LineError{i, err})
	}
	if len(errs) == 1 && n == 1 {
		return errs[0].(*LineError).Err
	}
	return errors.Join(errs...)
}

func itoa(n uint64) string { return fmt.Sprint(n) }
