package main

import (
	"context"
	"fmt"
	"io"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/trace"
)

// runTrend prints what the shifts of a time say together: a few lines for
// people, the whole as JSON, or the workbook. It exits with 1 if there is an
// alarm, so that a script can tell somebody.
func runTrend(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("trend")
	data := f.String("data", "", "")
	from := f.String("from", "", "")
	to := f.String("to", "", "")
	product := f.String("product", "", "")
	location := f.String("location", "", "")
	alpha := f.Float64("alpha", 0, "")
	whole := f.Bool("json", false, "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if *from == "" || *to == "" || f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --from and --to as 2027-03-31")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	w, err := h.book.Watch(ctx, trace.Watching{
		From: inventory.Date(*from), To: inventory.Date(*to), Product: inventory.ProductID(*product), Location: inventory.LocationID(*location), Alpha: *alpha,
	})
	if err != nil {
		return exitError, err
	}
	code := exitOK
	if len(w.Alarms()) > 0 {
		code = exitError
	}
	switch {
	case *file != "":
		asked, err := h.asked(ctx, e)
		if err != nil {
			return exitError, err
		}
		return code, writeWorkbook(ctx, *data, *file, reports.Watch(w, asked))
	case *whole:
		return code, jsonTo(e.stdout).Encode(struct {
			*trace.Watch
			Caution string `json:"caution"`
		}{w, reports.Caution})
	}
	return code, printTrend(e.stdout, w)
}

// printTrend writes what was found in words.
func printTrend(out io.Writer, w *trace.Watch) error {
	if w.Shifts == 0 {
		_, err := fmt.Fprintf(out, "%s to %s: not known, no treatments are on record\n", w.From, w.To)
		return err
	}
	fmt.Fprintf(out, "%s to %s: %d shifts, %d treatments, %d products and places looked at\n", w.From, w.To, w.Shifts, w.Treatments, w.Looked)
	for _, c := range w.Scanning {
		place := "all places"
		if c.Location != "" {
			place = string(c.Location)
		}
		if c.Chart == nil {
			fmt.Fprintf(out, "not scanned, %s: %s\n", place, c.Unknown)
			continue
		}
		fmt.Fprintf(out, "not scanned, %s: %.1f%% of what is required, %d signals\n", place, 100*c.Chart.Center, len(c.Chart.Signals))
		for _, s := range c.Chart.Signals {
			fmt.Fprintf(out, "  %s: %s\n", c.Labels[s.Point], s.Rule.Title())
		}
	}
	quiet, unknown := 0, 0
	for i := range w.Series {
		s := &w.Series[i]
		switch {
		case s.Alarm:
			fmt.Fprintf(out, "ALARM %s\n", reports.SeriesText(s))
		case s.Steady:
			fmt.Fprintf(out, "steady %s\n", reports.SeriesText(s))
		case s.Level == nil:
			unknown++
		default:
			quiet++
		}
	}
	_, err := fmt.Fprintf(out, "nothing points to a loss: %d; not known: %d. --json and --xlsx have them all\n%s\n", quiet, unknown, reports.Caution)
	return err
}
