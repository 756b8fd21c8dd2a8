package problem

import (
	"context"
	"fmt"
	"net/http"
)

// A Request is an error of the request itself, before anything in it was
// looked at as a record.
type Request struct {
	Status  int
	Code    string
	Field   string
	Message string
	Hint    string
}

// Error implements the error interface.
func (r *Request) Error() string { return r.Message }

// Bad returns a Request of status 400.
func Bad(code, field, hint, format string, args ...any) *Request {
	return &Request{Status: http.StatusBadRequest, Code: code, Field: field, Hint: hint, Message: fmt.Sprintf(format, args...)}
}

// NoRoute is what is answered where there is nothing.
func NoRoute() *Request {
	return &Request{
		Status: http.StatusNotFound, Code: "no_route", Message: "There is nothing at this address.",
		Hint: "Compare the address with the API's description.",
	}
}

// NoMethod is what is answered where there is something for other methods.
func NoMethod(method string) *Request {
	return &Request{
		Status: http.StatusMethodNotAllowed, Code: "method_not_allowed", Message: "This address takes no " + method + ".",
		Hint: "The header Allow names the methods that it takes.",
	}
}

// Busy says that the service has as much to do of this kind as it can hold.
func Busy(what string) *Request {
	return &Request{
		Status: http.StatusServiceUnavailable, Code: "busy", Message: what,
		Hint: "Try again in a few seconds.",
	}
}

type idKey struct{}

// WithID returns a context that carries a request's id.
func WithID(ctx context.Context, id string) context.Context {
	return context.WithValue(ctx, idKey{}, id)
}

// ID returns the request's id, empty if there is none.
func ID(ctx context.Context) string {
	id, _ := ctx.Value(idKey{}).(string)
	return id
}
