package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
)

// A house is an open store and the books over it.
type house struct {
	store    *boltstore.Store
	registry *inventory.Registry
	book     *trace.Book
	accounts *account.Accounts
}

// openHouse opens the store in a folder, and has its rows made again first if
// they have another form than this program's. Only here does anything open a store.
func openHouse(ctx context.Context, e *env, dir string, o boltstore.Options) (*house, error) {
	if dir == "" {
		return nil, wrongUsage("--data is missing: the folder that holds the unit's book")
	}
	if o.Clock == nil {
		o.Clock = e.now
	}
	o.Rows = derivation()
	if o.Rebuilding == nil {
		o.Rebuilding = rebuildOn(e.stderr)
	}
	s, err := boltstore.OpenContext(ctx, dir, o)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, inventory.NotFound("book", dir, "Give the folder of an existing one; lotbook user add makes a new one.")
	case errors.Is(err, inventory.ErrInUse):
		return nil, fmt.Errorf("another process has the book in %s open: %w", dir, err)
	case err != nil:
		return nil, notDerived(err, "the book in "+dir)
	}
	reg := registry()
	return &house{
		store: s, registry: reg,
		book:     trace.NewBook(inventory.NewBook(s, reg, o.Clock)),
		accounts: account.New(s, reg, o.Clock, account.DefaultSettings()),
	}, nil
}

// flags returns a flag set that reports errors as wrong usage.
func flags(name string) *flag.FlagSet {
	f := flag.NewFlagSet(name, flag.ContinueOnError)
	f.SetOutput(io.Discard)
	f.Usage = func() {}
	return f
}

func parse(f *flag.FlagSet, args []string) error {
	if err := f.Parse(args); err != nil {
		return wrongUsage("%v", err)
	}
	return nil
}
