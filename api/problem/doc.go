// Package problem turns errors into what a client is told: problem details of
// RFC 9457, with a status from one ordered table ([Of]).
//
// A person reads Detail, what happened in a sentence, and Hint, what to do
// next; a program reads Code. The type is always "about:blank", so that the
// title is the status in words (RFC 9457, section 4.2.1) and Code alone tells
// problems of one status apart.
//
// Of an error that is this service's own fault a client gets a general sentence
// and the request's id, by which whoever runs the service finds the error in
// its log.
package problem
