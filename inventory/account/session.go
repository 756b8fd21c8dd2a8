package account

import (
	"context"
	"encoding/base64"
	"errors"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A Session is a user's time at the pages, from a sign-in to its end.
type Session struct {
	// User is the user as of now, not as of the sign-in.
	User User
	// SignIn is the number of the entry that began it.
	SignIn uint64
	// Began and Seen are when it began and when it was last used, the latter
	// as coarse as Settings.SeenEvery; Ends is when it ends if it is not
	// used again, which is never after SessionMax.
	Began, Seen, Ends time.Time
}

// secretLen is the length of a session's or token's string in random bytes.
const secretLen = 32

func newSecret() string { return base64.RawURLEncoding.EncodeToString(random(secretLen)) }

// sessionRecord is what the Vault holds of a session.
type sessionRecord struct {
	user        UserID
	signIn      uint64
	began, seen time.Time
}

const sessionForm = 1

func (s *sessionRecord) encode() []byte {
	e := rowcode.NewEnc(sessionForm, 64)
	e.Text(string(s.user))
	e.Uint(s.signIn)
	e.Time(s.began)
	e.Time(s.seen)
	return e.Bytes()
}

func decodeSession(b []byte) (sessionRecord, error) {
	d := rowcode.NewDec(sessionForm, b)
	s := sessionRecord{user: UserID(d.Text()), signIn: d.Uint(), began: d.Time(), seen: d.Time()}
	return s, d.Err()
}

// ends is when a session ends unless it is used again.
func (a *Accounts) ends(s sessionRecord) time.Time {
	idle, last := s.seen.Add(a.set.SessionIdle), s.began.Add(a.set.SessionMax)
	if idle.Before(last) {
		return idle
	}
	return last
}

// SignIn begins a session for whoever gives a user's password. The string that
// it returns is the only way to the session: it goes to the user's browser and
// nowhere else. Errors: ErrBadCredentials, ErrInactive, ErrBusy and those of
// the store.
func (a *Accounts) SignIn(ctx context.Context, id UserID, password string) (secret string, s Session, err error) {
	u, err := a.verify(ctx, id, password)
	if err != nil {
		return "", Session{}, err
	}
	rec, err := a.append(ctx, inventory.Call{Actor: string(u.ID)}, "sign in", func(r inventory.Reader) ([]inventory.Event, error) {
		if err := stillSo(r, u); err != nil {
			return nil, err
		}
		return []inventory.Event{&SignedIn{User: u.ID, Where: AtPage}}, nil
	})
	if err != nil {
		return "", Session{}, err
	}
	e := rec.Entries[0]
	record := sessionRecord{user: u.ID, signIn: e.Seq, began: e.Happened, seen: e.Happened}
	secret = newSecret()
	if err := a.vault.Put(ctx, secretKey(sessionPrefix, secret), record.encode()); err != nil {
		return "", Session{}, err
	}
	return secret, a.session(u.User, record), nil
}

func (a *Accounts) session(u User, s sessionRecord) Session {
	return Session{User: u, SignIn: s.signIn, Began: s.began, Seen: s.seen, Ends: a.ends(s)}
}

// Session returns the session of a string that SignIn gave out, and notes that
// it was used. Errors: ErrNoSession and those of the store.
func (a *Accounts) Session(ctx context.Context, secret string) (Session, error) {
	key := secretKey(sessionPrefix, secret)
	b, err := a.vault.Get(ctx, key)
	if err != nil {
		return Session{}, err
	}
	if b == nil {
		return Session{}, ErrNoSession
	}
	s, err := decodeSession(b)
	if err != nil {
		return Session{}, err
	}
	now := a.now().UTC()
	if !now.Before(a.ends(s)) {
		a.tidy(ctx, key)
		return Session{}, ErrNoSession
	}
	u, err := a.sessionUser(ctx, s)
	if err != nil {
		if errors.Is(err, ErrNoSession) {
			a.tidy(ctx, key)
		}
		return Session{}, err
	}
	if now.Sub(s.seen) >= a.set.SeenEvery {
		s.seen = now
		if err := a.vault.Put(ctx, key, s.encode()); err != nil {
			// A store that takes no writes still answers questions.
			a.log.WarnContext(ctx, "the use of a session was not noted", "user", u.ID, "error", err)
		}
	}
	return a.session(u, s), nil
}

// sessionUser returns a session's user if the journal lets the session count.
func (a *Accounts) sessionUser(ctx context.Context, s sessionRecord) (User, error) {
	var out User
	err := a.store.View(ctx, func(r inventory.Reader) error {
		u, ok, err := getUser(r, s.user)
		if err != nil {
			return err
		}
		in, known, err := getSignIn(r, s.user, s.signIn)
		if err != nil {
			return err
		}
		if !ok || !known || !u.Active || s.signIn <= u.since || !in.Out.IsZero() {
			return ErrNoSession
		}
		out = u.User
		return nil
	})
	return out, err
}

// SignOut ends the session of a string that SignIn gave out. That there is
// none, or none any more, is no error.
func (a *Accounts) SignOut(ctx context.Context, secret string) error {
	key := secretKey(sessionPrefix, secret)
	b, err := a.vault.Get(ctx, key)
	if err != nil || b == nil {
		return err
	}
	s, err := decodeSession(b)
	if err != nil {
		return err
	}
	_, err = a.append(ctx, inventory.Call{Actor: string(s.user)}, "sign out", func(r inventory.Reader) ([]inventory.Event, error) {
		in, ok, err := getSignIn(r, s.user, s.signIn)
		if err != nil || !ok || !in.Out.IsZero() {
			return nil, err
		}
		return []inventory.Event{&SignedOut{User: s.user, SignedIn: s.signIn}}, nil
	})
	if err != nil {
		return err
	}
	a.tidy(ctx, key)
	return nil
}
