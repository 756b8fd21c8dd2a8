package problem

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"unicode"
	"unicode/utf8"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/inventory/account"
)

// A row says what is told of an error that is one of Err. Where detail is empty
// the error's own text is told.
type row struct {
	err    error
	status int
	code   string
	detail string
	hint   string
	retry  int // seconds
}

const again = "Send the same request with the same key again: it is written once, and answered as it was the first time."

// rows is the one table from errors to answers. The first row that matches
// counts. An error that no row and none of the typed errors below matches is
// this service's own fault: 500.
func rows() []row {
	return []row{
		{auth.ErrNotSignedIn, http.StatusUnauthorized, "not_signed_in", "", "Sign in, or send a token in the header Authorization: Bearer.", 0},
		{account.ErrBadToken, http.StatusUnauthorized, "bad_token", "", "Ask for a new token.", 0},
		{account.ErrBadCredentials, http.StatusUnauthorized, "bad_credentials", "", "Type both again; mind Caps Lock.", 0},
		{account.ErrInactive, http.StatusForbidden, "inactive", "", "Ask an administrator to activate the user again.", 0},
		{auth.ErrCrossOrigin, http.StatusForbidden, "cross_origin", "", "Open the page at this service's own address.", 0},
		{auth.ErrForbidden, http.StatusForbidden, "forbidden", "", "Ask somebody whose role may do it, or an administrator for another role.", 0},
		{account.ErrBusy, http.StatusServiceUnavailable, "busy", "", "Try again in a few seconds.", 5},

		{inventory.ErrKeyReused, http.StatusConflict, "key_reused", "This Idempotency-Key was used before, for another request.", "Take a new key for each new request; repeat a request unchanged with its own.", 0},
		{inventory.ErrUnknownOutcome, http.StatusServiceUnavailable, "unknown_outcome", "It is not known whether this was written.", again, 2},
		{inventory.ErrStoreFailed, http.StatusServiceUnavailable, "store_failed", "The book takes no entries at the moment; nothing was written. What is in it can be read.", "Write it down on paper and tell whoever runs the service. " + again, 60},
		{inventory.ErrCannotCorrect, http.StatusConflict, "cannot_correct", "", "Strike out what rests on it first, or record what is true now instead.", 0},
		{inventory.ErrNoEntry, http.StatusNotFound, "unknown_entry", "There is no entry of that number.", "Compare the number with the journal's head.", 0},
		{context.DeadlineExceeded, http.StatusServiceUnavailable, "timeout", "The time for this request was over.", "Ask for less at a time. " + again, 2},
		{context.Canceled, http.StatusServiceUnavailable, "canceled", "The request was given up before it was answered.", again, 2},
	}
}

// Of returns what a client is told of an error.
func Of(err error) Problem {
	p := of(err)
	p.Type, p.Title = "about:blank", http.StatusText(p.Status)
	p.Detail = sentence(p.Detail)
	p.Hint = sentence(p.Hint)
	return p
}

func of(err error) Problem {
	var req *Request
	if errors.As(err, &req) {
		p := Problem{Status: req.Status, Code: req.Code, Detail: req.Message, Hint: req.Hint, Field: req.Field}
		if req.Status == http.StatusServiceUnavailable {
			p.RetryAfter = 5
		}
		return p
	}
	var size *http.MaxBytesError
	if errors.As(err, &size) {
		return Problem{
			Status: http.StatusRequestEntityTooLarge, Code: "too_large",
			Detail: "The request has more bytes than are taken here.", Hint: "Send a smaller picture, or fewer lines at a time.",
		}
	}
	if lines := linesOf(err); len(lines) > 0 {
		return ofLines(lines)
	}
	for _, r := range rows() {
		if !errors.Is(err, r.err) {
			continue
		}
		detail := r.detail
		if detail == "" {
			detail = own(err, r.err)
		}
		return Problem{Status: r.status, Code: r.code, Detail: detail, Hint: r.hint, RetryAfter: r.retry}
	}
	var ref *inventory.Refusal
	if errors.As(err, &ref) {
		return Problem{Status: refusalStatus(ref), Code: ref.Code, Detail: ref.Message, Hint: ref.Hint, Field: ref.Field}
	}
	return Problem{
		Status: http.StatusInternalServerError, Code: "internal",
		Detail: "Something went wrong in the service.",
		Hint:   "Try again; if it happens again, tell whoever runs the service the request's id.",
	}
}

// own is the text of an error that was matched. What wraps it may be a
// driver's and is not told, but for what was denied.
func own(err, matched error) string {
	var d *auth.Denied
	if errors.As(err, &d) {
		return d.Error()
	}
	return matched.Error()
}

func refusalStatus(r *inventory.Refusal) int {
	switch {
	case errors.Is(r, inventory.ErrNotFound):
		return http.StatusNotFound
	case errors.Is(r, inventory.ErrConflict):
		return http.StatusConflict
	}
	return http.StatusUnprocessableEntity
}

// linesOf takes the refusals of several lines apart.
func linesOf(err error) []*inventory.LineError {
	if le, ok := err.(*inventory.LineError); ok {
		return []*inventory.LineError{le}
	}
	switch x := err.(type) {
	case interface{ Unwrap() []error }:
		var all []*inventory.LineError
		for _, e := range x.Unwrap() {
			all = append(all, linesOf(e)...)
		}
		return all
	case interface{ Unwrap() error }:
		if inner := x.Unwrap(); inner != nil {
			return linesOf(inner)
		}
	}
	return nil
}

// ofLines tells of all lines that were refused, with the status of the first.
func ofLines(lines []*inventory.LineError) Problem {
	var out Problem
	for i, le := range lines {
		q := of(le.Err)
		if i == 0 {
			out = q
			out.Field = ""
		}
		out.Errors = append(out.Errors, Line{Line: le.Line + 1, Code: q.Code, Detail: sentence(q.Detail), Hint: sentence(q.Hint), Field: q.Field})
	}
	if out.Status < http.StatusInternalServerError {
		out.Detail = "Nothing was written, since some lines can't be recorded as they are: " + sentence(out.Detail)
	}
	return out
}

// sentence begins a text with a capital letter and ends it with a stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "!") && !strings.HasSuffix(s, "…") {
		s += "."
	}
	return s
}
