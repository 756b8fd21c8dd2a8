package main

import (
	"context"
	"io"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/trace"
)

// reconcileFlags are what lotbook reconcile was asked.
type reconcileFlags struct {
	date, to, product, location, file string
	shift, weeks                      int
}

// runReconcile prints counted, recorded and expected figures as JSON, or writes
// the workbook: of a shift, of each shift of a day, of a range of days as one,
// or of weeks.
func runReconcile(ctx context.Context, e *env, args []string) (int, error) {
	var q reconcileFlags
	f := flags("reconcile")
	data := f.String("data", "", "")
	f.StringVar(&q.date, "date", "", "")
	f.StringVar(&q.to, "to", "", "")
	f.StringVar(&q.product, "product", "", "")
	f.StringVar(&q.location, "location", "", "")
	f.StringVar(&q.file, "xlsx", "", "")
	f.IntVar(&q.shift, "shift", 0, "")
	f.IntVar(&q.weeks, "weeks", 0, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if err := q.check(f.NArg()); err != nil {
		return exitUsage, err
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	recs, err := h.reconcile(ctx, &q)
	if err != nil {
		return exitError, err
	}
	if q.file == "" {
		return exitOK, printReconciliations(e.stdout, recs)
	}
	asked, err := h.asked(ctx, e)
	if err != nil {
		return exitError, err
	}
	switch {
	case q.weeks > 0:
		return exitOK, writeWorkbook(ctx, *data, q.file, reports.Weeks(recs, asked))
	case len(recs) == 1:
		return exitOK, writeWorkbook(ctx, *data, q.file, reports.Reconciliation(recs[0], asked))
	}
	return exitUsage, wrongUsage("a workbook is of one shift or one range: give --shift or --to")
}

func (q *reconcileFlags) check(rest int) error {
	if _, err := time.Parse(time.DateOnly, q.date); err != nil || rest != 0 {
		return wrongUsage("it takes --date as 2027-03-31")
	}
	if _, err := time.Parse(time.DateOnly, q.to); q.to != "" && err != nil {
		return wrongUsage("it takes --to as 2027-03-31")
	}
	if n := given(q.to != "") + given(q.shift != 0) + given(q.weeks != 0); n > 1 || q.weeks < 0 || q.shift < 0 {
		return wrongUsage("it takes one of --shift, --to and --weeks")
	}
	return nil
}

func given(v bool) int {
	if v {
		return 1
	}
	return 0
}

// reconcile compares what was asked for.
func (h *house) reconcile(ctx context.Context, q *reconcileFlags) ([]*trace.Reconciliation, error) {
	date := inventory.Date(q.date)
	only := trace.Span{Product: inventory.ProductID(q.product), Location: inventory.LocationID(q.location)}
	if q.weeks > 0 {
		return h.book.ReconcileWeeks(ctx, date, q.weeks, only)
	}
	var spans []trace.Span
	switch {
	case q.to != "":
		s, err := h.book.WholeDays(ctx, date, inventory.Date(q.to))
		if err != nil {
			return nil, err
		}
		spans = append(spans, s)
	case q.shift != 0:
		spans = append(spans, trace.Span{From: inventory.Shift{Date: date, Number: q.shift}})
	default:
		ns, err := h.shifts(ctx)
		if err != nil {
			return nil, err
		}
		for _, n := range ns {
			spans = append(spans, trace.Span{From: inventory.Shift{Date: date, Number: n}})
		}
	}
	var recs []*trace.Reconciliation
	for _, s := range spans {
		s.Product, s.Location = only.Product, only.Location
		rec, err := h.book.ReconcileSpan(ctx, s)
		if err != nil {
			return nil, err
		}
		recs = append(recs, rec)
	}
	return recs, nil
}

// printReconciliations writes each as a JSON object.
func printReconciliations(w io.Writer, recs []*trace.Reconciliation) error {
	enc := jsonTo(w)
	for _, rec := range recs {
		out := struct {
			*trace.Reconciliation
			Caution string `json:"caution"`
		}{rec, reports.Caution}
		if err := enc.Encode(out); err != nil {
			return err
		}
	}
	return nil
}

// shifts returns the numbers of the unit's shifts.
func (h *house) shifts(ctx context.Context) (ns []int, err error) {
	err = h.book.View(ctx, func(r inventory.Reader) error {
		u, err := h.book.Unit(r)
		if err != nil {
			return err
		}
		for _, s := range u.Shifts {
			ns = append(ns, s.Number)
		}
		return nil
	})
	return ns, err
}
