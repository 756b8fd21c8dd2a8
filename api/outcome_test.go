package api_test

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"

	"lotbook/api"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
)

// unsureStore writes, and then says once that it is not known whether it did,
// as the Store's contract allows.
type unsureStore struct {
	inventory.Store
	fail atomic.Bool
}

func (u *unsureStore) Append(ctx context.Context, req inventory.Request) (inventory.Receipt, error) {
	rec, err := u.Store.Append(ctx, req)
	if err == nil && u.fail.CompareAndSwap(true, false) {
		return inventory.Receipt{}, fmt.Errorf("commit /var/lib/x: %w", inventory.ErrUnknownOutcome)
	}
	return rec, err
}

// A write of which nobody knows whether it was written is asked for again, with
// its key, and stands once.
func TestAnUnknownOutcomeIsAskedAgain(t *testing.T) {
	var store *unsureStore
	s := newSite(t, func(d *api.Deps) {
		store = &unsureStore{Store: d.Book.Store()}
		d.Book = trace.NewBook(inventory.NewBook(store, registry(), d.Book.Now))
	})
	s.furnish()
	body := m{"to": "room", "lines": []m{{"product": "SAL", "lot": "S-1", "quantity": 5}}}
	store.fail.Store(true)
	a := s.do(account.Stock, "POST", "/v1/receipts", body, withKey("r")).problem(http.StatusServiceUnavailable, "unknown_outcome")
	if !strings.Contains(a.text("hint"), "same request with the same key again") || a.header.Get("Retry-After") == "" || strings.Contains(string(a.body), "/var") {
		t.Errorf("answer: %v %s", a.header, a.body)
	}
	if !strings.Contains(s.log.String(), "commit /var/lib/x") {
		t.Error("the log does not have the store's own words")
	}
	again := s.do(account.Stock, "POST", "/v1/receipts", body, withKey("r")).want(http.StatusCreated)
	if again.header.Get("Idempotency-Replayed") != "true" || again.number("lines", 0, "quantity") != 5 {
		t.Errorf("asked again: %s", again.body)
	}
	if got := s.do(account.Stock, "GET", "/v1/balances?location=room", nil).number("balances", 0, "quantity"); got != 5 {
		t.Errorf("%d pieces, want 5", got)
	}
}
