package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
)

// runBackup writes a copy of a book: the service that has it open does, or else
// this process.
func runBackup(ctx context.Context, e *env, args []string) (int, error) {
	data, file, err := dataAndFile("backup", args)
	if err != nil {
		return exitUsage, err
	}
	out, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return exitError, inventory.Conflict("file_exists", "Give a new name: a backup is never written over.", "there is a file %s already", file)
	} else if err != nil {
		return exitError, err
	}
	head, n, err := backupFromService(ctx, data, out)
	if errors.Is(err, errNoService) {
		head, n, err = backupFromStore(ctx, e, data, out)
	}
	if err := errors.Join(err, out.Sync(), out.Close()); err != nil {
		return exitError, errors.Join(err, os.Remove(file))
	}
	fmt.Fprintf(e.stdout, "%d bytes in %s\nhead: %s\nThe copy holds patients' names and password hashes: keep it as you keep the book, and note the head elsewhere.\n", n, file, head)
	return exitOK, nil
}

// runRestore makes a book in a new folder out of a backup, after checking it.
func runRestore(ctx context.Context, e *env, args []string) (int, error) {
	data, file, err := dataAndFile("restore", args)
	if err != nil {
		return exitUsage, err
	}
	in, err := os.Open(file)
	if err != nil {
		return exitError, err
	}
	defer in.Close()
	rep, err := boltstore.Restore(ctx, in, data, boltstore.VerifyOptions{
		Project: derivation().Project, Form: derivation().Form, Clock: e.now, Rebuilding: rebuildOn(e.stderr),
	})
	if errors.Is(err, fs.ErrExist) {
		return exitError, inventory.Conflict("not_empty", "Give a new folder: a book is never written over.", "there is a book in %s already", data)
	}
	for i := range rep.Problems {
		fmt.Fprintf(e.stdout, "wrong: %v\n", &rep.Problems[i])
	}
	if err != nil {
		return exitError, notDerived(err, "the backup "+file)
	}
	fmt.Fprintf(e.stdout, "right: %d entries in %s\nhead: %d:%s\n", rep.Entries, data, rep.Head.Seq, rep.Head.Hash)
	return exitOK, nil
}

func dataAndFile(name string, args []string) (data, file string, err error) {
	f := flags(name)
	d := f.String("data", "", "")
	if err := parse(f, args); err != nil {
		return "", "", err
	}
	if *d == "" || f.NArg() != 1 {
		return "", "", wrongUsage("it takes --data and one file")
	}
	return *d, f.Arg(0), nil
}
