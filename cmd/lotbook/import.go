package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"slices"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace/intake"
)

// runImport takes a list in. Of a file with a bad row nothing is taken, unless
// --partial says so. The same file again changes nothing: its sum is its key.
func runImport(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("import")
	data := f.String("data", "", "")
	partial := f.Bool("partial", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 2 {
		return exitUsage, wrongUsage("it takes what to import and one file")
	}
	what, file := f.Arg(0), f.Arg(1)
	raw, err := os.ReadFile(file)
	if err != nil {
		return exitError, err
	}
	sum := sha256.Sum256(raw)
	t, err := intake.Open(bytes.NewReader(raw), file)
	if err != nil {
		return problems(e, []error{err}), nil
	}
	h, err := openHouse(e, *data, boltstore.Options{})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	call := inventory.Call{Actor: string(account.Console), Key: "import " + what + " " + hex.EncodeToString(sum[:])}
	var in imported
	switch what {
	case "products":
		in = take(intake.Products)(t, func(l ...inventory.Product) (inventory.Receipt, error) { return h.book.SetProducts(ctx, call, l...) }, *partial)
	case "patients":
		in = take(intake.Patients)(t, bind(ctx, call, h.book.Enrol), *partial)
	case "schedule":
		in = take(intake.Schedule)(t, bind(ctx, call, h.book.Schedule), *partial)
	case "receipts":
		in = take(intake.Receipts)(t, bind(ctx, call, h.book.Receive), *partial)
	default:
		return exitUsage, wrongUsage("there is no list of %q: products, patients, schedule or receipts", what)
	}
	if errors.Is(in.err, inventory.ErrKeyReused) {
		return exitError, inventory.Conflict("taken_in_part", "Put the rows that were left out then into a file of their own.", "a part of %s was imported before", file)
	}
	if in.err != nil {
		return exitError, in.err
	}
	code := problems(e, in.problems)
	switch {
	case in.replayed:
		fmt.Fprintf(e.stdout, "%s was imported before: nothing changed\n", file)
	case in.taken > 0:
		fmt.Fprintf(e.stdout, "%d of %d rows of %s taken\n", in.taken, t.Len(), file)
	default:
		fmt.Fprintf(e.stdout, "nothing of %s taken\n", file)
	}
	return code, nil
}

// problems prints what is wrong, each with what to do.
func problems(e *env, list []error) int {
	const most = 100
	for i, err := range list {
		if i == most {
			fmt.Fprintf(e.stderr, "lotbook: import: and %d more\n", len(list)-most)
			break
		}
		fmt.Fprintf(e.stderr, "lotbook: import: %v\n", err)
		if p, ok := err.(*intake.Problem); ok && p.Hint != "" {
			fmt.Fprintf(e.stderr, "hint: %s\n", p.Hint)
		}
	}
	if len(list) > 0 {
		return exitError
	}
	return exitOK
}

// imported is what became of a file.
type imported struct {
	taken    int
	replayed bool
	problems []error
	err      error
}

func bind[T any](ctx context.Context, call inventory.Call, write func(context.Context, inventory.Call, ...T) (inventory.Receipt, error)) func(...T) (inventory.Receipt, error) {
	return func(l ...T) (inventory.Receipt, error) { return write(ctx, call, l...) }
}

// take reads a list and hands it to the book, without the rows that are refused
// if it may be taken in part.
func take[T any](read func(*intake.Table) ([]T, []int, []*intake.Problem)) func(*intake.Table, func(...T) (inventory.Receipt, error), bool) imported {
	return func(t *intake.Table, write func(...T) (inventory.Receipt, error), partial bool) (in imported) {
		list, lines, bad := read(t)
		for _, p := range bad {
			in.problems = append(in.problems, p)
		}
		for len(list) > 0 && (partial || len(in.problems) == 0) {
			rec, err := write(list...)
			if err == nil {
				in.taken, in.replayed = len(list), rec.Replayed
				return in
			}
			refused := intake.Refused(t.File, lines, err)
			if len(refused) == 0 {
				in.err = err
				return in
			}
			for _, p := range refused {
				in.problems = append(in.problems, p)
				if i := slices.Index(lines, p.Line); i >= 0 {
					list, lines = slices.Delete(list, i, i+1), slices.Delete(lines, i, i+1)
				}
			}
		}
		return in
	}
}
