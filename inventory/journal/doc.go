// Package journal holds the form of a unit's one append-only journal: the
// canonical bytes of an entry, the hash chain over them, checkpoints, and the
// check of a chain. It uses the standard library only, so that a journal can
// be checked by anyone, with anything, in twenty years.
//
// An entry's hash is SHA-256 over its canonical bytes, and those contain the
// hash of the entry before it. Whoever knows the hash of one entry therefore
// holds every entry before it as well: none can be changed, dropped, added or
// moved without changing the hash that was noted. lotbook prints the head hash
// on what it hands out, so each workbook is such a note.
//
// What a chain can't show: entries cut off its end after the last hash that
// anyone noted. For that, compare with a [Checkpoint] kept elsewhere.
package journal
