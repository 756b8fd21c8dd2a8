package account_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
)

// Whoever is asked for, and whatever is wrong, one hash is computed, at the
// same costs: the time that it takes is nearly all of the answer's. This is
// what keeps an outsider from learning names (OWASP Authentication Cheat
// Sheet, "Authentication and Error Messages").
func TestEveryAttemptCostsTheSame(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	u.add("gone", account.Nurse)
	if _, err := u.Change(ctx, console, "gone", account.Change{Active: ptr(false)}); err != nil {
		t.Fatal(err)
	}
	if _, err := u.Add(ctx, console, account.NewUser{ID: "new", Name: "New", Role: account.Nurse}, ""); err != nil {
		t.Fatal(err)
	}
	type cost struct {
		passes, memory uint32
		lanes          uint8
		salt, tag      int
	}
	var costs []cost
	u.Hasher().WrapDerive(func(derive account.Derive) account.Derive {
		return func(password, salt []byte, passes, memory uint32, lanes uint8, n uint32) []byte {
			if len(password) > 4*account.MaxPassword {
				t.Errorf("%d bytes were hashed: the time grows with what anybody sends", len(password))
			}
			costs = append(costs, cost{passes, memory, lanes, len(salt), int(n)})
			return derive(password, salt, passes, memory, lanes, n)
		}
	})
	want := cost{cheap.Passes, cheap.Memory, cheap.Lanes, 16, 32}
	for _, c := range []struct {
		id       account.UserID
		password string
		want     error
	}{
		{"mara", goodPassword, nil},
		{"mara", "four dry umbrellas", account.ErrBadCredentials},
		{"mara", "", account.ErrBadCredentials},
		{"mara", strings.Repeat("x", 1<<20), account.ErrBadCredentials},
		{"nobody", goodPassword, account.ErrBadCredentials},
		{"", goodPassword, account.ErrBadCredentials},
		{account.Console, goodPassword, account.ErrBadCredentials},
		{"mara/1", goodPassword, account.ErrBadCredentials},
		{"a\x00b", goodPassword, account.ErrBadCredentials},
		{account.UserID(strings.Repeat("x", 1<<20)), goodPassword, account.ErrBadCredentials},
		{"gone", "four dry umbrellas", account.ErrBadCredentials},
		{"gone", goodPassword, account.ErrInactive},
		{"new", "", account.ErrBadCredentials},
		{"new", goodPassword, account.ErrBadCredentials},
	} {
		costs = nil
		n := len(u.entries())
		secret, _, err := u.SignIn(ctx, c.id, c.password)
		if !errors.Is(err, c.want) || (err == nil) != (secret != "") {
			t.Errorf("%.20q, %.20q: secret %q, error %v, want %v", c.id, c.password, secret, err, c.want)
		}
		if len(costs) != 1 || costs[0] != want {
			t.Errorf("%.20q, %.20q: cost %+v, want once %+v", c.id, c.password, costs, want)
		}
		if wrote := len(u.entries()) - n; (wrote == 1) != (err == nil) || wrote > 1 {
			t.Errorf("%.20q: wrote %d entries", c.id, wrote)
		}
	}
}

// A hash made at other costs serves on, and is made again by the next sign-in.
func TestRehash(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	set := settings()
	set.Hash = account.Params{Memory: 128, Passes: 2, Lanes: 1}
	u.open(set)
	hash := func() string {
		b, err := u.store.Vault().Get(ctx, "password/mara/1")
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if !strings.Contains(hash(), "$m=64,t=1,p=1$") {
		t.Fatalf("hash %s", hash())
	}
	if _, _, err := u.SignIn(ctx, "mara", "four dry umbrellas"); !errors.Is(err, account.ErrBadCredentials) {
		t.Fatal(err)
	}
	if !strings.Contains(hash(), "$m=64,t=1,p=1$") {
		t.Fatalf("a wrong password was hashed into %s", hash())
	}
	session := u.signIn("mara")
	if !strings.Contains(hash(), "$m=128,t=2,p=1$") {
		t.Fatalf("hash %s", hash())
	}
	u.signIn("mara")
	if _, err := u.Session(ctx, session); err != nil {
		t.Errorf("the same password hashed again ended a session: %v", err)
	}
	// A Vault that takes nothing does not keep anybody out.
	set.Hash = cheap
	u.open(set)
	u.store.v.fail = errors.New("disk full")
	if _, err := u.IssueTokenFor(ctx, "", account.NewToken{User: "mara", Label: "x"}, goodPassword); err == nil {
		t.Error("a token was issued that nobody can look up")
	}
	u.store.v.fail = nil
	if !strings.Contains(hash(), "$m=128,t=2,p=1$") {
		t.Fatalf("hash %s", hash())
	}
	u.signIn("mara")
}

// Between checking a password and writing the sign-in it may stop to be so.
func TestSignInLosesARace(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(u *unit) error
		want error
	}{
		"password": {func(u *unit) error { return u.SetPassword(ctx, console, "mara", "four dry umbrellas") }, account.ErrBadCredentials},
		"deactivated": {func(u *unit) error {
			_, err := u.Change(ctx, console, "mara", account.Change{Active: ptr(false)})
			return err
		}, account.ErrInactive},
	} {
		u := newUnit(t)
		u.add("mara", account.Nurse)
		u.store.before = func() error { return c.do(u) }
		if secret, _, err := u.SignIn(ctx, "mara", goodPassword); secret != "" || !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
		if keys := u.vaultKeys("session/"); len(keys) != 0 {
			t.Errorf("%s: the vault holds %q", name, keys)
		}
	}
}

func TestChangePassword(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	session := u.signIn("mara")
	mara := inventory.Call{Actor: "mara"}
	if err := u.ChangePassword(ctx, mara, "not it at all", "four dry umbrellas"); !errors.Is(err, account.ErrBadCredentials) {
		t.Errorf("error %v", err)
	}
	if err := u.ChangePassword(ctx, mara, goodPassword, "short"); codeOf(err) != "too_short" {
		t.Errorf("error %v", err)
	}
	if _, err := u.Session(ctx, session); err != nil {
		t.Errorf("an attempt ended the session: %v", err)
	}
	if err := u.ChangePassword(ctx, mara, goodPassword, "four dry umbrellas"); err != nil {
		t.Fatal(err)
	}
	if _, err := u.Session(ctx, session); !errors.Is(err, account.ErrNoSession) {
		t.Errorf("the session outlived the password: %v", err)
	}
	if _, _, err := u.SignIn(ctx, "mara", goodPassword); !errors.Is(err, account.ErrBadCredentials) {
		t.Errorf("the old password lets in: %v", err)
	}
	if _, _, err := u.SignIn(ctx, "mara", "four dry umbrellas"); err != nil {
		t.Error(err)
	}
	es := u.entries()
	if e := es[len(es)-2]; e.Kind != "user.password_set" || e.Actor != "mara" {
		t.Errorf("the author of the change is %q (%s)", e.Actor, e.Kind)
	}
}

// The hash goes to the Vault before the journal says so; what happens between
// must leave exactly one password in force.
func TestPasswordSetIsAllOrNothing(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	const other = "four dry umbrellas"
	in := func(password string) bool {
		_, _, err := u.SignIn(ctx, "mara", password)
		if err != nil && !errors.Is(err, account.ErrBadCredentials) {
			t.Fatal(err)
		}
		return err == nil
	}
	boom := errors.New("no space left")

	u.store.before = func() error { return boom }
	if err := u.SetPassword(ctx, console, "mara", other); !errors.Is(err, boom) {
		t.Fatal(err)
	}
	if !in(goodPassword) || in(other) {
		t.Error("a change that was not written counts")
	}
	if keys := u.vaultKeys("password/"); len(keys) != 1 {
		t.Errorf("the vault holds %q", keys)
	}

	u.store.before = func() error { return inventory.ErrUnknownOutcome }
	if err := u.SetPassword(ctx, console, "mara", other); !errors.Is(err, inventory.ErrUnknownOutcome) {
		t.Fatal(err)
	}
	if !in(goodPassword) || in(other) {
		t.Error("a change of unknown outcome that was not written counts")
	}

	u.store.after = func() error { return inventory.ErrUnknownOutcome }
	if err := u.SetPassword(ctx, console, "mara", other); !errors.Is(err, inventory.ErrUnknownOutcome) {
		t.Fatal(err)
	}
	if in(goodPassword) || !in(other) {
		t.Error("a change of unknown outcome that was written does not count")
	}
	if _, err := u.Sweep(ctx); err != nil {
		t.Fatal(err)
	}
	if !in(other) {
		t.Error("the sweep took the password in force")
	}
	if keys := u.vaultKeys("password/"); len(keys) != 1 {
		t.Errorf("the vault holds %q", keys)
	}

	u.store.v.fail = boom
	if err := u.SetPassword(ctx, console, "mara", goodPassword); !errors.Is(err, boom) {
		t.Fatal(err)
	}
	u.store.v.fail = nil
	if in(goodPassword) || !in(other) {
		t.Error("a change whose hash could not be kept counts")
	}
}

func TestSignInRecords(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	u.add("maran", account.Nurse) // an id that begins as the other
	began := u.clock()
	first := u.signIn("mara")
	u.signIn("maran")
	u.pass(time.Minute)
	if _, err := u.IssueTokenFor(ctx, "", account.NewToken{User: "mara", Label: "scanner"}, goodPassword); err != nil {
		t.Fatal(err)
	}
	u.pass(time.Minute)
	if err := u.SignOut(ctx, first); err != nil {
		t.Fatal(err)
	}
	got, err := u.SignIns(ctx, "mara", 0, 10)
	if err != nil || len(got) != 2 {
		t.Fatalf("records %+v, %v", got, err)
	}
	if s := got[0]; s.Where != account.AtToken || !s.In.Equal(began.Add(time.Minute)) || !s.Out.IsZero() || s.User != "mara" {
		t.Errorf("the latest is %+v", s)
	}
	if s := got[1]; s.Where != account.AtPage || !s.In.Equal(began) || !s.Out.Equal(began.Add(2*time.Minute)) {
		t.Errorf("the first is %+v", s)
	}
	if one, err := u.SignIns(ctx, "mara", 0, 1); err != nil || len(one) != 1 || one[0] != got[0] {
		t.Errorf("at most one: %+v, %v", one, err)
	}
	if rest, err := u.SignIns(ctx, "mara", got[0].Seq, 10); err != nil || len(rest) != 1 || rest[0] != got[1] {
		t.Errorf("before the latest: %+v, %v", rest, err)
	}
}
