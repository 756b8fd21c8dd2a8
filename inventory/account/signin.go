package account

import (
	"context"
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A SignIn is a record that somebody gave the right password.
type SignIn struct {
	// Seq is the number of the entry.
	Seq   uint64
	User  UserID
	Where Where
	// In is when, Out when the user signed out again: zero if they did not,
	// also where the session ended by itself.
	In, Out time.Time
}

func signInKey(id UserID, seq uint64) []byte {
	return rowcode.AppendNumber(userKey(id), seq)
}

const signInForm = 1

func putSignIn(w inventory.Writer, s SignIn) error {
	e := rowcode.NewEnc(signInForm, 32)
	e.Text(string(s.Where))
	e.Time(s.In)
	e.Time(s.Out)
	return w.Put(signInsIndex, signInKey(s.User, s.Seq), e.Bytes())
}

func decodeSignIn(key, value []byte) (SignIn, error) {
	k := rowcode.ReadKey(key)
	s := SignIn{User: UserID(k.Text()), Seq: k.Number()}
	d := rowcode.NewDec(signInForm, value)
	s.Where = Where(d.Text())
	s.In = d.Time()
	s.Out = d.Time()
	err := k.Err()
	if err == nil {
		err = d.Err()
	}
	if err != nil {
		return SignIn{}, fmt.Errorf("row of sign-in %d: %w", s.Seq, err)
	}
	return s, nil
}

func getSignIn(r inventory.Reader, id UserID, seq uint64) (s SignIn, ok bool, err error) {
	key := signInKey(id, seq)
	b, err := r.Get(signInsIndex, key)
	if err != nil || b == nil {
		return SignIn{}, false, err
	}
	s, err = decodeSignIn(key, b)
	return s, err == nil, err
}

// SignIns returns a user's sign-ins, the latest first, at most limit of them,
// those before the entry number before (0: all).
func (a *Accounts) SignIns(ctx context.Context, id UserID, before uint64, limit int) ([]SignIn, error) {
	if !rowcode.Valid(string(id)) || limit <= 0 {
		return nil, nil
	}
	var from []byte
	if before > 0 {
		from = signInKey(id, before-1)
	}
	var out []SignIn
	err := a.store.View(ctx, func(r inventory.Reader) error {
		out = out[:0]
		return r.ScanBack(signInsIndex, userKey(id), from, func(key, value []byte) error {
			s, err := decodeSignIn(key, value)
			if err != nil {
				return err
			}
			out = append(out, s)
			if len(out) == limit {
				return inventory.ErrStop
			}
			return nil
		})
	})
	return out, err
}

// VerifyAgain says whether a password is that of a user who is signed in
// already: for a signature. It records nothing; what is signed does. Errors:
// ErrBadCredentials, ErrInactive, ErrBusy and those of the store.
func (a *Accounts) VerifyAgain(ctx context.Context, id UserID, password string) error {
	_, err := a.verify(ctx, id, password)
	return err
}
