package main

import (
	"context"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/trace"
)

// runProblems prints problems with products as JSON, or writes the workbook.
func runProblems(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("problems")
	data := f.String("data", "", "")
	product := f.String("product", "", "")
	lot := f.String("lot", "", "")
	from := f.String("from", "", "")
	to := f.String("to", "", "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no arguments")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	q := trace.ProblemQuery{Product: *product, Lot: *lot}
	err = h.book.View(ctx, func(r inventory.Reader) error {
		u, err := h.book.Unit(r)
		if err != nil {
			return err
		}
		q.From, q.To, err = u.Days(inventory.Date(*from), inventory.Date(*to))
		return err
	})
	if err != nil {
		return exitError, err
	}
	t, err := h.book.ProblemTable(ctx, q)
	if err != nil {
		return exitError, err
	}
	if *file != "" {
		names, err := h.accounts.Names(ctx)
		if err != nil {
			return exitError, err
		}
		return h.draw(ctx, e, *data, *file, func(asked reports.Asked) *reports.Workbook { return reports.Problems(t, names.Of, asked) })
	}
	out := struct {
		*trace.ProblemList
		Problems []trace.ProblemRow `json:"problems"`
		Caution  string             `json:"caution"`
	}{t.List, t.Rows, reports.Caution}
	if out.Problems == nil {
		out.Problems = []trace.ProblemRow{}
	}
	return exitOK, jsonTo(e.stdout).Encode(out)
}

// runProblemDraft prints what is on record of a problem in the fields of a report,
// or writes the workbook.
func runProblemDraft(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("problem-draft")
	data := f.String("data", "", "")
	id := f.String("problem", "", "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if *id == "" || f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --problem, a number that lotbook problems lists")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	names, err := h.accounts.Names(ctx)
	if err != nil {
		return exitError, err
	}
	d, err := h.book.DraftProblem(ctx, trace.ProblemID(*id), names.Of)
	if err != nil {
		return exitError, err
	}
	if *file != "" {
		return h.draw(ctx, e, *data, *file, func(asked reports.Asked) *reports.Workbook { return reports.ProblemDraft(d, asked) })
	}
	return exitOK, jsonTo(e.stdout).Encode(struct {
		*trace.ProblemDraft
		Caution string `json:"caution"`
	}{d, reports.Caution})
}

// draw writes the workbook of an answer that was asked for at the command line.
func (h *house) draw(ctx context.Context, e *env, data, file string, draw func(reports.Asked) *reports.Workbook) (int, error) {
	asked, err := h.asked(ctx, e)
	if err != nil {
		return exitError, err
	}
	return exitOK, writeWorkbook(ctx, data, file, draw(asked))
}
