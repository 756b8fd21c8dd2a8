package account_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"testing/synctest"

	"lotbook/inventory/account"
)

// The PHC strings that the reference implementation's own tests expect of
// argon2id version 0x13. Source: github.com/P-H-C/phc-winner-argon2,
// src/test.c, "Test Argon2id version number". (The test vector of RFC 9106,
// section 5.3, has a secret and associated data, which a PHC string can't
// carry; golang.org/x/crypto/argon2 holds itself to that one.)
var referenceVectors = []struct {
	password, phc string
	large         bool
}{
	{"password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc", true},
	{"password", "$argon2id$v=19$m=262144,t=2,p=1$c29tZXNhbHQ$eP4eyR+zqlZX1y5xCFTkw9m5GYx0L5YWwvCFvtlbLow", true},
	{"password", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", false},
	{"password", "$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc", false},
	{"password", "$argon2id$v=19$m=65536,t=1,p=1$c29tZXNhbHQ$9qWtwbpyPd3vm1rB1GThgPzZ3/ydHL92zKL+15XZypg", true},
	{"differentpassword", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$C4TWUs9rDEvq7w3+J4umqA32aWKB1+DSiRuBfYxFj94", true},
	{"password", "$argon2id$v=19$m=65536,t=2,p=1$ZGlmZnNhbHQ$vfMrBczELrFdWP0ZsfhWsRPaHppYdP3MVEMIVlqoFBw", true},
}

func TestReferenceVectors(t *testing.T) {
	h := account.NewHasher(account.DefaultParams(), 1, 0)
	for _, v := range referenceVectors {
		if v.large && testing.Short() {
			continue
		}
		same, outdated, err := h.Verify(ctx, v.phc, v.password)
		if !same || !outdated || err != nil {
			t.Errorf("%s: same %v, outdated %v, error %v", v.phc, same, outdated, err)
		}
		if same, _, err := h.Verify(ctx, v.phc, v.password+" "); same || err != nil {
			t.Errorf("%s: another password: same %v, error %v", v.phc, same, err)
		}
	}
}

func TestHashComesBack(t *testing.T) {
	h := account.NewHasher(account.DefaultParams(), 1, 0)
	a, err := h.Hash(ctx, goodPassword)
	if err != nil {
		t.Fatal(err)
	}
	// OWASP Password Storage Cheat Sheet: at least m=19456 (19 MiB), t=2, p=1.
	if !strings.HasPrefix(a, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("hash is %s", a)
	}
	if same, outdated, err := h.Verify(ctx, a, goodPassword); !same || outdated || err != nil {
		t.Errorf("same %v, outdated %v, error %v", same, outdated, err)
	}
	b, err := h.Hash(ctx, goodPassword)
	if err != nil || a == b {
		t.Errorf("two hashes of one password are %s and %s (%v): the salt is not fresh", a, b, err)
	}
}

// What the Vault holds may be damaged or come from elsewhere; none of it may
// be taken for a hash, or cost what it asks for.
func TestHashesRefused(t *testing.T) {
	const good = "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"
	h := account.NewHasher(cheap, 1, 0)
	h.WrapDerive(func(account.Derive) account.Derive {
		return func(_, _ []byte, _, _ uint32, _ uint8, _ uint32) []byte {
			t.Error("a hash was computed")
			return nil
		}
	})
	for name, s := range map[string]string{
		"empty":            "",
		"plain":            "password",
		"cut off":          good[:len(good)-1],
		"no tag":           strings.Replace(good, "$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", "", 1),
		"empty tag":        strings.Replace(good, "nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", "", 1),
		"short tag":        strings.Replace(good, "nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", "nf65EOgLrQM", 1),
		"short salt":       strings.Replace(good, "c29tZXNhbHQ", "c29tZQ", 1),
		"padding":          good + "=",
		"argon2i":          strings.Replace(good, "argon2id", "argon2i", 1),
		"version 16":       strings.Replace(good, "v=19", "v=16", 1),
		"no version":       strings.Replace(good, "$v=19", "", 1),
		"4 GiB":            strings.Replace(good, "m=256", "m=4194304", 1),
		"too little":       strings.Replace(good, "m=256", "m=7", 1),
		"no passes":        strings.Replace(good, "t=2", "t=0", 1),
		"a million passes": strings.Replace(good, "t=2", "t=1000000", 1),
		"no lanes":         strings.Replace(good, "p=1", "p=0", 1),
		"256 lanes":        strings.Replace(good, "p=1", "p=256", 1),
		"negative":         strings.Replace(good, "t=2", "t=-2", 1),
		"leading zero":     strings.Replace(good, "t=2", "t=02", 1),
		"other order":      strings.Replace(good, "m=256,t=2", "t=2,m=256", 1),
		"more costs":       strings.Replace(good, "p=1", "p=1,keyid=x", 1),
		"space":            " " + good,
	} {
		if same, _, err := h.Verify(ctx, s, "password"); same || !errors.Is(err, account.ErrHash) {
			t.Errorf("%s: same %v, error %v, want ErrHash", name, same, err)
		}
	}
}

// No more than so many hashes are computed at a time, so many wait, and the
// rest is told to come again.
func TestHashingIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const atOnce, waiting, asked = 2, 3, 8
		h := account.NewHasher(cheap, atOnce, waiting)
		release := make(chan struct{})
		var mu sync.Mutex
		running, most := 0, 0
		h.WrapDerive(func(derive account.Derive) account.Derive {
			return func(password, salt []byte, passes, memory uint32, lanes uint8, n uint32) []byte {
				mu.Lock()
				running++
				most = max(most, running)
				mu.Unlock()
				<-release
				mu.Lock()
				running--
				mu.Unlock()
				return derive(password, salt, passes, memory, lanes, n)
			}
		})
		errs := make(chan error, asked)
		for range asked {
			go func() {
				_, err := h.Hash(t.Context(), goodPassword)
				errs <- err
			}()
		}
		synctest.Wait()
		if running != atOnce {
			t.Errorf("%d hashes are computed at a time, want %d", running, atOnce)
		}
		if len(errs) != asked-atOnce-waiting {
			t.Errorf("%d were sent away, want %d", len(errs), asked-atOnce-waiting)
		}
		for range asked - atOnce - waiting {
			if err := <-errs; !errors.Is(err, account.ErrBusy) {
				t.Errorf("error %v, want ErrBusy", err)
			}
		}
		// The queue is full; when somebody gives up there is room for one.
		close(release)
		for range atOnce + waiting {
			if err := <-errs; err != nil {
				t.Error(err)
			}
		}
		if most != atOnce {
			t.Errorf("%d hashes were computed at a time, want %d", most, atOnce)
		}
	})
}

func TestWaitingForAHashEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := account.NewHasher(cheap, 1, 1)
		release := make(chan struct{})
		h.WrapDerive(func(account.Derive) account.Derive {
			return func(_, _ []byte, _, _ uint32, _ uint8, _ uint32) []byte {
				<-release
				return make([]byte, 32)
			}
		})
		first := make(chan error)
		go func() { _, err := h.Hash(t.Context(), goodPassword); first <- err }()
		synctest.Wait()
		gone, cancel := context.WithCancel(t.Context())
		second := make(chan error)
		go func() { _, err := h.Hash(gone, goodPassword); second <- err }()
		synctest.Wait()
		cancel()
		if err := <-second; !errors.Is(err, context.Canceled) {
			t.Errorf("error %v, want that of the context", err)
		}
		third := make(chan error)
		go func() { _, err := h.Hash(t.Context(), goodPassword); third <- err }()
		synctest.Wait()
		close(release)
		for _, c := range []chan error{first, third} {
			if err := <-c; err != nil {
				t.Errorf("the place of the one who gave up was not free again: %v", err)
			}
		}
	})
}

func BenchmarkVerify(b *testing.B) {
	h := account.NewHasher(account.DefaultParams(), 1, 0)
	stored, err := h.Hash(ctx, goodPassword)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := h.Verify(ctx, stored, goodPassword); err != nil {
			b.Fatal(err)
		}
	}
}
