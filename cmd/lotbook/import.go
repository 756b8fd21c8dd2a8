package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
	"lotbook/trace/intake"
)

// runImport takes a list in. Of a file with a bad row nothing is taken, unless
// --partial says so. Rows that were taken from the same file, or from one that
// it continues, are not taken again: an import that was cut off goes on.
func runImport(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("import")
	data := f.String("data", "", "")
	partial := f.Bool("partial", false, "")
	again := f.Bool("again", false, "")
	progress := f.Bool("progress", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 2 {
		return exitUsage, wrongUsage("it takes what to import and one file")
	}
	what, file := f.Arg(0), f.Arg(1)
	take := imports[what]
	if take == nil {
		return exitUsage, wrongUsage("there is no list of %q: %s", what, listNames(intake.Forms()))
	}
	in, err := os.Open(file)
	if err != nil {
		return exitError, err
	}
	defer in.Close()
	t, err := intake.Open(in, file)
	if p := (*intake.Problem)(nil); errors.As(err, &p) {
		return (&findings{}).of(p).print(e), nil
	} else if err != nil {
		return exitError, err
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	im := &importing{
		house: h, t: t, list: what, partial: *partial, again: *again,
		call: inventory.Call{Actor: string(account.Console)}, progress: newProgress(e, *progress), continues: map[journal.Hash]bool{},
		products: inventory.NewProductList(),
	}
	if im.sum, err = sumOf(in); err != nil {
		return exitError, err
	}
	if err := im.begin(ctx); err != nil {
		return exitError, err
	}
	err = take(ctx, im)
	im.progress.end()
	if err != nil {
		return exitError, im.stopped(err)
	}
	code := im.findings.print(e)
	im.report(e)
	return code, nil
}

// listNames names some lists.
func listNames(forms []*intake.Form) string {
	var names []string
	for _, f := range forms {
		names = append(names, f.Name)
	}
	return strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
}

func sumOf(in io.ReadSeeker) (journal.Hash, error) {
	if _, err := in.Seek(0, io.SeekStart); err != nil {
		return journal.Hash{}, err
	}
	sum := sha256.New()
	_, err := io.Copy(sum, in)
	return journal.Hash(sum.Sum(nil)), err
}

// report says how many rows were taken.
func (im *importing) report(e *env) {
	before := ""
	if im.skipped > 0 {
		before = fmt.Sprintf("; %d were taken before", im.skipped)
	}
	switch {
	case im.taken > 0:
		fmt.Fprintf(e.stdout, "%d of %d rows of %s taken%s\n", im.taken, im.t.Len(), im.t.File, before)
	case im.skipped > 0 && im.findings.n == 0:
		fmt.Fprintf(e.stdout, "%s was imported before: nothing changed\n", im.t.File)
	default:
		fmt.Fprintf(e.stdout, "nothing of %s taken%s\n", im.t.File, before)
	}
}

// stopped says what is to be done when an import ended too early.
func (im *importing) stopped(err error) error {
	if im.taken == 0 {
		return err
	}
	return fmt.Errorf("%d of %d rows of %s taken, then: %w; give the same command again, and it goes on from there", im.taken, im.t.Len(), im.t.File, err)
}

// findings are what is wrong with a file's rows and what there was to notice;
// the first of them are kept.
type findings struct {
	command string // that says so, import where it is empty
	n       int    // of problems
	lines   []string
	noticed int
}

// mostSaid is how many problems, and how many notices, are printed.
const mostSaid = 100

func (f *findings) of(ps ...*intake.Problem) *findings {
	for _, p := range ps {
		if f.n++; f.n > mostSaid {
			continue
		}
		f.lines = append(f.lines, f.by()+p.Error())
		if p.Hint != "" {
			f.lines = append(f.lines, "hint: "+p.Hint)
		}
	}
	return f
}

func (f *findings) by() string { return "lotbook: " + cmp.Or(f.command, "import") + ": " }

// notice keeps what there was to notice about a row that was taken.
func (f *findings) notice(file string, line int, message string) {
	if f.noticed++; f.noticed <= mostSaid {
		f.lines = append(f.lines, fmt.Sprintf("%s%s, line %d, taken: %s", f.by(), file, line, message))
	}
}

// print prints them and returns the exit code.
func (f *findings) print(e *env) int {
	for _, l := range f.lines {
		fmt.Fprintln(e.stderr, l)
	}
	if f.n > mostSaid {
		fmt.Fprintf(e.stderr, "%sand %d more\n", f.by(), f.n-mostSaid)
	}
	if f.noticed > mostSaid {
		fmt.Fprintf(e.stderr, "%sand %d more to notice about rows taken\n", f.by(), f.noticed-mostSaid)
	}
	if f.n > 0 {
		return exitError
	}
	return exitOK
}
