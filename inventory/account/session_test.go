package account_test

import (
	"encoding/base64"
	"errors"
	"testing"
	"time"

	"lotbook/inventory/account"
)

func (u *unit) alive(secret string) bool {
	u.t.Helper()
	_, err := u.Session(ctx, secret)
	if err != nil && !errors.Is(err, account.ErrNoSession) {
		u.t.Fatal(err)
	}
	return err == nil
}

func TestSession(t *testing.T) {
	u := newUnit(t)
	user := u.add("mara", account.Nurse)
	secret, s, err := u.SignIn(ctx, "mara", goodPassword)
	if err != nil {
		t.Fatal(err)
	}
	want := account.Session{
		User: user, SignIn: 3, Began: u.clock(), Seen: u.clock(),
		Ends: u.clock().Add(30 * time.Minute),
	}
	if s != want {
		t.Errorf("signed in as %+v, want %+v", s, want)
	}
	if got, err := u.Session(ctx, secret); err != nil || got != want {
		t.Errorf("session %+v, %v, want %+v", got, err, want)
	}
	if b, err := base64.RawURLEncoding.DecodeString(secret); err != nil || len(b) != 32 {
		t.Errorf("the string %q is not 256 bits", secret)
	}
	if other := u.signIn("mara"); other == secret || !u.alive(other) || !u.alive(secret) {
		t.Error("two sessions of one user are not two")
	}
	for name, s := range map[string]string{
		"empty": "", "cut off": secret[:len(secret)-1], "longer": secret + "A", "other": base64.RawURLEncoding.EncodeToString(make([]byte, 32)),
	} {
		if u.alive(s) {
			t.Errorf("%s: is a session", name)
		}
	}
}

func TestSessionEndsIdle(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	secret := u.signIn("mara")
	u.pass(29 * time.Minute)
	if !u.alive(secret) {
		t.Fatal("ended before its time")
	}
	u.pass(30*time.Minute - time.Nanosecond)
	if !u.alive(secret) {
		t.Fatal("its use did not count")
	}
	u.pass(30 * time.Minute)
	if u.alive(secret) {
		t.Fatal("outlived 30 minutes without use")
	}
	if keys := u.vaultKeys("session/"); len(keys) != 0 {
		t.Errorf("the vault still holds %q", keys)
	}
}

func TestSessionEndsOfAge(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	secret := u.signIn("mara")
	for d := time.Duration(0); d < 12*time.Hour-20*time.Minute; d += 20 * time.Minute {
		u.pass(20 * time.Minute)
		if !u.alive(secret) {
			t.Fatalf("ended after %v", d)
		}
	}
	s, err := u.Session(ctx, secret)
	if err != nil || !s.Ends.Equal(s.Began.Add(12*time.Hour)) {
		t.Errorf("ends %v after it began, %v", s.Ends.Sub(s.Began), err)
	}
	u.pass(20 * time.Minute)
	if u.alive(secret) {
		t.Error("outlived 12 hours")
	}
}

// Reading pages must not write each time; and what is coarse must err on the
// side of ending early.
func TestLastUseIsCoarse(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	session := u.signIn("mara")
	token, err := u.IssueToken(ctx, console, account.NewToken{User: "mara", Label: "scanner"})
	if err != nil {
		t.Fatal(err)
	}
	useToken := func() account.Token {
		t.Helper()
		got, _, err := u.Token(ctx, token.Secret)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if seen := useToken().Seen; !seen.Equal(u.clock()) {
		t.Errorf("the first use of the token was noted as %v", seen)
	}
	before := u.store.v.puts.Load()
	for range 299 {
		u.pass(time.Second)
		if !u.alive(session) {
			t.Fatal("ended")
		}
		useToken()
	}
	if n := u.store.v.puts.Load() - before; n != 0 {
		t.Errorf("uses within 5 minutes wrote %d times", n)
	}
	u.pass(time.Second)
	for range 2 {
		if !u.alive(session) {
			t.Fatal("ended")
		}
		useToken()
	}
	if n := u.store.v.puts.Load() - before; n != 2 {
		t.Errorf("after 5 minutes it was written %d times, want once each", n)
	}
	noted := u.clock()
	u.pass(4 * time.Minute)
	u.alive(session) // not noted
	u.pass(26 * time.Minute)
	if u.alive(session) {
		t.Errorf("outlived 30 minutes since the last noted use at %v", noted)
	}
}

// A store that takes no writes still answers.
func TestSessionLivesWithoutWrites(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	secret := u.signIn("mara")
	u.pass(10 * time.Minute)
	u.store.v.fail = errors.New("disk full")
	if !u.alive(secret) {
		t.Error("a full disk signed somebody out")
	}
}

func TestSignOut(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	secret, other := u.signIn("mara"), u.signIn("mara")
	kept := map[string][]byte{}
	if err := u.store.Vault().Scan(ctx, "session/", func(k string, v []byte) error { kept[k] = v; return nil }); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := u.SignOut(ctx, secret); err != nil {
			t.Fatal(err)
		}
	}
	if u.alive(secret) || !u.alive(other) {
		t.Error("not that session ended, or not it alone")
	}
	es := u.entries()
	if e := es[len(es)-1]; e.Kind != "user.signed_out" || e.Actor != "mara" || len(es) != 5 {
		t.Errorf("%d entries, the last %s by %s", len(es), e.Kind, e.Actor)
	}
	// A use that was under way may write the record back; it stays ended.
	for k, v := range kept {
		if err := u.store.Vault().Put(ctx, k, v); err != nil {
			t.Fatal(err)
		}
	}
	if u.alive(secret) || !u.alive(other) {
		t.Error("a record written back began the session again")
	}
	if err := u.SignOut(ctx, "never was one"); err != nil {
		t.Error(err)
	}
}

// What ends access ends it for good, whatever the vault still holds.
func TestAccessEnds(t *testing.T) {
	active := func(u *unit, v bool) error {
		_, err := u.Change(ctx, console, "mara", account.Change{Active: &v})
		return err
	}
	for name, end := range map[string]func(u *unit) error{
		"password": func(u *unit) error { return u.SetPassword(ctx, console, "mara", goodPassword) },
		"deactivated, then active again": func(u *unit) error {
			return errors.Join(active(u, false), active(u, true))
		},
	} {
		u := newUnit(t)
		u.add("mara", account.Nurse)
		u.add("ben", account.Nurse)
		session, others := u.signIn("mara"), u.signIn("ben")
		token, err := u.IssueToken(ctx, console, account.NewToken{User: "mara", Label: "scanner"})
		if err != nil {
			t.Fatal(err)
		}
		vault := map[string][]byte{}
		if err := u.store.Vault().Scan(ctx, "", func(k string, v []byte) error { vault[k] = v; return nil }); err != nil {
			t.Fatal(err)
		}
		if err := end(u); err != nil {
			t.Fatal(name, err)
		}
		if n := len(u.vaultKeys("session/")); n != 1 {
			t.Errorf("%s: the vault holds %d sessions, want that of the other user", name, n)
		}
		if n := len(u.vaultKeys("token/")); n != 0 {
			t.Errorf("%s: the vault holds %d tokens", name, n)
		}
		for k, v := range vault { // as if it had not been tidied
			if err := u.store.Vault().Put(ctx, k, v); err != nil {
				t.Fatal(err)
			}
		}
		if u.alive(session) {
			t.Errorf("%s: the session goes on", name)
		}
		if _, _, err := u.Token(ctx, token.Secret); !errors.Is(err, account.ErrBadToken) {
			t.Errorf("%s: the token goes on: %v", name, err)
		}
		if !u.alive(others) {
			t.Errorf("%s: another user's session ended", name)
		}
		if !u.alive(u.signIn("mara")) {
			t.Errorf("%s: no new session", name)
		}
	}
}

func TestRoleIsThatOfNow(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	secret := u.signIn("mara")
	if _, err := u.Change(ctx, console, "mara", account.Change{Role: ptr(account.Stock), Name: ptr("Mara F.")}); err != nil {
		t.Fatal(err)
	}
	s, err := u.Session(ctx, secret)
	if err != nil || s.User.Role != account.Stock || s.User.Name != "Mara F." {
		t.Errorf("session %+v, %v", s, err)
	}
}

func TestSweep(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	u.signIn("mara")
	u.pass(20 * time.Minute)
	young := u.signIn("mara")
	short, err := u.IssueToken(ctx, console, account.NewToken{User: "mara", Label: "short", Expires: u.clock().Add(5 * time.Minute)})
	if err != nil {
		t.Fatal(err)
	}
	long, err := u.IssueToken(ctx, console, account.NewToken{User: "mara", Label: "long"})
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"password/mara/0", "password/mara/2", "password/nobody/1"} {
		if err := u.store.Vault().Put(ctx, k, []byte("left over")); err != nil {
			t.Fatal(err)
		}
	}
	u.pass(15 * time.Minute)
	n, err := u.Sweep(ctx)
	if err != nil || n != 5 { // one session, one token, three passwords
		t.Errorf("swept %d, %v, want 5", n, err)
	}
	if _, _, err := u.Token(ctx, short.Secret); !errors.Is(err, account.ErrBadToken) {
		t.Error(err)
	}
	if _, _, err := u.Token(ctx, long.Secret); err != nil || !u.alive(young) {
		t.Error("swept what was in use", err)
	}
	u.signIn("mara")
	if n, err := u.Sweep(ctx); err != nil || n != 0 {
		t.Errorf("swept %d more, %v", n, err)
	}
}
