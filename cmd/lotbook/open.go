package main

import (
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

func registry() *inventory.Registry {
	return inventory.NewRegistry(inventory.Events(), trace.Events(), account.Events())
}

// openHouse opens the store in a folder. Only here does anything open a store.
func openHouse(e *env, dir string, o boltstore.Options) (*house, error) {
	if dir == "" {
		return nil, wrongUsage("--data is missing: the folder that holds the unit's book")
	}
	if o.Clock == nil {
		o.Clock = e.now
	}
	s, err := boltstore.Open(dir, o)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, inventory.NotFound("book", dir, "Give the folder of an existing one; lotbook user add makes a new one.")
	case errors.Is(err, inventory.ErrInUse):
		return nil, fmt.Errorf("another process has the book in %s open: %w", dir, err)
	case err != nil:
		return nil, err
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
