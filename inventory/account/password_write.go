package account

import (
	"context"
	"errors"

	"lotbook/inventory"
)

// SetPassword gives a user another password on behalf of somebody else, and
// ends the user's sessions and tokens. Errors: a Refusal, ErrNoUser,
// inventory.ErrKeyReused, ErrBusy and those of the store.
func (a *Accounts) SetPassword(ctx context.Context, call inventory.Call, id UserID, password string) error {
	u, err := a.User(ctx, id)
	if err != nil {
		return err
	}
	if err := CheckPassword(password, id, u.Name); err != nil {
		return err
	}
	asked := struct {
		SetPassword UserID `json:"set_password"`
	}{id}
	return a.writePassword(ctx, call, id, password, asked, func(r inventory.Reader) ([]inventory.Event, error) {
		_, err := mustUser(r, id)
		return nil, err
	})
}

// ChangePassword gives a user another password at their own wish, and ends all
// their sessions and tokens, that of the caller too. Errors: as SetPassword,
// ErrBadCredentials if old is not the password, ErrInactive.
func (a *Accounts) ChangePassword(ctx context.Context, call inventory.Call, old, password string) error {
	u, err := a.verify(ctx, UserID(call.Actor), old)
	if err != nil {
		return err
	}
	if err := CheckPassword(password, u.ID, u.Name); err != nil {
		return err
	}
	asked := struct {
		ChangePassword UserID `json:"change_password"`
	}{u.ID}
	return a.writePassword(ctx, call, u.ID, password, asked, func(r inventory.Reader) ([]inventory.Event, error) {
		return nil, stillSo(r, u)
	})
}

// writePassword puts the hash of a user's next password into the Vault and
// then writes what before returns and a PasswordSet into the journal, which
// puts the hash in force. before must make sure that the user is there then.
func (a *Accounts) writePassword(ctx context.Context, call inventory.Call, id UserID, password string, asked any, before func(inventory.Reader) ([]inventory.Event, error)) error {
	password = normalize(password)
	hash, err := a.hasher.Hash(ctx, password)
	if err != nil {
		return err
	}
	a.passwords.Lock()
	defer a.passwords.Unlock()
	u, err := a.row(ctx, id)
	if err != nil && !errors.Is(err, ErrNoUser) {
		return err
	}
	next := passwordKey(id, u.passwords+1)
	if err := a.vault.Put(ctx, next, []byte(hash)); err != nil {
		return err
	}
	rec, err := a.append(ctx, call, asked, func(r inventory.Reader) ([]inventory.Event, error) {
		evs, err := before(r)
		return append(evs, &PasswordSet{User: id}), err
	})
	switch {
	case errors.Is(err, inventory.ErrUnknownOutcome):
		return err // the hash may be in force when the store is opened again
	case err != nil || rec.Replayed:
		a.tidy(ctx, next)
		if err == nil {
			err = a.samePassword(ctx, id, rec, password)
		}
		return err
	}
	a.forget(ctx, id)
	if u.passwords > 0 {
		a.tidy(ctx, passwordKey(id, u.passwords))
	}
	return nil
}

// samePassword tells a request that was repeated from one that only has the
// same key, which the digest can't: there is no password in it. If the password
// was set again since, nothing can be said and nothing is.
func (a *Accounts) samePassword(ctx context.Context, id UserID, rec inventory.Receipt, password string) error {
	u, err := a.row(ctx, id)
	if err != nil {
		return err
	}
	if n := len(rec.Entries); n == 0 || rec.Entries[n-1].Seq != u.passwordSeq {
		return nil
	}
	stored, err := a.vault.Get(ctx, passwordKey(id, u.passwords))
	if err != nil {
		return err
	}
	same, _, err := a.hasher.Verify(ctx, string(stored), password)
	if err == nil && !same {
		err = inventory.ErrKeyReused
	}
	return err
}

// verify returns the row of the active user who has this password. It computes
// one hash, whoever is asked for.
func (a *Accounts) verify(ctx context.Context, id UserID, password string) (userRow, error) {
	if CheckID(id) != nil {
		id = ""
	}
	u, err := a.row(ctx, id)
	if err != nil && !errors.Is(err, ErrNoUser) {
		return userRow{}, err
	}
	key := passwordKey(id, u.passwords)
	stored, err := a.vault.Get(ctx, key)
	if err != nil {
		return userRow{}, err
	}
	hash := string(stored)
	if stored == nil {
		hash = a.hasher.decoy()
	}
	if len(password) > 4*MaxPassword {
		password = "" // nobody has this one either, and nothing long is hashed
	}
	password = normalize(password)
	same, outdated, err := a.hasher.Verify(ctx, hash, password)
	switch {
	case err != nil:
		return userRow{}, err
	case !same:
		return userRow{}, ErrBadCredentials
	case !u.Active:
		return userRow{}, ErrInactive
	}
	if outdated {
		a.rehash(ctx, u, password)
	}
	return u, nil
}

// rehash makes the hash of a password that was just verified again, at the
// costs of today. If that doesn't work out the old one serves on.
func (a *Accounts) rehash(ctx context.Context, u userRow, password string) {
	hash, err := a.hasher.Hash(ctx, password)
	if err == nil {
		err = a.vault.Put(ctx, passwordKey(u.ID, u.passwords), []byte(hash))
	}
	if err != nil {
		a.log.WarnContext(ctx, "a password hash of outdated costs was not renewed", "user", u.ID, "error", err)
	}
}

// stillSo says, in the course of an append, whether what verify found is so
// still: that no other password was set nor the user deactivated.
func stillSo(r inventory.Reader, u userRow) error {
	now, err := mustUser(r, u.ID)
	switch {
	case err != nil:
		return err
	case !now.Active:
		return ErrInactive
	case now.passwords != u.passwords:
		return ErrBadCredentials
	}
	return nil
}
