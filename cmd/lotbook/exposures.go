package main

import (
	"context"
	"encoding/json"
	"io"
	"path/filepath"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
)

// runExposures prints who received a lot as JSON, or writes the workbook.
func runExposures(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("exposures")
	data := f.String("data", "", "")
	product := f.String("product", "", "")
	lot := f.String("lot", "", "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if *product == "" || *lot == "" || f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --product and --lot")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	a, err := h.book.Exposures(ctx, trace.Question{Product: *product, Lot: *lot})
	if err != nil {
		return exitError, err
	}
	if *file != "" {
		asked, err := h.asked(ctx, e)
		if err != nil {
			return exitError, err
		}
		return exitOK, writeWorkbook(ctx, *data, *file, reports.Exposures(ctx, h.book, a, asked))
	}
	return exitOK, printExposures(ctx, e.stdout, h.book, a)
}

// printExposures writes the answer and its exposures, surest first, as one
// JSON object.
func printExposures(ctx context.Context, w io.Writer, b *trace.Book, a *trace.LotAnswer) error {
	out := struct {
		*trace.LotAnswer
		Exposures []trace.Exposure `json:"exposures"`
		Caution   string           `json:"caution"`
	}{a, []trace.Exposure{}, reports.Caution}
	err := b.EachConfirmed(ctx, a, func(x *trace.Exposure) error {
		out.Exposures = append(out.Exposures, *x)
		return nil
	})
	if err != nil {
		return err
	}
	out.Exposures = append(out.Exposures, a.Unrecorded...)
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(out)
}

// asked is who asks at a command line: whoever the machine says it is.
func (h *house) asked(ctx context.Context, e *env) (reports.Asked, error) {
	a := reports.Asked{By: "command line", At: e.now().UTC()}
	if u := e.getenv("USER"); u != "" {
		a.By = u + ", by command line"
	}
	err := h.book.View(ctx, func(r inventory.Reader) error {
		u, err := h.book.Unit(r)
		if err != nil {
			return err
		}
		a.Unit = u.Name
		a.Zone, err = u.Zone()
		return err
	})
	return a, err
}

// writeWorkbook writes a workbook to a file whole or not at all. Temporary
// files, which hold patient data, lie inside the data folder.
func writeWorkbook(ctx context.Context, data, file string, wb *reports.Workbook) error {
	return writeWhole(file, func(w io.Writer) error {
		return xlsx.Write(ctx, w, wb, xlsx.Options{TempDir: filepath.Join(data, "tmp"), Application: "lotbook " + version()})
	})
}
