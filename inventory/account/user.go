package account

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A UserID is a login name: 1 to 32 lower-case letters, digits, dots, hyphens
// and underscores, the first a letter. It is the actor of journal entries and
// never changes nor passes to somebody else.
type UserID string

// Console is the author of what is done at the command line by whoever runs
// the machine. It is no user: nobody can be called so, nor sign in.
const Console UserID = "@console"

// NormalID returns what somebody typed as a login name in its one form,
// without spaces around and in lower case. Whether it is an id at all is for
// CheckID to say.
func NormalID(s string) UserID { return UserID(strings.ToLower(strings.TrimSpace(s))) }

// CheckID returns a Refusal if id can't be a login name.
func CheckID(id UserID) error {
	ok := len(id) >= 1 && len(id) <= 32 && id[0] >= 'a' && id[0] <= 'z'
	for _, c := range []byte(id) {
		ok = ok && (c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '.' || c == '-' || c == '_')
	}
	if !ok {
		return invalid("id", "invalid", fmt.Sprintf("%q can't be a login name", id),
			"use 1 to 32 lower-case letters a-z, digits, dots, hyphens and underscores, beginning with a letter")
	}
	return nil
}

// checkName returns a display name trimmed, or a Refusal.
func checkName(name string) (string, error) {
	name = strings.TrimSpace(name)
	n := utf8.RuneCountInString(name)
	if n < 1 || n > 100 || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl) {
		return "", invalid("name", "invalid", "this can't be a user's name", "use 1 to 100 characters, none of them a control character")
	}
	return name, nil
}

// A User is somebody who may use the tool.
type User struct {
	ID     UserID
	Name   string
	Role   Role
	Active bool
	// HasPassword is false until a first password was set: the user can't
	// sign in before.
	HasPassword bool
	// Added is when the user was added, Changed when anything about them
	// was last changed, their password included.
	Added, Changed time.Time
}

// userRow is a User as derived from the journal.
type userRow struct {
	User
	// passwords counts those that were set; the last one is in force.
	// passwordSeq is the entry that set it.
	passwords, passwordSeq uint64
	// since is the last entry that ended the user's access: sessions and
	// tokens count only from entries after it.
	since uint64
}

// The indexes of this package, and the keys of their rows.
const (
	usersIndex   inventory.Index = "user"   // text user -> userRow
	tokensIndex  inventory.Index = "token"  // number of the entry that issued it -> tokenRow
	signInsIndex inventory.Index = "signin" // text user, number of the entry -> signInRow
)

func userKey(id UserID) []byte { return rowcode.AppendText(nil, string(id)) }

const userForm = 1

func (u *userRow) encode() []byte {
	e := rowcode.NewEnc(userForm, 64+len(u.Name))
	e.Text(u.Name)
	e.Text(string(u.Role))
	e.Flag(u.Active)
	e.Time(u.Added)
	e.Time(u.Changed)
	e.Uint(u.passwords)
	e.Uint(u.passwordSeq)
	e.Uint(u.since)
	return e.Bytes()
}

func decodeUser(id UserID, b []byte) (userRow, error) {
	var u userRow
	d := rowcode.NewDec(userForm, b)
	u.ID = id
	u.Name = d.Text()
	u.Role = Role(d.Text())
	u.Active = d.Flag()
	u.Added = d.Time()
	u.Changed = d.Time()
	u.passwords = d.Uint()
	u.passwordSeq = d.Uint()
	u.since = d.Uint()
	u.HasPassword = u.passwords > 0
	if err := d.Err(); err != nil {
		return userRow{}, fmt.Errorf("row of user %s: %w", id, err)
	}
	return u, nil
}

// getUser reads a user's row; ok is false if there is none.
func getUser(r inventory.Reader, id UserID) (u userRow, ok bool, err error) {
	if !rowcode.Valid(string(id)) {
		return userRow{}, false, nil
	}
	b, err := r.Get(usersIndex, userKey(id))
	if err != nil || b == nil {
		return userRow{}, false, err
	}
	u, err = decodeUser(id, b)
	return u, err == nil, err
}

func putUser(w inventory.Writer, u userRow) error {
	return w.Put(usersIndex, userKey(u.ID), u.encode())
}

// scanUsers calls fn for every user in the order of their ids.
func scanUsers(r inventory.Reader, fn func(userRow) error) error {
	return r.Scan(usersIndex, nil, nil, func(key, value []byte) error {
		k := rowcode.ReadKey(key)
		id := UserID(k.Text())
		if err := k.Err(); err != nil {
			return err
		}
		u, err := decodeUser(id, value)
		if err != nil {
			return err
		}
		return fn(u)
	})
}
