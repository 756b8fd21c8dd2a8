// Package account keeps who may use the tool: users with a role, their
// passwords, their sessions at the pages and their tokens for the API. It
// knows nothing of HTTP.
//
// Whoever writes says who asks, as an [inventory.Call]; its Happened is not
// looked at.
//
// What is a fact goes into the journal: that a user was added or changed, that
// a password was set, that somebody signed in or out, that a token was issued
// or revoked. What is a secret goes into the store's Vault and nowhere else:
//
//	password/<user>/<n>    the argon2id hash of the user's n-th password
//	session/<sum>          a session: user, number of the sign-in, last use
//	token/<sum>            a token: its id, last use
//
// where sum is the SHA-256 of the session's or token's string, in hexadecimal.
// The strings themselves are 256 random bits and are kept by nobody but the
// person who was given them. Digests of requests are in the journal too, so
// the ones made here leave passwords out: a digest over a password could be
// searched for it, for ever.
//
// # The journal decides
//
// Journal and Vault can't be written in one step, so whatever ends somebody's
// access is decided by rows that the journal derives, and the Vault is only
// tidied afterwards. A session counts while the sign-in that made it is not
// signed out and is younger than the last entry that ended the user's access
// (a new password, a deactivation); a token likewise, from the entry that
// issued it. The n-th password counts once the journal says that n were set,
// so a crash on the way leaves the old one in force.
//
// # Caveats
//
// Only one Accounts may be used on a store at a time. A session that ends by
// itself, by idleness or age, leaves no entry. Attempts that failed are not
// entries either: anyone could fill a journal that nobody can shorten.
//
// The first administrator is made by whoever runs the machine, with [Console]
// as the author; there are no default passwords.
package account
