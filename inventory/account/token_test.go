package account_test

import (
	"errors"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
)

func TestToken(t *testing.T) {
	u := newUnit(t)
	user := u.add("mara", account.Nurse)
	ada := inventory.Call{Actor: "ada", Key: "1"}
	nt := account.NewToken{User: "mara", Label: " scanner at the door "}
	got, err := u.IssueToken(ctx, ada, nt)
	if err != nil {
		t.Fatal(err)
	}
	want := account.Token{
		ID: 3, User: "mara", Label: "scanner at the door", Issued: u.clock(), IssuedBy: "ada",
		Expires: u.clock().Add(90 * 24 * time.Hour), Valid: true,
	}
	if got.Token != want {
		t.Errorf("issued %+v, want %+v", got.Token, want)
	}
	// Repeated, it is the same token, and nobody knows its string any more.
	again, err := u.IssueToken(ctx, ada, nt)
	if err != nil || again.Token != want || again.Secret != "" {
		t.Errorf("repeated: %+v, %v", again, err)
	}
	if _, err := u.IssueToken(ctx, ada, account.NewToken{User: "mara", Label: "other"}); !errors.Is(err, inventory.ErrKeyReused) {
		t.Errorf("error %v", err)
	}
	used, who, err := u.Token(ctx, got.Secret)
	want.Seen = u.clock()
	if err != nil || used != want || who != user {
		t.Errorf("used: %+v of %+v, %v", used, who, err)
	}
	for _, s := range []string{"", got.Secret[1:], got.Secret + "A"} {
		if _, _, err := u.Token(ctx, s); !errors.Is(err, account.ErrBadToken) {
			t.Errorf("%q: %v", s, err)
		}
	}
	// A session's string is no token's, nor the other way round.
	session := u.signIn("mara")
	if _, _, err := u.Token(ctx, session); !errors.Is(err, account.ErrBadToken) {
		t.Errorf("a session passes as a token: %v", err)
	}
	if u.alive(got.Secret) {
		t.Error("a token passes as a session")
	}
	if ts, err := u.Tokens(ctx, "mara"); err != nil || len(ts) != 1 || ts[0] != want {
		t.Errorf("tokens %+v, %v", ts, err)
	}
	if ts, err := u.Tokens(ctx, "ada"); err != nil || len(ts) != 0 {
		t.Errorf("tokens of another user %+v, %v", ts, err)
	}
	if ts, err := u.Tokens(ctx, ""); err != nil || len(ts) != 1 {
		t.Errorf("all tokens %+v, %v", ts, err)
	}
	if keys := u.vaultKeys("token/"); len(keys) != 1 {
		t.Errorf("the vault holds %q", keys)
	}
}

func TestTokenEnds(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	expires := u.clock().Add(time.Hour)
	a, err := u.IssueToken(ctx, console, account.NewToken{User: "mara", Label: "a", Expires: expires})
	if err != nil {
		t.Fatal(err)
	}
	b, err := u.IssueToken(ctx, console, account.NewToken{User: "mara", Label: "b"})
	if err != nil {
		t.Fatal(err)
	}
	valid := func(secret string) bool {
		_, _, err := u.Token(ctx, secret)
		if err != nil && !errors.Is(err, account.ErrBadToken) {
			t.Fatal(err)
		}
		return err == nil
	}
	u.pass(time.Hour - time.Nanosecond)
	if !valid(a.Secret) || !valid(b.Secret) {
		t.Error("ended before its time")
	}
	u.pass(time.Nanosecond)
	if valid(a.Secret) || !valid(b.Secret) {
		t.Error("outlived its time")
	}
	n := len(u.entries())
	for range 2 {
		got, err := u.RevokeToken(ctx, inventory.Call{Actor: "mara"}, b.ID)
		if err != nil || !got.Revoked.Equal(u.clock()) || got.Valid {
			t.Errorf("revoked: %+v, %v", got, err)
		}
	}
	if valid(b.Secret) {
		t.Error("outlived its revocation")
	}
	if len(u.entries()) != n+1 {
		t.Errorf("revoking twice wrote %d entries", len(u.entries())-n)
	}
	if ts, err := u.Tokens(ctx, "mara"); err != nil || len(ts) != 2 || ts[0].Valid || ts[1].Valid {
		t.Errorf("tokens %+v, %v", ts, err)
	}
	if _, err := u.RevokeToken(ctx, console, 1); !errors.Is(err, account.ErrNoToken) || !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("an entry that is no token: %v", err)
	}
}

func TestTokensRefused(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	u.add("gone", account.Nurse)
	if _, err := u.Change(ctx, console, "gone", account.Change{Active: ptr(false)}); err != nil {
		t.Fatal(err)
	}
	n := len(u.entries())
	for name, c := range map[string]struct {
		nt account.NewToken
		is error
	}{
		"nobody":   {account.NewToken{User: "nobody", Label: "x"}, account.ErrNoUser},
		"inactive": {account.NewToken{User: "gone", Label: "x"}, account.ErrInactive},
		"no label": {account.NewToken{User: "mara"}, inventory.ErrInvalid},
		"past":     {account.NewToken{User: "mara", Label: "x", Expires: u.clock()}, inventory.ErrInvalid},
		"too late": {account.NewToken{User: "mara", Label: "x", Expires: u.clock().Add(367 * 24 * time.Hour)}, inventory.ErrInvalid},
	} {
		if got, err := u.IssueToken(ctx, console, c.nt); !errors.Is(err, c.is) || got.Secret != "" {
			t.Errorf("%s: %v, want %v", name, err, c.is)
		}
	}
	if _, err := u.IssueTokenFor(ctx, "", account.NewToken{User: "mara", Label: "x"}, "four dry umbrellas"); !errors.Is(err, account.ErrBadCredentials) {
		t.Errorf("error %v", err)
	}
	if len(u.entries()) != n {
		t.Error("a refusal was written")
	}
}

// Signing in for a token writes both facts at once, by the user.
func TestTokenForPassword(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	got, err := u.IssueTokenFor(ctx, "", account.NewToken{User: "mara", Label: "curl"}, goodPassword)
	if err != nil {
		t.Fatal(err)
	}
	if _, who, err := u.Token(ctx, got.Secret); err != nil || who.ID != "mara" {
		t.Error(err)
	}
	es := u.entries()
	last := es[len(es)-2:]
	if k := kindsOf(last); k[0] != "mara user.signed_in" || k[1] != "mara token.issued" || last[0].Parts != 2 {
		t.Errorf("the journal ends with %q in %d parts", k, last[0].Parts)
	}
}
