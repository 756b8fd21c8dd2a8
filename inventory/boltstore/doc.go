// Package boltstore keeps a unit's journal in one bbolt file: the default
// [inventory.Store]. FORMAT.md, beside this file, describes the bytes.
//
// # Basics
//
//	s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now})
//	defer s.Close()
//	receipt, err := s.Append(ctx, inventory.Request{...})
//	err = s.View(ctx, func(r inventory.Reader) error { ... })
//
// One goroutine writes. It takes one request, then whatever else is waiting,
// and commits them together: a lone nurse's scan waits for nobody, and many
// scans at a time share one flush of the disk. [Verify] checks a file that
// nobody has open, [Store.Backup] copies one that is in use, [Restore] and
// [Compact] make a new one. Rows of another form than the program's are made again
// by whoever opens the store ([Options.Rows]).
//
// # Settings, and why
//
// The figures are from a machine with two cores, a journal of 100,000 to
// 5,000,000 treatments and records of about 1 KB; the benchmarks of this
// package measure the first of them again.
//
//   - The list of free pages is written with each commit (NoFreelistSync is
//     false): without it, opening a file of 10 GB took 415 s instead of 3 ms,
//     since all of it must be read.
//   - The address range is reserved generously (InitialMmapSize): with bbolt's
//     default, one long reader stalled the writer and every short reader for
//     9.5 s when the file outgrew its mapping.
//   - db.Batch is not used: with its default a lone writer got 85 commits a
//     second instead of 1,500, as it waits 10 ms for company.
//   - Pages have 4 KiB whatever the machine's own size is, so that a file moves
//     between machines and a commit writes few bytes.
//   - The bucket of entries is filled to the brim, since its keys only grow:
//     with bbolt's half-full default a record of 1 KB took 52% of its page.
//
// # Caveats
//
//   - The functions given to Append run on the writer's goroutine. One that
//     calls Append, or writes to the Vault, waits for itself for ever.
//   - A View holds pages back from being used again, so the file grows while
//     it lasts, and a View inside a View can block [Store.Close].
//   - After a failed commit the store takes no more writes. What the kernel
//     holds in memory of a file whose flush failed need not be what is on the
//     disk, so reads may show the entries of that commit although a power cut
//     would lose them. Close the store, see to the disk, open it again: Open
//     then has the kernel forget what it holds, reads what is really there,
//     and the client's key says whether its request is among it.
//   - A reader that hits an unreadable or missing part of the file gets an
//     error that is [ErrDamaged], not a crash, where the runtime allows it; a
//     check of a file that may be damaged belongs in a process of its own
//     ([VerifyChild]).
package boltstore
