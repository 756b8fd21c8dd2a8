package main

import (
	"errors"
	"fmt"
	"io"
	"log/slog"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// rowsPrint is a fingerprint of the rows that this program derives: the
// beginning of the SHA-256 of those of the books in testdata/rows. When other
// rows are derived TestRowForm says what it is now. Put that here: books whose
// rows were written under another number get new rows when they are opened.
const rowsPrint = "7c0fab05836043ac"

func registry() *inventory.Registry {
	return inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events(), account.Events())
}

// derivation is how all kinds of entries of this program derive their rows.
func derivation() inventory.Derivation { return registry().Derivation(rowsPrint) }

// rebuildSteps is after how many hundredths of the way something is said.
const rebuildSteps = 10

// tellRebuild returns what says how far the making of rows is: say is told
// that it begins, and then now and then how many hundredths are done.
func tellRebuild(say func(hundredths uint64)) func(done, total uint64) {
	next := uint64(0)
	return func(done, total uint64) {
		h := uint64(100)
		if total > 0 {
			h = done * 100 / total
		}
		if h >= next {
			say(h)
			next = h - h%rebuildSteps + rebuildSteps
		}
	}
}

// rebuildOn says it in lines, for a person.
func rebuildOn(w io.Writer) func(done, total uint64) {
	return tellRebuild(func(h uint64) {
		if h == 0 {
			fmt.Fprintln(w, "another version of this program wrote the rows of this book: they are made again from its journal, which stays as it is")
			return
		}
		fmt.Fprintf(w, "making rows: %d%%\n", h)
	})
}

// rebuildLog says it in a service's log.
func rebuildLog(log *slog.Logger) func(done, total uint64) {
	return tellRebuild(func(h uint64) {
		log.Info("another version of this program wrote the rows of this book: they are made again from its journal", "percent", h)
	})
}

// otherVersion is the code of a refusal.
const otherVersion = "other_version"

// notDerived turns the store's refusal to make rows into one that says what to
// do. Other errors are returned as they are.
func notDerived(err error, what string) error {
	if !errors.Is(err, boltstore.ErrNotDerived) {
		return err
	}
	return inventory.Conflict(otherVersion, "Use the version of lotbook that it was last used with, or a newer one. Nothing was changed.",
		"%s was written by another version of this program, and its journal holds what this one (%s) does not understand: %v", what, version(), err)
}
