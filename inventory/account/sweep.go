package account

import (
	"context"
	"errors"

	"lotbook/inventory"
)

// forget removes what is left of a user's sessions and tokens after the
// journal has ended them.
func (a *Accounts) forget(ctx context.Context, id UserID) {
	if _, err := a.sweepAccess(context.WithoutCancel(ctx), id); err != nil {
		a.log.WarnContext(ctx, "ended sessions were not removed yet", "user", id, "error", err)
	}
}

// tidy removes a key that nothing needs; if it doesn't work out Sweep will.
func (a *Accounts) tidy(ctx context.Context, key string) {
	if err := a.vault.Delete(context.WithoutCancel(ctx), key); err != nil {
		a.log.WarnContext(ctx, "the vault was not tidied", "error", err)
	}
}

// Sweep removes what nothing needs from the Vault: sessions and tokens that
// ended, hashes of passwords that were replaced. It returns how many. Access
// never depends on it; once an hour is plenty.
func (a *Accounts) Sweep(ctx context.Context) (int, error) {
	n, err := a.sweepAccess(ctx, "")
	if err != nil {
		return n, err
	}
	// Not while a hash lies there that is about to be put in force.
	a.passwords.Lock()
	defer a.passwords.Unlock()
	m, err := a.sweepPrefix(ctx, passwordPrefix, func(key string, _ []byte) (bool, error) {
		id, n, ok := parsePasswordKey(key)
		if !ok {
			return false, nil
		}
		u, err := a.row(ctx, id)
		if errors.Is(err, ErrNoUser) {
			return true, nil
		}
		return err == nil && n != u.passwords, err
	})
	return n + m, err
}

// sweepAccess removes the sessions and tokens that ended, of one user or all.
func (a *Accounts) sweepAccess(ctx context.Context, id UserID) (int, error) {
	now := a.now().UTC()
	n, err := a.sweepPrefix(ctx, sessionPrefix, func(_ string, value []byte) (bool, error) {
		s, err := decodeSession(value)
		if err != nil || id != "" && s.user != id {
			return false, err
		}
		if !now.Before(a.ends(s)) {
			return true, nil
		}
		if _, err = a.sessionUser(ctx, s); errors.Is(err, ErrNoSession) {
			return true, nil
		}
		return false, err
	})
	if err != nil {
		return n, err
	}
	m, err := a.sweepPrefix(ctx, tokenPrefix, func(_ string, value []byte) (bool, error) {
		record, err := decodeTokenRecord(value)
		if err != nil {
			return false, err
		}
		var t Token
		err = a.store.View(ctx, func(r inventory.Reader) error {
			var ok bool
			var err error
			if t, ok, err = getToken(r, record.id); err != nil || !ok {
				return err
			}
			_, err = t.judge(r, now)
			return err
		})
		return err == nil && !t.Valid && (id == "" || t.User == id), err
	})
	return n + m, err
}

// sweepPrefix deletes the pairs of which ended says so. It asks after the
// Vault's scan is over, so that no store is asked for two things at a time.
func (a *Accounts) sweepPrefix(ctx context.Context, prefix string, ended func(key string, value []byte) (bool, error)) (int, error) {
	type pair struct {
		key   string
		value []byte
	}
	var all []pair
	err := a.vault.Scan(ctx, prefix, func(key string, value []byte) error {
		all = append(all, pair{key, value})
		return nil
	})
	n := 0
	for _, p := range all {
		if err != nil {
			break
		}
		var yes bool
		if yes, err = ended(p.key, p.value); err == nil && yes {
			if err = a.vault.Delete(ctx, p.key); err == nil {
				n++
			}
		}
	}
	return n, err
}
