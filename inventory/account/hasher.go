package account

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"sync/atomic"

	"golang.org/x/crypto/argon2"
)

// A Hasher hashes passwords and compares them, a few at a time: each takes
// Params.Memory while it runs, so memory stays below that times atOnce.
type Hasher struct {
	params     Params
	slots      chan struct{}
	waiting    atomic.Int64
	maxWaiting int64
	derive     func(password, salt []byte, passes, memory uint32, lanes uint8, tagLen uint32) []byte
}

// NewHasher returns a Hasher that makes hashes of the given costs, computes at
// most atOnce of them at a time, and lets at most waiting others queue.
func NewHasher(p Params, atOnce, waiting int) *Hasher {
	return &Hasher{
		params:     p,
		slots:      make(chan struct{}, max(1, atOnce)),
		maxWaiting: int64(waiting),
		derive:     argon2.IDKey,
	}
}

// Hash returns the PHC string of a password with a fresh salt. The error is
// ErrBusy, or ctx's.
func (h *Hasher) Hash(ctx context.Context, password string) (string, error) {
	out := phc{Params: h.params, salt: random(saltLen)}
	var err error
	if out.tag, err = h.tag(ctx, out, password, tagLen); err != nil {
		return "", err
	}
	return out.String(), nil
}

// Verify reports whether a PHC string is of this password, and whether it was
// made with other costs than new ones are, so that it should be made again. It
// takes as long for a wrong password as for the right one. The error is
// ErrHash, ErrBusy, or ctx's.
func (h *Hasher) Verify(ctx context.Context, stored, password string) (same, outdated bool, err error) {
	p, err := parsePHC(stored)
	if err != nil {
		return false, false, err
	}
	tag, err := h.tag(ctx, p, password, uint32(len(p.tag)))
	if err != nil {
		return false, false, err
	}
	same = subtle.ConstantTimeCompare(tag, p.tag) == 1
	return same, p.Params != h.params || len(p.salt) != saltLen || len(p.tag) != tagLen, nil
}

// decoy returns a hash that no password has, at the price of one that some
// password has: to be verified where there is no user to verify.
func (h *Hasher) decoy() string {
	return phc{Params: h.params, salt: random(saltLen), tag: random(tagLen)}.String()
}

func (h *Hasher) tag(ctx context.Context, p phc, password string, n uint32) ([]byte, error) {
	select {
	case h.slots <- struct{}{}:
	default:
		if h.waiting.Add(1) > h.maxWaiting {
			h.waiting.Add(-1)
			return nil, ErrBusy
		}
		defer h.waiting.Add(-1)
		select {
		case h.slots <- struct{}{}:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	defer func() { <-h.slots }()
	return h.derive([]byte(password), p.salt, p.Passes, p.Memory, p.Lanes, n), nil
}

// random returns n bytes of the system's generator, which does not fail.
func random(n int) []byte {
	b := make([]byte, n)
	_, _ = rand.Read(b) // never returns an error (crypto/rand, since Go 1.24)
	return b
}
