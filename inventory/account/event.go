package account

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Events returns a constructor for each kind of entry of this package.
func Events() []func() inventory.Event {
	return []func() inventory.Event{
		func() inventory.Event { return new(UserAdded) },
		func() inventory.Event { return new(UserChanged) },
		func() inventory.Event { return new(PasswordSet) },
		func() inventory.Event { return new(SignedIn) },
		func() inventory.Event { return new(SignedOut) },
		func() inventory.Event { return new(TokenIssued) },
		func() inventory.Event { return new(TokenRevoked) },
	}
}

// UserAdded says that a user was added, active and without a password.
type UserAdded struct {
	User UserID `json:"user"`
	Name string `json:"name"`
	Role Role   `json:"role"`
}

// Kind returns "user.added".
func (*UserAdded) Kind() string { return "user.added" }

// Project implements inventory.Event.
func (ev *UserAdded) Project(w inventory.Writer, e journal.Entry) error {
	return putUser(w, userRow{User: User{
		ID: ev.User, Name: ev.Name, Role: ev.Role, Active: true,
		Added: e.Happened, Changed: e.Happened,
	}})
}

// UserChanged says what is different about a user; what is not named stays.
// Deactivating ends the user's access.
type UserChanged struct {
	User   UserID  `json:"user"`
	Name   *string `json:"name,omitempty"`
	Role   *Role   `json:"role,omitempty"`
	Active *bool   `json:"active,omitempty"`
}

// Kind returns "user.changed".
func (*UserChanged) Kind() string { return "user.changed" }

// Project implements inventory.Event.
func (ev *UserChanged) Project(w inventory.Writer, e journal.Entry) error {
	return editUser(w, ev.User, e, func(u *userRow) {
		if ev.Name != nil {
			u.Name = *ev.Name
		}
		if ev.Role != nil {
			u.Role = *ev.Role
		}
		if ev.Active != nil {
			u.Active = *ev.Active
			if !u.Active {
				u.since = e.Seq
			}
		}
	})
}

// PasswordSet says that a user has another password from here on, which ends
// the access that the one before gave. The hash is in the Vault.
type PasswordSet struct {
	User UserID `json:"user"`
}

// Kind returns "user.password_set".
func (*PasswordSet) Kind() string { return "user.password_set" }

// Project implements inventory.Event.
func (ev *PasswordSet) Project(w inventory.Writer, e journal.Entry) error {
	return editUser(w, ev.User, e, func(u *userRow) {
		u.passwords++
		u.passwordSeq = e.Seq
		u.since = e.Seq
	})
}

// editUser changes a user's row. A user whom no entry added has no row, and
// none is made.
func editUser(w inventory.Writer, id UserID, e journal.Entry, edit func(*userRow)) error {
	u, ok, err := getUser(w, id)
	if err != nil || !ok {
		return err
	}
	edit(&u)
	u.Changed = e.Happened
	return putUser(w, u)
}

// Where says where a user's password was asked for.
type Where string

// The places.
const (
	AtPage  Where = "page"
	AtToken Where = "token"
)

// SignedIn says that a user gave the right password.
type SignedIn struct {
	User  UserID `json:"user"`
	Where Where  `json:"where"`
}

// Kind returns "user.signed_in".
func (*SignedIn) Kind() string { return "user.signed_in" }

// Project implements inventory.Event.
func (ev *SignedIn) Project(w inventory.Writer, e journal.Entry) error {
	return putSignIn(w, SignIn{Seq: e.Seq, User: ev.User, Where: ev.Where, In: e.Happened})
}

// SignedOut says that a user ended the session that the entry SignedIn began.
type SignedOut struct {
	User     UserID `json:"user"`
	SignedIn uint64 `json:"signed_in"`
}

// Kind returns "user.signed_out".
func (*SignedOut) Kind() string { return "user.signed_out" }

// Project implements inventory.Event.
func (ev *SignedOut) Project(w inventory.Writer, e journal.Entry) error {
	s, ok, err := getSignIn(w, ev.User, ev.SignedIn)
	if err != nil || !ok {
		return err
	}
	s.Out = e.Happened
	return putSignIn(w, s)
}

// TokenIssued says that a token was made for a user; its id is the number of
// this entry.
type TokenIssued struct {
	User    UserID    `json:"user"`
	Label   string    `json:"label"`
	Expires time.Time `json:"expires"`
}

// Kind returns "token.issued".
func (*TokenIssued) Kind() string { return "token.issued" }

// Project implements inventory.Event.
func (ev *TokenIssued) Project(w inventory.Writer, e journal.Entry) error {
	return putToken(w, Token{
		ID: TokenID(e.Seq), User: ev.User, Label: ev.Label,
		Issued: e.Happened, IssuedBy: UserID(e.Actor), Expires: ev.Expires,
	})
}

// TokenRevoked says that a token counts no more.
type TokenRevoked struct {
	Token TokenID `json:"token"`
}

// Kind returns "token.revoked".
func (*TokenRevoked) Kind() string { return "token.revoked" }

// Project implements inventory.Event.
func (ev *TokenRevoked) Project(w inventory.Writer, e journal.Entry) error {
	t, ok, err := getToken(w, ev.Token)
	if err != nil || !ok || !t.Revoked.IsZero() {
		return err
	}
	t.Revoked = e.Happened
	return putToken(w, t)
}
