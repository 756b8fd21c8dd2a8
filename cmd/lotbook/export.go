package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/reports/csv"
	"lotbook/trace/intake"
)

// runExport writes a list to a file as lotbook import takes it in.
func runExport(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("export")
	data := f.String("data", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	form, file, err := listAndFile(f.Args(), intake.Forms())
	if err != nil {
		return exitUsage, err
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	by, err := h.asked(ctx, e)
	if err != nil {
		return exitError, err
	}
	if file != "-" && strings.EqualFold(filepath.Ext(file), ".xlsx") {
		wb, err := reports.ListWorkbook(ctx, h.book, form.Name, by)
		if err != nil {
			return exitError, err
		}
		return exitOK, writeWorkbook(ctx, *data, file, wb)
	}
	return exitOK, writeList(ctx, e, file, reports.List(ctx, h.book, form.Name))
}

// writeList writes a list as CSV to a file or, for -, to standard output.
func writeList(ctx context.Context, e *env, file string, t *reports.Table) error {
	write := func(w io.Writer) error { return csv.Write(ctx, w, t, csv.Options{}) }
	if file == "-" {
		return write(e.stdout)
	}
	return writeWhole(file, write)
}

// runTemplate writes an empty list with a row that shows how it is filled in.
func runTemplate(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("template")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	form, file, err := listAndFile(f.Args(), intake.Templates())
	if err != nil {
		return exitUsage, err
	}
	wb := reports.Template(form, e.now().UTC())
	if file != "-" && strings.EqualFold(filepath.Ext(file), ".xlsx") {
		dir, err := os.MkdirTemp("", "lotbook-template-")
		if err != nil {
			return exitError, err
		}
		defer os.RemoveAll(dir)
		return exitOK, writeWorkbook(ctx, dir, file, wb)
	}
	if err := writeList(ctx, e, file, wb.Sheets[0].Table); err != nil || file == "-" {
		return exitOK, err
	}
	for _, c := range form.Columns {
		needed := ""
		if c.Required {
			needed = " Needed."
		}
		fmt.Fprintf(e.stdout, "%s: %s%s\n", c.Name, c.What, needed)
	}
	fmt.Fprintln(e.stdout, "Delete the row that shows how: a file that still has it is refused.")
	return exitOK, nil
}

// listAndFile reads the arguments of a command about one of some lists and a
// file.
func listAndFile(args []string, forms []*intake.Form) (*intake.Form, string, error) {
	if len(args) != 2 {
		return nil, "", wrongUsage("it takes the name of a list and one file")
	}
	i := slices.IndexFunc(forms, func(f *intake.Form) bool { return f.Name == args[0] })
	if i < 0 {
		return nil, "", wrongUsage("there is no list of %q: %s", args[0], listNames(forms))
	}
	if ext := strings.ToLower(filepath.Ext(args[1])); args[1] != "-" && ext != ".csv" && ext != ".xlsx" {
		return nil, "", wrongUsage("the file's name ends in .csv or .xlsx, or is - for CSV on standard output")
	}
	return forms[i], args[1], nil
}

// writeWhole writes a file whole or not at all.
func writeWhole(file string, write func(io.Writer) error) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(file), ".lotbook-*"+filepath.Ext(file))
	if err != nil {
		return fmt.Errorf("the file can't be written there: %w", err)
	}
	defer func() {
		if err != nil {
			_ = os.Remove(tmp.Name())
		}
	}()
	if err := write(tmp); err != nil {
		_ = tmp.Close()
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), file)
}
