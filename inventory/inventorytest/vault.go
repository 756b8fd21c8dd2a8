package inventorytest

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory"
)

func (b *bench) wantSecret(key, want string) {
	b.Helper()
	v, err := b.store.Vault().Get(b.ctx, key)
	got := string(v)
	if v == nil {
		got = "-"
	}
	if err != nil || got != want {
		b.Errorf("the vault has %q = %q (%v), want %q", key, got, err, want)
	}
}

func (b *bench) must(err error) {
	b.Helper()
	if err != nil {
		b.Fatal(err)
	}
}

func testVault(t *testing.T, target Target) {
	b := setUp(t, target)
	v := b.store.Vault()
	b.wantSecret("a", "-")
	b.must(v.Delete(b.ctx, "a"))
	value := []byte("one")
	b.must(v.Put(b.ctx, "a", value))
	copy(value, "two") // Put has copied it
	b.must(v.Put(b.ctx, "empty", nil))
	b.wantSecret("a", "one")
	b.wantSecret("empty", "")
	got, err := v.Get(b.ctx, "a")
	b.must(err)
	copy(got, "two") // Get has copied it
	b.wantSecret("a", "one")
	b.must(v.Put(b.ctx, "a", []byte("three")))
	b.must(v.Put(b.ctx, "b", []byte("four")))
	b.must(v.Delete(b.ctx, "b"))
	b.reopen()
	b.wantSecret("a", "three")
	b.wantSecret("b", "-")
	b.wantSecret("empty", "")
	b.wantHead(0) // none of it is in the journal
}

func testVaultScan(t *testing.T, target Target) {
	b := setUp(t, target)
	v := b.store.Vault()
	for _, k := range []string{"session/2", "user/1", "session/1", "session", "session/10", "t"} {
		b.must(v.Put(b.ctx, k, []byte("value of "+k)))
	}
	for prefix, want := range map[string][]string{
		"session/": {"session/1", "session/10", "session/2"},
		"session":  {"session", "session/1", "session/10", "session/2"},
		"":         {"session", "session/1", "session/10", "session/2", "t", "user/1"},
		"none":     nil,
	} {
		var got []string
		err := v.Scan(b.ctx, prefix, func(k string, val []byte) error {
			if string(val) != "value of "+k {
				t.Errorf("the scan has %q = %q", k, val)
			}
			got = append(got, k)
			copy(val, "xxxxxxxxxxxx")
			return nil
		})
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("scan of %q: %q (%v), want %q", prefix, got, err, want)
		}
	}
	b.wantSecret("session/1", "value of session/1")
	// The function may use the vault: sign-outs delete as they scan.
	b.must(v.Scan(b.ctx, "session/", func(k string, _ []byte) error { return v.Delete(b.ctx, k) }))
	b.wantSecret("session/1", "-")
	b.wantSecret("session", "value of session")
	n := 0
	err := v.Scan(b.ctx, "", func(string, []byte) error { n++; return errTest })
	if !errors.Is(err, errTest) || n != 1 {
		t.Errorf("an error at the first pair: error %v after %d", err, n)
	}
	n = 0
	err = v.Scan(b.ctx, "", func(string, []byte) error { n++; return inventory.ErrStop })
	if err != nil || n != 1 {
		t.Errorf("ErrStop at the first pair: error %v after %d", err, n)
	}
}

func testVaultLimits(t *testing.T, target Target) {
	b := setUp(t, target)
	v := b.store.Vault()
	long := strings.Repeat("x", 4096)
	b.must(v.Put(b.ctx, long, []byte(long)))
	b.wantSecret(long, long)
	if err := v.Put(b.ctx, long+"x", nil); err == nil {
		t.Error("a key of 4097 bytes was taken")
	}
	if err := v.Put(b.ctx, "k", []byte(long+"x")); err == nil {
		t.Error("a value of 4097 bytes was taken")
	}
	b.wantSecret("k", "-")
	b.change() // none of it has hurt the store
}
