// Package api is the service over HTTP: the router, the order of what each
// request goes through, and where an error becomes a status.
//
// A request goes through these, in order (see router.go):
//
//  1. it gets an id, which the answer carries as X-Request-Id and the log too;
//  2. it is logged when it is done: method, the route's pattern (never the
//     address, which may name a patient or a lot), status, time, who;
//  3. a panic becomes an answer of status 500;
//  4. the headers that keep a browser from doing more than it should;
//  5. limits on bytes and time;
//  6. who asks, and whether they may (package auth);
//  7. the handler: package v1 answers in JSON, package web in pages.
//
// A handler returns an error, and only package problem turns errors into
// statuses. What a client gets of an unexpected error is a general sentence and
// the request's id.
//
// openapi.yaml describes /v1 and is its source: a test holds every route,
// request and answer against it.
package api
