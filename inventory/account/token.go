package account

import (
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A TokenID is the number of the entry that issued a token.
type TokenID uint64

// A Token lets a program use the API as a user. Its string is not here: only
// who asked for it has it.
type Token struct {
	ID   TokenID
	User UserID
	// Label is what the user calls it, such as the program that uses it.
	Label    string
	Issued   time.Time
	IssuedBy UserID
	Expires  time.Time
	// Revoked is zero if nobody did.
	Revoked time.Time
	// Valid says whether it still works: not expired, not revoked, its user
	// active and with the password of then.
	Valid bool
	// Seen is when it was last used, as coarse as Settings.SeenEvery; zero
	// for never, or unknown.
	Seen time.Time
}

func tokenKey(id TokenID) []byte { return rowcode.AppendNumber(nil, uint64(id)) }

const tokenForm = 1

func putToken(w inventory.Writer, t Token) error {
	e := rowcode.NewEnc(tokenForm, 64+len(t.Label))
	e.Text(string(t.User))
	e.Text(t.Label)
	e.Time(t.Issued)
	e.Text(string(t.IssuedBy))
	e.Time(t.Expires)
	e.Time(t.Revoked)
	return w.Put(tokensIndex, tokenKey(t.ID), e.Bytes())
}

func decodeToken(id TokenID, b []byte) (Token, error) {
	d := rowcode.NewDec(tokenForm, b)
	t := Token{
		ID: id, User: UserID(d.Text()), Label: d.Text(), Issued: d.Time(),
		IssuedBy: UserID(d.Text()), Expires: d.Time(), Revoked: d.Time(),
	}
	if err := d.Err(); err != nil {
		return Token{}, fmt.Errorf("row of token %d: %w", id, err)
	}
	return t, nil
}

func getToken(r inventory.Reader, id TokenID) (t Token, ok bool, err error) {
	b, err := r.Get(tokensIndex, tokenKey(id))
	if err != nil || b == nil {
		return Token{}, false, err
	}
	t, err = decodeToken(id, b)
	return t, err == nil, err
}

// judge sets t.Valid and returns the token's user.
func (t *Token) judge(r inventory.Reader, now time.Time) (User, error) {
	u, ok, err := getUser(r, t.User)
	t.Valid = ok && u.Active && t.Revoked.IsZero() && now.Before(t.Expires) && uint64(t.ID) > u.since
	return u.User, err
}

// tokenRecord is what the Vault holds of a token.
type tokenRecord struct {
	id   TokenID
	seen time.Time
}

const tokenRecordForm = 1

func (t tokenRecord) encode() []byte {
	e := rowcode.NewEnc(tokenRecordForm, 24)
	e.Uint(uint64(t.id))
	e.Time(t.seen)
	return e.Bytes()
}

func decodeTokenRecord(b []byte) (tokenRecord, error) {
	d := rowcode.NewDec(tokenRecordForm, b)
	t := tokenRecord{id: TokenID(d.Uint()), seen: d.Time()}
	return t, d.Err()
}
