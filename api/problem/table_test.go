package problem_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/inventory/account"
)

// Each error that the domain documents has its status. The statuses are those
// of RFC 9110, section 15; which error gets which is this project's choice.
func TestTable(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
		code   string
		retry  bool
	}{
		{auth.ErrNotSignedIn, 401, "not_signed_in", false},
		{account.ErrBadToken, 401, "bad_token", false},
		{account.ErrBadCredentials, 401, "bad_credentials", false},
		{account.ErrInactive, 403, "inactive", false},
		{auth.ErrCrossOrigin, 403, "cross_origin", false},
		{&auth.Denied{Method: "GET", Pattern: "/x", Role: account.Stock}, 403, "forbidden", false},
		{account.ErrBusy, 503, "busy", true},
		{account.ErrNoUser, 404, "unknown_user", false},
		{account.ErrUserExists, 409, "user_exists", false},
		{account.ErrLastAdministrator, 409, "last_administrator", false},
		{inventory.ErrKeyReused, 409, "key_reused", false},
		{inventory.ErrUnknownOutcome, 503, "unknown_outcome", true},
		{inventory.ErrStoreFailed, 503, "store_failed", true},
		{inventory.ErrCannotCorrect, 409, "cannot_correct", false},
		{inventory.ErrNoEntry, 404, "unknown_entry", false},
		{inventory.Invalid("lot", "hint", "message"), 422, "invalid", false},
		{inventory.NotFound("lot", "x", "hint"), 404, "unknown_lot", false},
		{inventory.Conflict("taken", "hint", "message"), 409, "taken", false},
		{context.DeadlineExceeded, 503, "timeout", true},
		{context.Canceled, 503, "canceled", true},
		{&http.MaxBytesError{Limit: 7}, 413, "too_large", false},
		{problem.Bad("code", "field", "hint", "message"), 400, "code", false},
		{problem.NoRoute(), 404, "no_route", false},
		{problem.NoMethod("PUT"), 405, "method_not_allowed", false},
		{errors.New("disk on fire at /var/lib"), 500, "internal", false},
	} {
		p := problem.Of(fmt.Errorf("book: %w", c.err))
		if p.Status != c.status || p.Code != c.code || (p.RetryAfter > 0) != c.retry {
			t.Errorf("%v: %+v, want status %d, code %s", c.err, p, c.status, c.code)
		}
		if p.Type != "about:blank" || p.Title != http.StatusText(c.status) || !strings.HasSuffix(p.Detail, ".") || !strings.HasSuffix(p.Hint, ".") {
			t.Errorf("%v: %+v", c.err, p)
		}
	}
}

// What a driver says is not told.
func TestInnerWordsAreNotTold(t *testing.T) {
	inner := errors.New("open /var/lib/store: no space left")
	for _, err := range []error{inner, fmt.Errorf("%w: %w", inventory.ErrUnknownOutcome, inner), fmt.Errorf("%w: %w", inventory.ErrStoreFailed, inner), fmt.Errorf("%w: %w", auth.ErrNotSignedIn, inner)} {
		p := problem.Of(err)
		doc, merr := json.Marshal(p)
		if merr != nil {
			t.Fatal(merr)
		}
		if bytes.Contains(doc, []byte("/var")) {
			t.Errorf("%v: %s", err, doc)
		}
	}
}

func TestUnknownOutcomeSaysWhatToDo(t *testing.T) {
	p := problem.Of(inventory.ErrUnknownOutcome)
	if !strings.Contains(p.Hint, "same request with the same key again") {
		t.Errorf("hint %q", p.Hint)
	}
}

func TestLines(t *testing.T) {
	err := inventory.EachLine(4, func(i int) error {
		switch i {
		case 1:
			return inventory.Conflict("taken", "hint", "message")
		case 3:
			return inventory.Invalid("lot", "hint", "message")
		}
		return nil
	})
	p := problem.Of(fmt.Errorf("receive: %w", err))
	if p.Status != 409 || p.Code != "taken" || len(p.Errors) != 2 {
		t.Fatalf("%+v", p)
	}
	if p.Errors[0].Line != 2 || p.Errors[1].Line != 4 || p.Errors[1].Field != "lot" || p.Errors[1].Code != "invalid" {
		t.Errorf("%+v", p.Errors)
	}
}

// The form is that of RFC 9457, section 3, with the media type of section 6.1
// and Retry-After of RFC 9110, section 10.2.3.
func TestWrite(t *testing.T) {
	p := problem.Of(inventory.ErrUnknownOutcome)
	p.RequestID = "0123"
	w := httptest.NewRecorder()
	if err := p.Write(w); err != nil {
		t.Fatal(err)
	}
	if w.Code != 503 || w.Header().Get("Content-Type") != "application/problem+json" || w.Header().Get("Retry-After") != "2" || w.Header().Get("Cache-Control") != "no-store" {
		t.Errorf("%d %v", w.Code, w.Header())
	}
	var got map[string]any
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	for _, member := range []string{"type", "title", "status", "detail", "code", "hint", "request_id"} {
		if got[member] == nil {
			t.Errorf("there is no member %s: %s", member, w.Body)
		}
	}
}
