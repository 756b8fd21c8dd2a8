package main

import (
	"context"
	"fmt"

	"lotbook/inventory/boltstore"
	"lotbook/trace/notice"
)

// runOverdue prints what should have been done on open field notices before
// today, a line each, or as JSON. It exits with 1 if there is any, so that a
// script can tell somebody.
func runOverdue(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("overdue")
	data := f.String("data", "", "")
	whole := f.Bool("json", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no list")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	list, err := notice.NewBook(h.book).Overdue(ctx)
	if err != nil {
		return exitError, err
	}
	code := exitOK
	if len(list) > 0 {
		code = exitError
	}
	if *whole {
		return code, jsonTo(e.stdout).Encode(append([]notice.Due{}, list...))
	}
	if len(list) == 0 {
		fmt.Fprintln(e.stdout, "nothing is overdue on the open field notices")
	}
	for _, d := range list {
		to := ""
		if d.To != "" {
			to = ", " + d.To
		}
		fmt.Fprintf(e.stdout, "%s  %s (%s): %s%s\n", d.Due, d.Reference, d.Notice, d.What, to)
	}
	return code, nil
}
