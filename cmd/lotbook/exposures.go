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

// runExposures prints who received a lot as JSON, or writes the workbook. With
// --treatment it opens one line to the entries that it rests on, with --left-out
// it lists the treatments that the answer leaves out.
func runExposures(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("exposures")
	data := f.String("data", "", "")
	product := f.String("product", "", "")
	lot := f.String("lot", "", "")
	file := f.String("xlsx", "", "")
	treatment := f.String("treatment", "", "")
	leftOut := f.Bool("left-out", false, "")
	var which trace.LeftOutQuestion
	f.StringVar((*string)(&which.From), "from", "", "")
	f.StringVar((*string)(&which.To), "to", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if *product == "" || *lot == "" || f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --product and --lot")
	}
	if (which.From != "" || which.To != "") && !*leftOut {
		return exitUsage, wrongUsage("--from and --to go with --left-out")
	}
	if n := len(*file) + len(*treatment); *leftOut && n > 0 || *file != "" && *treatment != "" {
		return exitUsage, wrongUsage("it takes one of --xlsx, --treatment and --left-out")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	q := trace.Question{Product: *product, Lot: *lot}
	if *treatment != "" {
		ev, err := h.book.ExposureEvidence(ctx, q, trace.TreatmentID(*treatment))
		if err != nil {
			return exitError, err
		}
		return exitOK, jsonTo(e.stdout).Encode(ev)
	}
	a, err := h.book.Exposures(ctx, q)
	if err != nil {
		return exitError, err
	}
	if *leftOut {
		return exitOK, printLeftOut(ctx, e.stdout, h.book, a, which)
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
	return jsonTo(w).Encode(out)
}

// printLeftOut writes the treatments that an answer leaves out, one JSON object
// a line, through short snapshots.
func printLeftOut(ctx context.Context, w io.Writer, b *trace.Book, a *trace.LotAnswer, which trace.LeftOutQuestion) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	for more := true; more; {
		var list []trace.LeftOut
		var err error
		if list, more, err = b.LeftOut(ctx, a, which); err != nil {
			return err
		}
		for i := range list {
			if err := enc.Encode(&list[i]); err != nil {
				return err
			}
			which.Start, which.After = list[i].Start, list[i].Treatment
		}
	}
	return nil
}

// jsonTo writes JSON for a person to read.
func jsonTo(w io.Writer) *json.Encoder {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc
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
