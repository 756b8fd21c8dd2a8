// Package web is the pages: plain HTML for a nurse at setup, a stock clerk at
// the end of a shift and a quality officer with a notice in hand.
//
// Each page is one struct, a template that is checked against it when the
// program starts, and a handler that fills it in from one snapshot of the book.
// A page is rendered into a buffer before its status is written, so that nobody
// sees half of one.
//
// # Forms
//
// Everything works without JavaScript. A form that writes carries a fresh key,
// so that sending it twice records once, and is answered with a redirect to a
// page that can be loaded again. What has to be asked before a scan can be
// recorded (which lot, which product, which of several readings) is asked by a
// page whose address holds what was scanned: nothing waits in the server's
// memory. The script (assets/app) keeps the scan field focused, puts back the separators
// that a browser swallows, sends a picture when it was taken, and sends a scan
// without leaving the page: what is scanned meanwhile waits its turn, also while
// there is no connection, and is sent again under its own key.
//
// A keyboard scanner types wherever the focus is. A code that arrives in a
// reason, a number or a note is a scan, and the form that it arrived in is not
// sent: the script sees to it, and setup_stray.go for browsers without it. While the
// panel of a use is open, a scan takes over from that use, and the page says so;
// whether it does, and why, is asked where that was not said.
//
// # Looks
//
// assets/app.css is the one style sheet. Its colours are custom properties at
// its head, and a test computes their contrast. State is never told by colour
// alone: a sign and a word stand beside it. Targets are at least 48 pixels high,
// for gloves.
//
// # Caveats
//
// Pages are never kept by a cache (package auth sees to it); assets are, for
// ever, since their address holds a sum of their content.
package web
