package account_test

import (
	"errors"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/account"
)

func codeOf(err error) string {
	var r *inventory.Refusal
	if errors.As(err, &r) {
		return r.Code
	}
	return ""
}

// Minimum length, no composition rules, a list of the commonest and the names
// of user and service refused: NIST SP 800-63B, section 5.1.1.2.
func TestPasswordRules(t *testing.T) {
	for _, c := range []struct{ password, code string }{
		{"", "too_short"},
		{"123456789", "too_short"},
		{"ninechars", "too_short"},
		{"äöüäöüäöü", "too_short"},      // 9 characters, 18 bytes
		{"a\u0308bcdefgh", "too_short"}, // "ä" from two code points is one character
		{strings.Repeat("wet umbrella ", 79), "too_long"},
		{"\xff\xfe\xfd\xfc\xfb\xfa\xf9\xf8\xf7\xf6", "invalid"},
		{"1234567890", "common"},
		{"9876543210", "common"},
		{"qwertyuiop", "common"},
		{"1q2w3e4r5t", "common"},
		{"password12", "common"},
		{"Password2026!", "common"},
		{"PASSWORD!!!", "common"},
		{"Welcome2026", "common"},
		{"dialysis-2026", "common"},
		{"lotbook12345", "common"},
		{"aaaaaaaaaa", "common"},
		{"abababababab", "common"},
		{"abcabcabcabc", "common"},
		{"m.fictional", "own_name"},
		{"M.Fictional7", "own_name"},
		{"Mara Fictional", "own_name"},
		{"marafictional1", "own_name"},

		{"three wet umbrellas", ""},
		{"tenletters", ""}, // exactly 10
		{"4815926037", ""}, // digits alone, and not a run
		{"          x", ""},
		{"пять зонтов", ""},
		{strings.Repeat("wet umbrel", 102) + "last", ""}, // exactly 1024
	} {
		err := account.CheckPassword(c.password, "m.fictional", "Mara Fictional")
		if codeOf(err) != c.code || (err == nil) != (c.code == "") {
			t.Errorf("%.40q: %v, want code %q", c.password, err, c.code)
		}
		if err != nil && !errors.Is(err, inventory.ErrInvalid) {
			t.Errorf("%.40q: %v is not ErrInvalid", c.password, err)
		}
	}
}

// The same characters typed at keyboards that compose them differently (NFC,
// RFC 8265, section 4.2).
func TestPasswordIsNormalized(t *testing.T) {
	u := newUnit(t)
	if _, err := u.Add(ctx, console, account.NewUser{ID: "mara", Name: "Mara", Role: account.Nurse}, "na\u00efve umbrella"); err != nil {
		t.Fatal(err)
	}
	if _, _, err := u.SignIn(ctx, "mara", "nai\u0308ve umbrella"); err != nil {
		t.Error(err)
	}
	if _, _, err := u.SignIn(ctx, "mara", "naive umbrella"); !errors.Is(err, account.ErrBadCredentials) {
		t.Errorf("error %v", err)
	}
}
