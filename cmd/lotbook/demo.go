package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace/demo"
)

// demoPassword is for the invented unit only; everywhere else there is no
// default password.
const demoPassword = "practice-unit-1"

// demoUsers are the invented people who may sign in, one a role.
var demoUsers = []account.NewUser{
	{ID: "nora", Name: "Nora Nurse (invented)", Role: account.Nurse},
	{ID: "stan", Name: "Stan Stock (invented)", Role: account.Stock},
	{ID: "quinn", Name: "Quinn Quality (invented)", Role: account.Quality},
	{ID: "ada", Name: "Ada Administrator (invented)", Role: account.Administrator},
}

// truthName is the file, beside the data, of what really happened.
const truthName = "truth.json"

// runDemo makes an invented unit.
func runDemo(ctx context.Context, e *env, args []string) (int, error) {
	o := demo.Defaults(e.now().UTC())
	f := flags("demo")
	f.IntVar(&o.Days, "days", o.Days, "")
	f.IntVar(&o.Stations, "stations", o.Stations, "")
	f.IntVar(&o.Shifts, "shifts", o.Shifts, "")
	f.Uint64Var(&o.Seed, "seed", o.Seed, "")
	data := f.String("data", "", "")
	until := f.String("until", "", "")
	noServe := f.Bool("no-serve", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no further arguments")
	}
	if *until != "" {
		t, err := time.Parse(time.RFC3339, *until)
		if err != nil {
			return exitUsage, wrongUsage("--until takes a time such as 2026-11-25T09:00:00Z")
		}
		o.Until = t.UTC()
	}
	dir := *data
	if dir == "" {
		var err error
		if dir, err = os.MkdirTemp("", "lotbook-demo-"); err != nil {
			return exitError, err
		}
	}
	if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err == nil {
		return exitError, inventory.Conflict("not_empty", "Give a new folder, or leave --data out.", "there is a book in %s already", dir)
	}
	started := time.Now()
	h, err := makeDemo(ctx, e, dir, o)
	if err != nil {
		return exitError, err
	}
	fmt.Fprintf(e.stdout, "An invented unit of %d stations with %d days behind it, made in %.1f s in\n  %s\nWhat really happened there is in\n  %s\n\n", o.Stations, o.Days, time.Since(started).Seconds(), dir, filepath.Join(dir, truthName))
	fmt.Fprintf(e.stdout, "Who can sign in, all with the password %s:\n", demoPassword)
	for _, u := range demoUsers {
		fmt.Fprintf(e.stdout, "  %-8s %-14s %s\n", u.ID, u.Role, u.Name)
	}
	if *noServe {
		return exitOK, h.store.Close()
	}
	return exitError, errors.Join(h.store.Close(), errors.New("this version has no service yet: use --no-serve and the other commands"))
}

// makeDemo plays the history in, without a flush for each entry, writes the
// truth beside it and opens the store again as any other.
func makeDemo(ctx context.Context, e *env, dir string, o demo.Options) (*house, error) {
	clock := demo.NewClock(o)
	h, err := openHouse(e, dir, boltstore.Options{Clock: clock.Now, Unit: demo.UnitID(o.Seed), NoSync: true, Bulk: 256})
	if err != nil {
		return nil, err
	}
	truth, err := demo.Make(ctx, h.book, clock, o)
	if err != nil {
		return nil, errors.Join(err, h.store.Close())
	}
	if err := h.store.Close(); err != nil {
		return nil, err
	}
	out, err := os.OpenFile(filepath.Join(dir, truthName), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(demo.WriteTruth(out, truth), out.Close()); err != nil {
		return nil, err
	}
	if h, err = openHouse(e, dir, boltstore.Options{}); err != nil {
		return nil, err
	}
	for _, u := range demoUsers {
		if _, err := h.accounts.Add(ctx, inventory.Call{Actor: string(account.Console)}, u, demoPassword); err != nil {
			return nil, errors.Join(err, h.store.Close())
		}
	}
	return h, nil
}
