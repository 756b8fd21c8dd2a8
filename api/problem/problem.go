package problem

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"
)

// ContentType is the media type of problem details (RFC 9457, section 6.1).
const ContentType = "application/problem+json"

// A Problem is what a client is told of an error. Type, Title, Status and
// Detail are members of RFC 9457; the others are extensions (section 3.2).
type Problem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	// Detail says what happened, in a sentence.
	Detail string `json:"detail"`
	// Code is for programs and never changes.
	Code string `json:"code"`
	// Hint says what to do next.
	Hint string `json:"hint,omitempty"`
	// Field is the member, header or parameter that it is about.
	Field string `json:"field,omitempty"`
	// Errors are what was refused, line by line, of a request with lines.
	Errors []Line `json:"errors,omitempty"`
	// RequestID is under which the request stands in the service's log.
	RequestID string `json:"request_id,omitempty"`
	// RetryAfter is in how many seconds it is worth trying again, 0 if that
	// alone doesn't help. It goes into the header of that name.
	RetryAfter int `json:"-"`
}

// A Line is what was refused of one line of a request.
type Line struct {
	Line   int    `json:"line"` // from 1
	Code   string `json:"code"`
	Detail string `json:"detail"`
	Hint   string `json:"hint,omitempty"`
	Field  string `json:"field,omitempty"`
}

// Write sends a Problem as the whole answer.
func (p *Problem) Write(w http.ResponseWriter) error {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(p); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", ContentType)
	h.Set("Content-Length", strconv.Itoa(body.Len()))
	h.Set("Cache-Control", "no-store")
	if p.RetryAfter > 0 {
		h.Set("Retry-After", strconv.Itoa(p.RetryAfter))
	}
	w.WriteHeader(p.Status)
	_, err := w.Write(body.Bytes())
	return err
}
