package v1

import (
	"errors"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/inventory"
)

// KeyHeader is the header with a write's key, and ReplayedHeader the one that
// says that an answer is that of an earlier request.
const (
	KeyHeader      = "Idempotency-Key"
	ReplayedHeader = "Idempotency-Replayed"
)

// errNoIdentity is a fault of the router: a route of /v1 without its guard.
var errNoIdentity = errors.New("nobody is known to ask")

// maxKey is how long a key may be, in bytes.
const maxKey = 200

// callOf returns who asks for something to be written, under which key, and
// when it happened.
func callOf(c *gin.Context, at *time.Time) (inventory.Call, error) {
	id, ok := auth.FromContext(c.Request.Context())
	if !ok {
		return inventory.Call{}, errNoIdentity
	}
	keys := c.Request.Header.Values(KeyHeader)
	const hint = "Send a header Idempotency-Key with a new random value, such as a UUID, and send the same one when you send the same request again."
	switch {
	case len(keys) == 0 || keys[0] == "":
		return inventory.Call{}, problem.Bad("key_missing", KeyHeader, hint, "A write needs an Idempotency-Key.")
	case len(keys) > 1 || len(keys[0]) > maxKey || !printable(keys[0]):
		return inventory.Call{}, problem.Bad("key_invalid", KeyHeader, hint, "An Idempotency-Key is one value of at most %d printable ASCII characters.", maxKey)
	}
	call := id.Call(keys[0])
	if at != nil {
		call.Happened = at.UTC()
		// The year 0001 would be taken for no time at all, and years from
		// 2262 on have no place in 64 bits of nanoseconds.
		if y := call.Happened.Year(); y < 1970 || y > 2200 {
			return inventory.Call{}, problem.Bad("wrong_type", "at", "Give the time when it happened.", "The year %d can't be meant.", y)
		}
	}
	return call, nil
}

// writeOf reads a write to something that the path names: the body into req,
// which at is a member of, who asks, and the id.
func writeOf(c *gin.Context, req any, at **time.Time) (call inventory.Call, id string, err error) {
	if err = decode(c, req); err != nil {
		return call, "", err
	}
	if call, err = callOf(c, *at); err != nil {
		return call, "", err
	}
	id, err = param(c, "id")
	return call, id, err
}

func printable(s string) bool {
	for i := range len(s) {
		if s[i] <= ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

// happened is the member that every write may have.
type happened struct {
	// At is when it happened.
	At *time.Time `json:"at"`
}

// written is what every answer to a write begins with.
type written struct {
	// Entry is the number of the last entry written, Entries of all.
	Entry    uint64    `json:"entry"`
	Entries  []uint64  `json:"entries"`
	Recorded time.Time `json:"recorded"`
	Happened time.Time `json:"happened"`
	By       string    `json:"by"`
}

// errNothing is a fault of a handler: it asked for nothing to be written.
var errNothing = errors.New("the write has no entries")

// events returns what a receipt's entries say, and what every answer begins
// with.
func (a *API) events(rec inventory.Receipt) ([]inventory.Event, written, error) {
	if len(rec.Entries) == 0 {
		return nil, written{}, errNothing
	}
	last := rec.Entries[len(rec.Entries)-1]
	w := written{Entry: last.Seq, Recorded: last.Recorded, Happened: last.Happened, By: last.Actor}
	evs := make([]inventory.Event, len(rec.Entries))
	for i, e := range rec.Entries {
		ev, err := a.Book.Registry().Decode(e)
		if err != nil {
			return nil, w, err
		}
		evs[i] = ev
		w.Entries = append(w.Entries, e.Seq)
	}
	return evs, w, nil
}

// created answers a write. make makes the answer from the entries, and from
// them alone, so that it is the same when the request is sent again.
func (a *API) created(c *gin.Context, rec inventory.Receipt, err error, make func([]inventory.Event, written) (any, error)) error {
	if err != nil {
		return err
	}
	evs, w, err := a.events(rec)
	if err != nil {
		return err
	}
	body, err := make(evs, w)
	if err != nil {
		return err
	}
	replayed(c, rec.Replayed)
	return respond(c, http.StatusCreated, body)
}

func replayed(c *gin.Context, yes bool) {
	if yes {
		c.Header(ReplayedHeader, "true")
	}
}

// errOtherEntry is a fault of the program: an entry of another kind than the
// write makes.
var errOtherEntry = errors.New("the write made another kind of entry")

// last returns the last of the events as what it should be.
func last[T inventory.Event](evs []inventory.Event) (T, error) {
	ev, ok := evs[len(evs)-1].(T)
	if !ok {
		return ev, errOtherEntry
	}
	return ev, nil
}
