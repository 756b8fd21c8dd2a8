package account

import (
	"context"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lotbook/inventory"
)

// NewToken is what is said about a token to be issued.
type NewToken struct {
	User  UserID `json:"user"`
	Label string `json:"label"`
	// Expires is when it stops to work; zero for Settings.TokenLife from
	// now, and not later than Settings.TokenMax from now.
	Expires time.Time `json:"expires,omitzero"`
}

// Issued is a token with its string, which is shown once.
type Issued struct {
	Token
	// Secret is what a client sends. It is empty if the request was a
	// repetition of one that was answered before: the string is kept
	// nowhere, so revoke that token and ask for another.
	Secret string
}

// IssueToken makes a token for a user. Errors: a Refusal, ErrNoUser,
// ErrInactive, inventory.ErrKeyReused and those of the store.
func (a *Accounts) IssueToken(ctx context.Context, call inventory.Call, nt NewToken) (Issued, error) {
	return a.issue(ctx, call, nt, func(r inventory.Reader) ([]inventory.Event, error) {
		u, err := mustUser(r, nt.User)
		if err == nil && !u.Active {
			err = ErrInactive
		}
		return nil, err
	})
}

// IssueTokenFor makes a token for whoever gives its user's password; the user
// is the author. Errors: as IssueToken, ErrBadCredentials, ErrBusy.
func (a *Accounts) IssueTokenFor(ctx context.Context, key string, nt NewToken, password string) (Issued, error) {
	u, err := a.verify(ctx, nt.User, password)
	if err != nil {
		return Issued{}, err
	}
	return a.issue(ctx, inventory.Call{Actor: string(u.ID), Key: key}, nt, func(r inventory.Reader) ([]inventory.Event, error) {
		return []inventory.Event{&SignedIn{User: u.ID, Where: AtToken}}, stillSo(r, u)
	})
}

// issue writes what before returns and a TokenIssued, then the sum of the
// token's string.
func (a *Accounts) issue(ctx context.Context, call inventory.Call, nt NewToken, before func(inventory.Reader) ([]inventory.Event, error)) (Issued, error) {
	asked := struct {
		Issue NewToken `json:"issue"`
	}{nt}
	nt, err := a.checkToken(nt)
	if err != nil {
		return Issued{}, err
	}
	rec, err := a.append(ctx, call, asked, func(r inventory.Reader) ([]inventory.Event, error) {
		evs, err := before(r)
		return append(evs, &TokenIssued{User: nt.User, Label: nt.Label, Expires: nt.Expires}), err
	})
	if err != nil {
		return Issued{}, err
	}
	id := TokenID(rec.Entries[len(rec.Entries)-1].Seq)
	var out Issued
	if !rec.Replayed {
		out.Secret = newSecret()
		if err := a.vault.Put(ctx, secretKey(tokenPrefix, out.Secret), tokenRecord{id: id}.encode()); err != nil {
			return Issued{}, err
		}
	}
	out.Token, err = a.TokenByID(ctx, id)
	return out, err
}

// checkToken returns a token's facts complete, or a a Refusal.
func (a *Accounts) checkToken(nt NewToken) (NewToken, error) {
	nt.Label = strings.TrimSpace(nt.Label)
	if n := utf8.RuneCountInString(nt.Label); n < 1 || n > 100 || !utf8.ValidString(nt.Label) || strings.ContainsFunc(nt.Label, unicode.IsControl) {
		return nt, invalid("label", "invalid", "this can't be a token's label",
			"say which program will use the token, in 1 to 100 characters, none of them a control character")
	}
	now := a.now().UTC()
	if nt.Expires.IsZero() {
		nt.Expires = now.Add(a.set.TokenLife)
	}
	nt.Expires = nt.Expires.UTC().Truncate(time.Second)
	switch {
	case !nt.Expires.After(now):
		return nt, invalid("expires", "past", "the token would have expired already", "choose a later time")
	case nt.Expires.After(now.Add(a.set.TokenMax)):
		return nt, invalid("expires", "too_late", "the token would last too long",
			"choose a time not after "+now.Add(a.set.TokenMax).Format(time.DateOnly))
	}
	return nt, nil
}

// RevokeToken ends a token. Revoking one again is no error and writes nothing.
// Errors: ErrNoToken, inventory.ErrKeyReused and those of the store.
func (a *Accounts) RevokeToken(ctx context.Context, call inventory.Call, id TokenID) (Token, error) {
	asked := struct {
		Revoke TokenID `json:"revoke"`
	}{id}
	_, err := a.append(ctx, call, asked, func(r inventory.Reader) ([]inventory.Event, error) {
		t, err := mustToken(r, id)
		if err != nil || !t.Revoked.IsZero() {
			return nil, err
		}
		return []inventory.Event{&TokenRevoked{Token: id}}, nil
	})
	if err != nil {
		return Token{}, err
	}
	t, err := a.TokenByID(ctx, id)
	if err == nil {
		a.forget(ctx, t.User)
	}
	return t, err
}

// mustToken reads a token's row; the error is ErrNoToken if there is none.
func mustToken(r inventory.Reader, id TokenID) (Token, error) {
	t, ok, err := getToken(r, id)
	if err == nil && !ok {
		err = fmt.Errorf("%w: %d", ErrNoToken, id)
	}
	return t, err
}
