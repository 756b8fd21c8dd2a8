package account

import (
	"errors"

	"lotbook/inventory"
)

// Errors about who somebody is. Test for them with errors.Is.
var (
	// ErrBadCredentials says that there is no such user or that the
	// password is another: which of the two is not said, nor shown by the
	// time that it takes.
	ErrBadCredentials = errors.New("the user name or the password is wrong")
	// ErrInactive says that the password is right and the user has been
	// deactivated. It is only ever told to somebody who knows the password,
	// or who may issue tokens to others.
	ErrInactive = errors.New("this user has been deactivated")
	// ErrNoSession says that a session's string is unknown or that its
	// session has ended.
	ErrNoSession = errors.New("not signed in, or the session has ended")
	// ErrBadToken says that a token's string is unknown, expired or revoked.
	ErrBadToken = errors.New("the token is unknown, expired or revoked")
	// ErrBusy says that too many passwords are waiting to be checked. It is
	// worth trying again in a few seconds.
	ErrBusy = errors.New("too many people are signing in at this moment")
	// ErrHash says that what the Vault holds is not a password hash that
	// this program can read.
	ErrHash = errors.New("not a password hash of this program")
)

// Errors about what was asked for. Each is a *inventory.Refusal too.
var (
	// ErrNoUser says that there is no user of that id.
	ErrNoUser error = &inventory.Refusal{
		Kind: inventory.ErrNotFound, Code: "unknown_user", Field: "user",
		Message: "there is no such user", Hint: "look at the list of users",
	}
	// ErrUserExists says that a user id is taken. Ids are never given twice,
	// since old entries name them.
	ErrUserExists error = &inventory.Refusal{
		Kind: inventory.ErrConflict, Code: "user_exists", Field: "id",
		Message: "there is a user of that name already, perhaps a deactivated one",
		Hint:    "choose another login name, or activate that user again",
	}
	// ErrNoToken says that there is no token of that id.
	ErrNoToken error = &inventory.Refusal{
		Kind: inventory.ErrNotFound, Code: "unknown_token", Field: "token",
		Message: "there is no such token", Hint: "look at the list of tokens",
	}
	// ErrLastAdministrator says that a change would leave the unit without
	// an active administrator.
	ErrLastAdministrator error = &inventory.Refusal{
		Kind: inventory.ErrConflict, Code: "last_administrator",
		Message: "the unit would have no administrator left",
		Hint:    "make somebody else an administrator first",
	}
)

// invalid returns a Refusal of a member, with a code of its own.
func invalid(field, code, message, hint string) error {
	return &inventory.Refusal{Kind: inventory.ErrInvalid, Code: code, Field: field, Message: message, Hint: hint}
}
