package account_test

import (
	"bytes"
	"context"
	"maps"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
)

// cheap are costs that leave a test its time; nothing here depends on them.
var cheap = account.Params{Memory: 64, Passes: 1, Lanes: 1}

// A unit is a store with accounts, a clock that stands still, and a way to go
// wrong.
type unit struct {
	*account.Accounts
	t     *testing.T
	store *store
	now   *atomic.Int64
}

func (u *unit) clock() time.Time     { return time.Unix(0, u.now.Load()).UTC() }
func (u *unit) pass(d time.Duration) { u.now.Add(int64(d)) }

// settings are the defaults with cheap hashes.
func settings() account.Settings {
	s := account.DefaultSettings()
	s.Hash = cheap
	return s
}

func newUnit(t *testing.T) *unit {
	t.Helper()
	u := &unit{t: t, now: new(atomic.Int64)}
	u.now.Store(time.Date(2026, 11, 24, 6, 0, 0, 0, time.UTC).UnixNano())
	s, err := boltstore.Open(t.TempDir(), boltstore.Options{Clock: u.clock, NoSync: true, InitialMmapSize: 16 << 20})
	if err != nil {
		t.Fatal(err)
	}
	u.store = &store{Store: s}
	u.store.v.Vault = s.Vault()
	t.Cleanup(func() {
		verify(t, s)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	u.open(settings())
	return u
}

// open makes the unit's accounts anew, as a restart with other settings would.
func (u *unit) open(set account.Settings) {
	u.Accounts = account.New(u.store, inventory.NewRegistry(account.Events()), u.clock, set)
}

var (
	ctx     = context.Background()
	console = inventory.Call{Actor: string(account.Console)}
)

const goodPassword = "three wet umbrellas"

// add adds a user of a role who has goodPassword.
func (u *unit) add(id account.UserID, role account.Role) account.User {
	u.t.Helper()
	user, err := u.Add(ctx, console, account.NewUser{ID: id, Name: "Name of " + string(id), Role: role}, goodPassword)
	if err != nil {
		u.t.Fatal(err)
	}
	return user
}

func (u *unit) signIn(id account.UserID) string {
	u.t.Helper()
	secret, _, err := u.SignIn(ctx, id, goodPassword)
	if err != nil {
		u.t.Fatal(err)
	}
	return secret
}

func (u *unit) entries() []journal.Entry {
	u.t.Helper()
	return entries(u.t, u.store)
}

func entries(t *testing.T, s inventory.Store) []journal.Entry {
	t.Helper()
	var es []journal.Entry
	err := s.View(ctx, func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			e.Body = bytes.Clone(e.Body)
			es = append(es, e)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return es
}

// vaultKeys returns the keys of the vault with a prefix.
func (u *unit) vaultKeys(prefix string) []string {
	u.t.Helper()
	var keys []string
	err := u.store.Vault().Scan(ctx, prefix, func(key string, _ []byte) error {
		keys = append(keys, key)
		return nil
	})
	if err != nil {
		u.t.Fatal(err)
	}
	return keys
}

// A store is a real one whose appends and vault can be tampered with.
type store struct {
	inventory.Store
	v vault
	// before runs before an append; an error is its answer.
	before func() error
	// after runs after an append; an error takes the place of its answer.
	after func() error
}

func (s *store) Vault() inventory.Vault { return &s.v }

func (s *store) Append(ctx context.Context, req inventory.Request) (inventory.Receipt, error) {
	if f := s.before; f != nil {
		s.before = nil
		if err := f(); err != nil {
			return inventory.Receipt{}, err
		}
	}
	rec, err := s.Store.Append(ctx, req)
	if f := s.after; f != nil && err == nil {
		s.after = nil
		err = f()
	}
	return rec, err
}

type vault struct {
	inventory.Vault
	puts atomic.Int64
	fail error
}

func (v *vault) Put(ctx context.Context, key string, value []byte) error {
	v.puts.Add(1)
	if v.fail != nil {
		return v.fail
	}
	return v.Vault.Put(ctx, key, value)
}

// verify derives all rows from the journal once more and compares.
func verify(t *testing.T, s inventory.Store) {
	t.Helper()
	again := &rows{}
	kinds := inventory.NewRegistry(account.Events())
	for _, e := range entries(t, s) {
		if err := kinds.Project(again, e); err != nil {
			t.Errorf("entry %d: %v", e.Seq, err)
			return
		}
	}
	for _, ix := range []inventory.Index{"user", "token", "signin"} {
		stored := map[string]string{}
		err := s.View(ctx, func(r inventory.Reader) error {
			return r.Scan(ix, nil, nil, func(k, v []byte) error {
				stored[string(k)] = string(v)
				return nil
			})
		})
		if err != nil {
			t.Error(err)
		}
		if !maps.Equal(stored, again.m[ix]) {
			t.Errorf("index %s: stored %q, derived again %q", ix, stored, again.m[ix])
		}
	}
}

// rows is a Writer over maps.
type rows struct {
	inventory.Reader
	m map[inventory.Index]map[string]string
}

func (r *rows) Get(ix inventory.Index, key []byte) ([]byte, error) {
	if v, ok := r.m[ix][string(key)]; ok {
		return []byte(v), nil
	}
	return nil, nil
}

func (r *rows) Put(ix inventory.Index, key, value []byte) error {
	if r.m == nil {
		r.m = map[inventory.Index]map[string]string{}
	}
	if r.m[ix] == nil {
		r.m[ix] = map[string]string{}
	}
	r.m[ix][string(key)] = string(value)
	return nil
}

func (r *rows) Delete(ix inventory.Index, key []byte) error {
	delete(r.m[ix], string(key))
	return nil
}

func kindsOf(es []journal.Entry) []string {
	return slices.Collect(func(yield func(string) bool) {
		for _, e := range es {
			if !yield(e.Actor + " " + e.Kind) {
				return
			}
		}
	})
}

func ptr[T any](v T) *T { return &v }
