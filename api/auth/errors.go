package auth

import (
	"errors"
	"fmt"

	"lotbook/inventory/account"
)

// Errors that Guard gives to the function that answers. Beside these come
// those of account: ErrBadToken (401 as well) and the store's.
var (
	// ErrNotSignedIn says that nobody is signed in (401, or for a page the
	// way to the sign-in page).
	ErrNotSignedIn = errors.New("not signed in")
	// ErrCrossOrigin says that another site's page sent the request (403).
	ErrCrossOrigin = errors.New("the request was sent by a page of another site")
	// ErrForbidden says that the user's role may not do this (403). The
	// error that is one is a *Denied.
	ErrForbidden = errors.New("not allowed")
)

// Denied says what was denied to whom.
type Denied struct {
	Method, Pattern string
	// Role is the user's, empty if the route has no row in the table, when
	// nobody may.
	Role account.Role
	// Allowed are the roles that may.
	Allowed []account.Role
}

// Error implements the error interface.
func (d *Denied) Error() string {
	if d.Role == "" {
		return fmt.Sprintf("%s %s: nobody is allowed to do this", d.Method, d.Pattern)
	}
	return fmt.Sprintf("%s %s: not allowed for the role %s", d.Method, d.Pattern, d.Role)
}

// Unwrap makes a Denied an ErrForbidden.
func (d *Denied) Unwrap() error { return ErrForbidden }
