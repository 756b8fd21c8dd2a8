package account_test

import (
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/journal"
)

// Bodies as released: a journal keeps them for ever, so each form must go on
// being read. Add to this list and never change it.
func TestReleasedBodies(t *testing.T) {
	kinds := inventory.NewRegistry(account.Events())
	w := &rows{}
	at := time.Date(2026, 11, 24, 6, 0, 0, 0, time.UTC)
	for i, b := range []struct{ kind, body string }{
		{"user.added", `{"user":"mara","name":"Mara","role":"nurse"}`},
		{"user.password_set", `{"user":"mara"}`},
		{"user.signed_in", `{"user":"mara","where":"page"}`},
		{"user.signed_out", `{"user":"mara","signed_in":3}`},
		{"token.issued", `{"user":"mara","label":"scanner","expires":"2027-02-22T06:00:00Z"}`},
		{"token.revoked", `{"token":5}`},
		{"user.changed", `{"user":"mara","name":"Mara F.","role":"quality","active":false}`},
		// About users, sign-ins and tokens that no entry made: nothing.
		{"user.changed", `{"user":"nobody","active":false}`},
		{"user.password_set", `{"user":"nobody"}`},
		{"user.signed_out", `{"user":"nobody","signed_in":3}`},
		{"token.revoked", `{"token":1}`},
	} {
		e := journal.Entry{Seq: uint64(i) + 1, Actor: "ada", Kind: b.kind, Body: []byte(b.body), Happened: at, Recorded: at, Parts: 1}
		if err := kinds.Project(w, e); err != nil {
			t.Errorf("%s %s: %v", b.kind, b.body, err)
		}
		ev, err := kinds.Decode(e)
		if err != nil {
			t.Fatal(err)
		}
		d, err := kinds.Draft(ev, at)
		if err != nil || string(d.Body) != b.body {
			t.Errorf("%s is written as %s, was %s (%v)", b.kind, d.Body, b.body, err)
		}
	}
	if u, s, k := len(w.m["user"]), len(w.m["signin"]), len(w.m["token"]); u != 1 || s != 1 || k != 1 {
		t.Errorf("%d users, %d sign-ins, %d tokens, want one each", u, s, k)
	}
}
