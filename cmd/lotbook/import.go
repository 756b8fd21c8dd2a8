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
	again := f.Bool("again", false, "")
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
		in = take(t, *partial, intake.Products, bind(ctx, call, h.book.SetProducts))
	case "patients":
		in = take(t, *partial, intake.Patients, bind(ctx, call, h.book.Enrol))
	case "schedule":
		in = take(t, *partial, intake.Schedule, bind(ctx, call, h.book.Schedule))
	case "receipts":
		receive := h.book.ReceiveOnce
		if *again {
			receive = h.book.Receive
		}
		in = take(t, *partial, intake.Receipts, bind(ctx, call, receive))
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
	h.notices(e, file, &in)
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

// notices prints what there was to notice about the rows taken.
func (h *house) notices(e *env, file string, in *imported) {
	for i, entry := range in.receipt.Entries {
		ev, err := h.registry.Decode(entry)
		if err != nil || in.replayed || i >= len(in.lines) {
			return
		}
		if v, ok := ev.(*inventory.Received); ok {
			for _, f := range v.Findings {
				fmt.Fprintf(e.stderr, "lotbook: import: %s, line %d, taken: %s\n", file, in.lines[i], f.Message)
			}
		}
	}
}

// imported is what became of a file.
type imported struct {
	taken    int
	lines    []int // of the rows taken
	receipt  inventory.Receipt
	replayed bool
	problems []error
	err      error
}

func (in *imported) add(list []*intake.Problem) {
	for _, p := range list {
		in.problems = append(in.problems, p)
	}
}

func bind[T any](ctx context.Context, call inventory.Call, write func(context.Context, inventory.Call, ...T) (inventory.Receipt, error)) func([]T, bool) (inventory.Receipt, error) {
	return func(l []T, checkOnly bool) (inventory.Receipt, error) {
		call := call
		call.CheckOnly = checkOnly
		return write(ctx, call, l...)
	}
}

// take reads a list and hands it to the book, without the rows that are refused
// if it may be taken in part. If it may not, and some rows can't be read, the
// book is asked about the others all the same, so that every bad row is named
// at once.
func take[T any](t *intake.Table, partial bool, read func(*intake.Table) ([]T, []int, []*intake.Problem), write func([]T, bool) (inventory.Receipt, error)) (in imported) {
	list, lines, bad := read(t)
	in.add(bad)
	checkOnly := len(bad) > 0 && !partial
	for len(list) > 0 {
		rec, err := write(list, checkOnly)
		if err == nil {
			if !checkOnly {
				in.taken, in.lines, in.receipt, in.replayed = len(list), lines, rec, rec.Replayed
			}
			return in
		}
		refused := intake.Refused(t, lines, err)
		if len(refused) == 0 {
			in.err = err
			return in
		}
		in.add(refused)
		for _, p := range refused {
			if i := slices.Index(lines, p.Line); i >= 0 {
				list, lines = slices.Delete(list, i, i+1), slices.Delete(lines, i, i+1)
			}
		}
		checkOnly = checkOnly || !partial
	}
	return in
}
