package main

import (
	"context"
	"encoding/json"
	"io"
	"math"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/trace"
)

// runReorder prints what to order as JSON, or writes the workbook.
func runReorder(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("reorder")
	data := f.String("data", "", "")
	service := f.Float64("service", 0, "")
	review := f.Int64("review", 0, "")
	lead := f.Float64("lead", -1, "")
	leadSD := f.Float64("lead-sd", 0, "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no arguments of its own")
	}
	q := trace.OrderQuestion{ReviewDays: *review}
	if *service != 0 {
		if !(*service >= 0.5 && *service <= 0.999) {
			return exitUsage, wrongUsage("--service is a chance from 0.5 to 0.999: 98 %% is 0.98")
		}
		q.ServiceLevel = int64(math.Round(*service * 1000))
	}
	switch {
	case *lead >= 0:
		q.LeadTime = &inventory.LeadTime{Hours: int64(math.Round(*lead * 24)), SDHours: int64(math.Round(*leadSD * 24))}
	case *lead != -1 || *leadSD != 0:
		return exitUsage, wrongUsage("--lead is in days, 0 or more, and --lead-sd goes with it")
	}
	return answer(ctx, e, *data, *file, func(h *house) (*trace.Proposal, error) { return h.book.Propose(ctx, q) }, reports.Reorder)
}

// runNext prints which lots to take next and what will expire as JSON, or writes
// the workbook.
func runNext(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("next")
	data := f.String("data", "", "")
	location := f.String("location", "", "")
	product := f.String("product", "", "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no arguments of its own")
	}
	q := trace.NextQuestion{Location: inventory.LocationID(*location), Product: inventory.ProductID(*product)}
	return answer(ctx, e, *data, *file, func(h *house) (*trace.NextLots, error) { return h.book.Next(ctx, q) }, reports.NextLots)
}

// answer asks a question of a book that is only read, and prints the answer as
// JSON or writes the workbook.
func answer[T any](ctx context.Context, e *env, data, file string, ask func(*house) (T, error), draw func(T, reports.Asked) *reports.Workbook) (int, error) {
	h, err := openHouse(ctx, e, data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	a, err := ask(h)
	if err != nil {
		return exitError, err
	}
	if file == "" {
		return exitOK, printAnswer(e.stdout, a)
	}
	asked, err := h.asked(ctx, e)
	if err != nil {
		return exitError, err
	}
	return exitOK, writeWorkbook(ctx, data, file, draw(a, asked))
}

// printAnswer writes an answer as one JSON object with the caution.
func printAnswer(w io.Writer, a any) error {
	doc, err := json.Marshal(a)
	if err != nil {
		return err
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(doc, &members); err != nil {
		return err
	}
	if members["caution"], err = json.Marshal(reports.Caution); err != nil {
		return err
	}
	return jsonTo(w).Encode(members)
}
