package account_test

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/account"
)

func TestFirstAdministrator(t *testing.T) {
	u := newUnit(t)
	if _, _, err := u.SignIn(ctx, "root", goodPassword); !errors.Is(err, account.ErrBadCredentials) {
		t.Errorf("somebody signed in to a new unit: %v", err)
	}
	got := u.add("mara", account.Administrator)
	want := account.User{
		ID: "mara", Name: "Name of mara", Role: account.Administrator, Active: true,
		HasPassword: true, Added: u.clock(), Changed: u.clock(),
	}
	if got != want {
		t.Errorf("added %+v, want %+v", got, want)
	}
	u.signIn("mara")
	kinds := kindsOf(u.entries())
	if !slices.Equal(kinds, []string{"@console user.added", "@console user.password_set", "mara user.signed_in"}) {
		t.Errorf("the journal holds %q", kinds)
	}
}

func TestUsersRefused(t *testing.T) {
	u := newUnit(t)
	u.add("mara", account.Nurse)
	before := len(u.entries())
	for name, c := range map[string]struct {
		user     account.NewUser
		password string
		code     string
		is       error
	}{
		"taken":           {account.NewUser{ID: "mara", Name: "M", Role: account.Nurse}, goodPassword, "user_exists", account.ErrUserExists},
		"taken, none set": {account.NewUser{ID: "mara", Name: "M", Role: account.Nurse}, "", "user_exists", inventory.ErrConflict},
		"no id":           {account.NewUser{Name: "M", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"capitals":        {account.NewUser{ID: "Mara", Name: "M", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"digit first":     {account.NewUser{ID: "1mara", Name: "M", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"slash":           {account.NewUser{ID: "a/b", Name: "M", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"zero byte":       {account.NewUser{ID: "a\x00b", Name: "M", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"console":         {account.NewUser{ID: account.Console, Name: "M", Role: account.Administrator}, goodPassword, "invalid", inventory.ErrInvalid},
		"long id":         {account.NewUser{ID: account.UserID(strings.Repeat("a", 33)), Name: "M", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"no name":         {account.NewUser{ID: "ben", Name: "  ", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"control":         {account.NewUser{ID: "ben", Name: "B\nen", Role: account.Nurse}, goodPassword, "invalid", inventory.ErrInvalid},
		"no role":         {account.NewUser{ID: "ben", Name: "B"}, goodPassword, "unknown_role", inventory.ErrInvalid},
		"made-up role":    {account.NewUser{ID: "ben", Name: "B", Role: "owner"}, goodPassword, "unknown_role", inventory.ErrInvalid},
		"weak password":   {account.NewUser{ID: "ben", Name: "B", Role: account.Nurse}, "password123", "common", inventory.ErrInvalid},
	} {
		_, err := u.Add(ctx, console, c.user, c.password)
		if codeOf(err) != c.code || !errors.Is(err, c.is) {
			t.Errorf("%s: %v (code %q), want code %q", name, err, codeOf(err), c.code)
		}
	}
	if after := len(u.entries()); after != before {
		t.Errorf("refusals wrote %d entries", after-before)
	}
	// A name that was taken keeps its password.
	u.signIn("mara")
	if keys := u.vaultKeys("password/"); !slices.Equal(keys, []string{"password/mara/1"}) {
		t.Errorf("the vault holds %q", keys)
	}
}

func TestChanges(t *testing.T) {
	u := newUnit(t)
	u.add("ada", account.Administrator)
	u.add("mara", account.Nurse)
	by := inventory.Call{Actor: "ada"}
	got, err := u.Change(ctx, by, "mara", account.Change{Name: ptr(" Mara F. "), Role: ptr(account.Quality)})
	if err != nil || got.Name != "Mara F." || got.Role != account.Quality || !got.Active {
		t.Errorf("changed to %+v, %v", got, err)
	}
	n := len(u.entries())
	if _, err := u.Change(ctx, by, "mara", account.Change{Name: ptr("Mara F."), Active: ptr(true)}); err != nil {
		t.Error(err)
	}
	if len(u.entries()) != n {
		t.Error("a change to what was so already was written")
	}
	if _, err := u.Change(ctx, by, "nobody", account.Change{Active: ptr(false)}); !errors.Is(err, account.ErrNoUser) || !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("error %v", err)
	}
	if _, err := u.Change(ctx, by, "mara", account.Change{Role: ptr(account.Role("owner"))}); codeOf(err) != "unknown_role" {
		t.Errorf("error %v", err)
	}
	us, err := u.Users(ctx)
	if err != nil || len(us) != 2 || us[0].ID != "ada" || us[1] != got {
		t.Errorf("users %+v, %v", us, err)
	}
}

func TestAnAdministratorRemains(t *testing.T) {
	u := newUnit(t)
	u.add("ada", account.Administrator)
	u.add("mara", account.Nurse)
	for name, c := range map[string]account.Change{
		"deactivate": {Active: ptr(false)},
		"demote":     {Role: ptr(account.Nurse)},
	} {
		if _, err := u.Change(ctx, console, "ada", c); !errors.Is(err, account.ErrLastAdministrator) || !errors.Is(err, inventory.ErrConflict) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := u.Change(ctx, console, "ada", account.Change{Name: ptr("Ada")}); err != nil {
		t.Error("a name is no matter of roles:", err)
	}
	u.add("bea", account.Administrator)
	if _, err := u.Change(ctx, console, "ada", account.Change{Active: ptr(false)}); err != nil {
		t.Error(err)
	}
	// An inactive administrator is none.
	if _, err := u.Change(ctx, console, "bea", account.Change{Active: ptr(false)}); !errors.Is(err, account.ErrLastAdministrator) {
		t.Errorf("error %v", err)
	}
}

func TestKeys(t *testing.T) {
	u := newUnit(t)
	u.add("ada", account.Administrator)
	call := func(key string) inventory.Call { return inventory.Call{Actor: "ada", Key: key} }
	nu := account.NewUser{ID: "mara", Name: "Mara", Role: account.Nurse}
	first, err := u.Add(ctx, call("1"), nu, goodPassword)
	if err != nil {
		t.Fatal(err)
	}
	n := len(u.entries())
	if again, err := u.Add(ctx, call("1"), nu, goodPassword); err != nil || again != first {
		t.Errorf("repeated: %+v, %v", again, err)
	}
	other := nu
	other.Name = "Mira"
	if _, err := u.Add(ctx, call("1"), other, goodPassword); !errors.Is(err, inventory.ErrKeyReused) {
		t.Errorf("another name under the same key: %v", err)
	}
	if _, err := u.Add(ctx, call("1"), nu, "four dry umbrellas"); !errors.Is(err, inventory.ErrKeyReused) {
		t.Errorf("another password under the same key: %v", err)
	}
	if _, err := u.Add(ctx, call("1"), nu, ""); !errors.Is(err, inventory.ErrKeyReused) {
		t.Errorf("no password under the same key: %v", err)
	}
	u.signIn("mara")

	// A password set again and again with one key is set once.
	for range 2 {
		if err := u.SetPassword(ctx, call("2"), "mara", "four dry umbrellas"); err != nil {
			t.Fatal(err)
		}
	}
	if err := u.SetPassword(ctx, call("2"), "mara", "five dry umbrellas"); !errors.Is(err, inventory.ErrKeyReused) {
		t.Errorf("another password under the same key: %v", err)
	}
	if got := len(u.entries()) - n; got != 2 { // signed in, password set
		t.Errorf("%d entries, want 2", got)
	}
	if _, _, err := u.SignIn(ctx, "mara", "four dry umbrellas"); err != nil {
		t.Error(err)
	}
	if keys := u.vaultKeys("password/mara/"); !slices.Equal(keys, []string{"password/mara/2"}) {
		t.Errorf("the vault holds %q", keys)
	}
}

// Nothing in the journal may help to find a secret: it can't be taken out again.
func TestJournalHoldsNoSecrets(t *testing.T) {
	var digests [2][]string
	for i, password := range []string{goodPassword, "four dry umbrellas"} {
		u := newUnit(t)
		call := inventory.Call{Actor: string(account.Console), Key: "k"}
		if _, err := u.Add(ctx, call, account.NewUser{ID: "mara", Name: "Mara", Role: account.Nurse}, password); err != nil {
			t.Fatal(err)
		}
		call.Key = "l"
		if err := u.SetPassword(ctx, call, "mara", password+"!"); err != nil {
			t.Fatal(err)
		}
		hash, err := u.store.Vault().Get(ctx, "password/mara/2")
		if err != nil || !bytes.HasPrefix(hash, []byte("$argon2id$")) {
			t.Fatalf("hash %q, %v", hash, err)
		}
		session, _, err := u.SignIn(ctx, "mara", password+"!")
		if err != nil {
			t.Fatal(err)
		}
		token, err := u.IssueTokenFor(ctx, "m", account.NewToken{User: "mara", Label: "scanner"}, password+"!")
		if err != nil {
			t.Fatal(err)
		}
		parts := strings.Split(string(hash), "$")
		for _, e := range u.entries() {
			digests[i] = append(digests[i], e.Digest.String())
			b := e.AppendCanonical(nil)
			for _, secret := range []string{password, parts[4], parts[5], session, token.Secret} {
				if bytes.Contains(b, []byte(secret)) {
					t.Errorf("entry %d holds %q", e.Seq, secret)
				}
			}
		}
		// Nor does the vault hold what lets anybody in.
		err = u.store.Vault().Scan(ctx, "", func(key string, value []byte) error {
			for _, secret := range []string{password, session, token.Secret} {
				if strings.Contains(key, secret) || bytes.Contains(value, []byte(secret)) {
					t.Errorf("the vault holds %q under %s", secret, key)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(digests[0]) != 6 || !slices.Equal(digests[0], digests[1]) {
		t.Errorf("digests depend on the password: %q and %q", digests[0], digests[1])
	}
}
