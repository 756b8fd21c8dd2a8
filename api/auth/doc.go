// Package auth stands between the router and the handlers: it finds out who
// asks, says whether they may, and hands their [Identity] on in the request's
// context.
//
// Everything goes through one middleware, [Auth.Guard], in this order:
//
//  1. A request that changes something and was sent by another site's page is
//     refused ([net/http.CrossOriginProtection]: the Sec-Fetch-Site header, or
//     Origin against Host). The session cookie is SameSite=Strict as well, so
//     such a request would come without it. There are no tokens in forms.
//  2. The route is looked up in the table of permissions.go. A route that is
//     not there is refused to everybody: a new route needs a row. [Missing]
//     finds such routes for a test.
//  3. Public routes are passed on without asking who it is.
//  4. Who asks is read from "Authorization: Bearer" and, only where there is
//     no such header, from the session cookie.
//  5. The user's role must be among those of the row.
//
// What goes wrong is given to the function that New was given, as an error of
// this package or of account; the status is its business.
//
// # Cookies
//
// The cookie holds the session's string and nothing else: HttpOnly,
// SameSite=Strict, Path=/, no Domain, and gone with the browser. Over TLS it is
// Secure and its name begins with "__Host-", so that no other host or plain
// HTTP page can set it. Without TLS, which is for loopback, the name is plain,
// and two of these services on one machine share it whatever their ports:
// signing in at one signs out at the other.
//
// SameSite=Strict also means that a link in a mail shows the sign-in page first
// to somebody who is signed in; going on from there works.
package auth
