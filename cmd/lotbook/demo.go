package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
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

// tokensName is the file, beside the data, of a token for the API for each of
// the invented people, so that the README's commands can be tried as they stand.
const tokensName = "tokens.txt"

// truthName is the file, beside the data, of what really happened.
const truthName = "truth.json"

// runDemo makes an invented unit.
func runDemo(ctx context.Context, e *env, args []string) (int, error) {
	o := demo.Defaults(e.now().UTC())
	f := flags("demo")
	f.IntVar(&o.Days, "days", o.Days, "")
	f.IntVar(&o.Stations, "stations", o.Stations, "")
	f.BoolVar(&o.Mixed, "mixed", o.Mixed, "")
	f.IntVar(&o.Shifts, "shifts", o.Shifts, "")
	f.Uint64Var(&o.Seed, "seed", o.Seed, "")
	f.Float64Var(&o.Leak, "leak", o.Leak, "")
	f.StringVar((*string)(&o.LeakOf), "leak-of", "DLZ-18", "")
	f.IntVar(&o.LeakFrom, "leak-from", 0, "")
	f.Float64Var(&o.ShortRuns, "short-runs", o.ShortRuns, "")
	data := f.String("data", "", "")
	until := f.String("until", "", "")
	listen := f.String("listen", defaultListen, "")
	noServe := f.Bool("no-serve", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no further arguments")
	}
	if o.Leak == 0 {
		o.LeakOf = ""
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
	var l net.Listener
	if !*noServe {
		var err error
		if l, err = listenOn(*listen); err != nil {
			return exitError, err
		}
		defer l.Close()
	}
	h, err := openDemo(ctx, e, dir, o)
	if err != nil {
		return exitError, err
	}
	fmt.Fprintf(e.stdout, "What really happened there is in %s,\na token for each person in %s.\n\nWho can sign in, all with the password %s:\n", filepath.Join(dir, truthName), filepath.Join(dir, tokensName), demoPassword)
	for _, u := range demo.Staff() {
		fmt.Fprintf(e.stdout, "  %-16s %-14s %s\n", u.ID, u.Role, u.Name)
	}
	if *noServe {
		return exitOK, h.store.Close()
	}
	fmt.Fprintln(e.stdout)
	return exitOK, h.serve(ctx, e, dir, l, serving{invented: true, join: defaultJoin})
}

// openDemo opens an invented unit made before, or makes one.
func openDemo(ctx context.Context, e *env, dir string, o demo.Options) (*house, error) {
	if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err == nil {
		if _, err := os.Stat(filepath.Join(dir, truthName)); err != nil {
			return nil, inventory.Conflict("not_invented", "Give a new folder, or leave --data out.", "there is a book in %s that is no invented unit", dir)
		}
		fmt.Fprintf(e.stdout, "The invented unit made before in %s.\n", dir)
		h, err := openHouse(ctx, e, dir, boltstore.Options{MustExist: true})
		if r := new(inventory.Refusal); errors.As(err, &r) && r.Code == otherVersion {
			r.Hint = "It is an invented unit: remove the folder, and this makes a new one."
		}
		return h, err
	}
	started := time.Now()
	h, err := makeDemo(ctx, e, dir, o)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(e.stdout, "An invented unit of %d stations with %d days behind it, made in %.1f s in %s.\n", o.Stations, o.Days, time.Since(started).Seconds(), dir)
	return h, nil
}

// makeDemo plays the history in, without a flush for each entry, writes the
// truth beside it and opens the store again as any other.
func makeDemo(ctx context.Context, e *env, dir string, o demo.Options) (*house, error) {
	clock := demo.NewClock(o)
	h, err := openHouse(ctx, e, dir, boltstore.Options{Clock: clock.Now, Unit: demo.UnitID(o.Seed), NoSync: true, Bulk: 256})
	if err != nil {
		return nil, err
	}
	call := inventory.Call{Actor: string(account.Console)}
	for _, u := range demo.Staff() {
		if _, err := h.accounts.Add(ctx, call, account.NewUser{ID: u.ID, Name: u.Name, Role: u.Role}, demoPassword); err != nil {
			return nil, errors.Join(err, h.store.Close())
		}
	}
	truth, err := demo.Make(ctx, h.book, clock, o)
	if err != nil {
		return nil, errors.Join(err, h.store.Close())
	}
	if err := h.store.Close(); err != nil {
		return nil, err
	}
	if err := writePrivate(dir, truthName, func(w io.Writer) error { return demo.WriteTruth(w, truth) }); err != nil {
		return nil, err
	}
	if h, err = openHouse(ctx, e, dir, boltstore.Options{}); err != nil {
		return nil, err
	}
	err = writePrivate(dir, tokensName, func(w io.Writer) error {
		for _, u := range demo.Staff() {
			t, err := h.accounts.IssueToken(ctx, call, account.NewToken{User: u.ID, Label: "for trying the API"})
			if err != nil {
				return err
			}
			fmt.Fprintf(w, "%s %s\n", u.ID, t.Secret)
		}
		return nil
	})
	if err != nil {
		return nil, errors.Join(err, h.store.Close())
	}
	return h, nil
}

// writePrivate writes a new file that only its owner may read.
func writePrivate(dir, name string, fill func(io.Writer) error) error {
	f, err := os.OpenFile(filepath.Join(dir, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	return errors.Join(fill(f), f.Close())
}
