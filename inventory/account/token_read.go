package account

import (
	"context"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// Token returns the token of a string that was given out, and its user as of
// now, and notes that it was used. Errors: ErrBadToken and those of the store.
func (a *Accounts) Token(ctx context.Context, secret string) (Token, User, error) {
	key := secretKey(tokenPrefix, secret)
	b, err := a.vault.Get(ctx, key)
	if err != nil {
		return Token{}, User{}, err
	}
	if b == nil {
		return Token{}, User{}, ErrBadToken
	}
	record, err := decodeTokenRecord(b)
	if err != nil {
		return Token{}, User{}, err
	}
	now := a.now().UTC()
	var t Token
	var u User
	err = a.store.View(ctx, func(r inventory.Reader) error {
		var ok bool
		var err error
		if t, ok, err = getToken(r, record.id); err != nil {
			return err
		}
		if ok {
			u, err = t.judge(r, now)
		}
		return err
	})
	if err != nil {
		return Token{}, User{}, err
	}
	if !t.Valid {
		a.tidy(ctx, key)
		return Token{}, User{}, ErrBadToken
	}
	if now.Sub(record.seen) >= a.set.SeenEvery {
		record.seen = now
		if err := a.vault.Put(ctx, key, record.encode()); err != nil {
			a.log.WarnContext(ctx, "the use of a token was not noted", "user", u.ID, "token", t.ID, "error", err)
		}
	}
	t.Seen = record.seen
	return t, u, nil
}

// TokenByID returns a token's facts, or an error that is ErrNoToken.
func (a *Accounts) TokenByID(ctx context.Context, id TokenID) (Token, error) {
	var t Token
	err := a.store.View(ctx, func(r inventory.Reader) error {
		var err error
		if t, err = mustToken(r, id); err != nil {
			return err
		}
		_, err = t.judge(r, a.now().UTC())
		return err
	})
	return t, err
}

// Tokens returns the tokens of a user, or of all for the empty id, those that
// ended too, in the order in which they were issued.
func (a *Accounts) Tokens(ctx context.Context, id UserID) ([]Token, error) {
	seen := make(map[TokenID]tokenRecord)
	err := a.vault.Scan(ctx, tokenPrefix, func(_ string, value []byte) error {
		t, err := decodeTokenRecord(value)
		seen[t.id] = t
		return err
	})
	if err != nil {
		return nil, err
	}
	var out []Token
	err = a.store.View(ctx, func(r inventory.Reader) error {
		out = out[:0]
		return r.Scan(tokensIndex, nil, nil, func(key, value []byte) error {
			k := rowcode.ReadKey(key)
			t, err := decodeToken(TokenID(k.Number()), value)
			if err != nil {
				return err
			}
			if id != "" && t.User != id {
				return k.Err()
			}
			if _, err := t.judge(r, a.now().UTC()); err != nil {
				return err
			}
			t.Seen = seen[t.ID].seen
			out = append(out, t)
			return k.Err()
		})
	})
	return out, err
}
