package account

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"sync"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Settings are what a unit may choose about its accounts.
type Settings struct {
	// SessionIdle ends a session that was not used for so long, SessionMax
	// one that began so long ago.
	SessionIdle, SessionMax time.Duration
	// TokenLife is how long a token lasts if nothing else is asked for,
	// TokenMax the most that may be asked for.
	TokenLife, TokenMax time.Duration
	// SeenEvery is how coarsely the last use of a session or token is kept:
	// using one writes to the Vault no more often. A session may therefore
	// end that much before it was idle for SessionIdle, and never after.
	SeenEvery time.Duration
	// Hash are the costs of new password hashes; older ones are made again
	// when their user next signs in.
	Hash Params
	// HashAtOnce bounds how many passwords are hashed at the same time,
	// HashWaiting how many others wait for their turn.
	HashAtOnce, HashWaiting int
	// Log receives what a caller can't be told, such as that the Vault could
	// not be tidied; nil for nowhere. Never a secret.
	Log *slog.Logger
}

// DefaultSettings returns sessions of 30 minutes idle and 12 hours at most
// (OWASP Session Management Cheat Sheet: 15 to 30 minutes idle for low-risk
// applications; a shift and its handing over), tokens of 90 days and at most
// 366, and two hashes of 19 MiB at a time.
func DefaultSettings() Settings {
	return Settings{
		SessionIdle: 30 * time.Minute,
		SessionMax:  12 * time.Hour,
		TokenLife:   90 * 24 * time.Hour,
		TokenMax:    366 * 24 * time.Hour,
		SeenEvery:   5 * time.Minute,
		Hash:        DefaultParams(),
		HashAtOnce:  2,
		HashWaiting: 64,
	}
}

// Accounts keeps the users of one unit. All methods are safe for use by many
// goroutines; a store has one Accounts at a time.
type Accounts struct {
	store  inventory.Store
	vault  inventory.Vault
	kinds  *inventory.Registry
	now    func() time.Time
	set    Settings
	hasher *Hasher
	log    *slog.Logger
	// passwords is held while a password is replaced: between the Vault's
	// write and the journal's no other may take the same number.
	passwords sync.Mutex
}

// New returns the Accounts in a store. kinds must know Events. now is the
// clock.
func New(store inventory.Store, kinds *inventory.Registry, now func() time.Time, set Settings) *Accounts {
	a := &Accounts{
		store: store, vault: store.Vault(), kinds: kinds, now: now, set: set,
		hasher: NewHasher(set.Hash, set.HashAtOnce, set.HashWaiting),
		log:    set.Log,
	}
	if a.log == nil {
		a.log = slog.New(slog.DiscardHandler)
	}
	return a
}

// append writes events as call asks: by its actor, under its key. Its Happened
// is not looked at, since access is given and ended when it is and never
// before. asked is what was asked for, in words that hold no secret: the digest
// of it is kept for ever.
func (a *Accounts) append(ctx context.Context, call inventory.Call, asked any, decide func(inventory.Reader) ([]inventory.Event, error)) (inventory.Receipt, error) {
	body, err := json.Marshal(asked)
	if err != nil {
		return inventory.Receipt{}, err
	}
	return a.store.Append(ctx, inventory.Request{
		Actor:  call.Actor,
		Key:    call.Key,
		Digest: journal.Hash(sha256.Sum256(body)),
		Decide: func(r inventory.Reader) ([]inventory.Draft, error) {
			evs, err := decide(r)
			if err != nil {
				return nil, err
			}
			return a.kinds.Drafts(time.Time{}, evs...)
		},
	})
}

// Users returns all users, those deactivated too, in the order of their ids.
func (a *Accounts) Users(ctx context.Context) ([]User, error) {
	var us []User
	err := a.store.View(ctx, func(r inventory.Reader) error {
		us = us[:0]
		return scanUsers(r, func(u userRow) error {
			us = append(us, u.User)
			return nil
		})
	})
	return us, err
}

// User returns one user, or an error that is ErrNoUser.
func (a *Accounts) User(ctx context.Context, id UserID) (User, error) {
	u, err := a.row(ctx, id)
	return u.User, err
}

func (a *Accounts) row(ctx context.Context, id UserID) (userRow, error) {
	var u userRow
	err := a.store.View(ctx, func(r inventory.Reader) error {
		var err error
		u, err = mustUser(r, id)
		return err
	})
	return u, err
}

// mustUser reads a user's row; the error is ErrNoUser if there is none.
func mustUser(r inventory.Reader, id UserID) (userRow, error) {
	u, ok, err := getUser(r, id)
	if err == nil && !ok {
		err = fmt.Errorf("%w: %q", ErrNoUser, id)
	}
	return u, err
}

// The keys of the Vault.
const (
	passwordPrefix = "password/"
	sessionPrefix  = "session/"
	tokenPrefix    = "token/"
)

func passwordKey(id UserID, n uint64) string {
	return passwordPrefix + string(id) + "/" + strconv.FormatUint(n, 10)
}

// parsePasswordKey takes a passwordKey apart.
func parsePasswordKey(key string) (id UserID, n uint64, ok bool) {
	rest, ok := strings.CutPrefix(key, passwordPrefix)
	i := strings.LastIndexByte(rest, '/')
	if !ok || i < 0 {
		return "", 0, false
	}
	n, err := strconv.ParseUint(rest[i+1:], 10, 64)
	return UserID(rest[:i]), n, err == nil
}

// secretKey is the key of a session or a token. The sum needs no salt nor
// slowness: the string has 256 random bits.
func secretKey(prefix, secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return prefix + hex.EncodeToString(sum[:])
}
