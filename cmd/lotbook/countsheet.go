package main

import (
	"context"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/trace/intake"
)

// sheetCommands are what can be done with count sheets.
var sheetCommands = map[string]func(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error){
	"open": openSheet, "list": listSheets, "paper": paperSheet, "enter": enterSheet, "close": closeSheet, "drop": dropSheet,
}

// runCountSheet opens, prints, fills in and closes the sheets of blind counts.
func runCountSheet(ctx context.Context, e *env, args []string) (int, error) {
	if len(args) == 0 {
		return exitUsage, wrongUsage("say open, list, paper, enter, close or drop")
	}
	run := sheetCommands[args[0]]
	if run == nil {
		return exitUsage, wrongUsage("there is no count-sheet command %q: say open, list, paper, enter, close or drop", args[0])
	}
	f := flags("count-sheet " + args[0])
	return run(ctx, e, f, f.String("data", "", ""), args[1:])
}

// console is a call of whoever holds the folder.
func console() inventory.Call { return inventory.Call{Actor: string(account.Console)} }

// decoded returns the last event of a receipt.
func (h *house) decoded(rec inventory.Receipt) (inventory.Event, error) {
	return h.registry.Decode(rec.Entries[len(rec.Entries)-1])
}

func openSheet(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error) {
	location := f.String("location", "", "")
	complete := f.Bool("complete", false, "")
	date := f.String("date", "", "")
	shift := f.Int("shift", 0, "")
	var products []inventory.ProductID
	f.Func("product", "", func(s string) error { products = append(products, inventory.ProductID(s)); return nil })
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 || *location == "" || (*date == "") != (*shift == 0) {
		return exitUsage, wrongUsage("open takes --location, --product as often as needed (none: all), --complete, and --date with --shift for the shift that the count closes")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{MustExist: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	cmd := inventory.SheetOpened{Location: inventory.LocationID(*location), Products: products, Complete: *complete}
	if *date != "" {
		cmd.Shift = &inventory.Shift{Date: inventory.Date(*date), Number: *shift}
	}
	rec, err := h.book.OpenSheet(ctx, console(), cmd)
	if err != nil {
		return exitError, err
	}
	ev, err := h.decoded(rec)
	if err != nil {
		return exitError, err
	}
	fmt.Fprintln(e.stdout, ev.(*inventory.SheetOpened).Sheet)
	return exitOK, nil
}

// listSheets prints the sheets that are not finished, one JSON object a line. It
// tells what was found and nothing of what the book has.
func listSheets(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error) {
	location := f.String("location", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("list takes --location")
	}
	return eachLine(ctx, e, *data, func(h *house, r inventory.Reader, line func(any) error) error {
		sheets, err := inventory.OpenSheets(r, inventory.LocationID(*location))
		for _, s := range sheets {
			err = errors.Join(err, line(s))
		}
		return err
	})
}

// sheetAndFile reads the arguments of a command about a sheet and a file.
func sheetAndFile(f *flag.FlagSet, args []string) (inventory.SheetID, string, error) {
	if err := parse(f, args); err != nil {
		return "", "", err
	}
	if n := f.NArg(); n != 1 && n != 2 {
		return "", "", wrongUsage("it takes the sheet, if more than one is open, and one file")
	}
	if f.NArg() == 1 {
		return "", f.Arg(0), nil
	}
	return inventory.SheetID(f.Arg(0)), f.Arg(1), nil
}

// openOne returns the sheet that is named or, without a name, the only one that
// is open.
func openOne(r inventory.Reader, id inventory.SheetID) (*inventory.Sheet, error) {
	if id != "" {
		return inventory.SheetByID(r, id)
	}
	sheets, err := inventory.OpenSheets(r, "")
	if err != nil {
		return nil, err
	}
	if len(sheets) != 1 {
		return nil, inventory.Invalid("sheet", "lotbook count-sheet list names them.", "%d count sheets are open, so the sheet must be named", len(sheets))
	}
	return sheets[0], nil
}

// sheetNamed is openOne in a view of its own, for its id.
func (h *house) sheetNamed(ctx context.Context, id inventory.SheetID) (inventory.SheetID, error) {
	err := h.book.View(ctx, func(r inventory.Reader) error {
		s, err := openOne(r, id)
		if err == nil {
			id = s.ID
		}
		return err
	})
	return id, err
}

// paperSheet writes what may lie there, to be filled in.
func paperSheet(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error) {
	id, file, err := sheetAndFile(f, args)
	if err != nil {
		return exitUsage, err
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	var s *inventory.Sheet
	var lots []inventory.LotFacts
	var names reports.Names
	err = h.book.View(ctx, func(r inventory.Reader) (err error) {
		if s, err = openOne(r, id); err != nil {
			return err
		}
		list := s.Again // only what is asked for again, once something is
		if len(list) == 0 {
			if list, err = h.book.MayLieThere(r, s); err != nil {
				return err
			}
		}
		lots = lots[:0]
		for _, l := range list {
			facts, _, err := inventory.LotFactsOf(r, l)
			if err != nil {
				return err
			}
			lots = append(lots, facts)
		}
		names, err = h.names(r)
		return err
	})
	if err != nil {
		return exitError, err
	}
	if strings.EqualFold(filepath.Ext(file), ".xlsx") {
		by, err := h.asked(ctx, e)
		if err != nil {
			return exitError, err
		}
		return exitOK, writeWorkbook(ctx, *data, file, reports.CountSheetWorkbook(s, lots, names, by))
	}
	return exitOK, writeList(ctx, e, file, reports.CountSheet(lots, names))
}

// names are the catalogue's names.
func (h *house) names(r inventory.Reader) (reports.Names, error) {
	ps, err := h.book.Products(r)
	names := reports.Names{}
	for _, p := range ps {
		names[p.ID] = p.Name
	}
	return names, err
}

// readSheet reads a file of a list that belongs to a sheet.
func readSheet[T any](list *intake.List[T], file string) (items []T, lines []int, t *intake.Table, problems []*intake.Problem, err error) {
	in, err := os.Open(file)
	if err != nil {
		return nil, nil, nil, nil, err
	}
	defer in.Close()
	t, err = intake.Open(in, file)
	if p := (*intake.Problem)(nil); errors.As(err, &p) {
		return nil, nil, nil, []*intake.Problem{p}, nil
	} else if err != nil {
		return nil, nil, nil, nil, err
	}
	items, lines, problems = list.All(t)
	return items, lines, t, problems, nil
}

// enterSheet notes what was found: all of a file or nothing. The same file again
// changes nothing, since what several people find adds up.
func enterSheet(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error) {
	id, file, err := sheetAndFile(f, args)
	if err != nil {
		return exitUsage, err
	}
	rows, lines, t, problems, err := readSheet(&intake.CountSheet, file)
	if err != nil {
		return exitError, err
	}
	said := &findings{command: "count-sheet"}
	if len(problems) > 0 {
		return said.of(problems...).print(e), nil
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{MustExist: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	if id, err = h.sheetNamed(ctx, id); err != nil {
		return exitError, err
	}
	cmd := inventory.SheetLines{Sheet: id}
	var from []int
	for i, r := range rows {
		if !r.Empty {
			cmd.Lines, from = append(cmd.Lines, r.SheetLine), append(from, lines[i])
		}
	}
	call := console()
	if call.Key, err = sheetKey(id, file); err != nil {
		return exitError, err
	}
	rec, err := h.book.NoteFound(ctx, call, cmd)
	if err != nil {
		if bad := intake.Refused(t, from, err); len(bad) > 0 {
			return said.of(bad...).print(e), nil
		}
		return exitError, err
	}
	if rec.Replayed {
		fmt.Fprintf(e.stdout, "%s was noted on %s before: nothing changed\n", file, id)
		return exitOK, nil
	}
	fmt.Fprintf(e.stdout, "%d of %d rows of %s noted on %s", len(cmd.Lines), len(rows), file, id)
	if n := len(rows) - len(cmd.Lines); n > 0 {
		fmt.Fprintf(e.stdout, "; %d without a figure", n)
	}
	fmt.Fprintln(e.stdout)
	return exitOK, nil
}

// sheetKey is what a file that was noted on a sheet is known by again.
func sheetKey(id inventory.SheetID, file string) (string, error) {
	in, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer in.Close()
	sum, err := sumOf(in)
	return "count-sheet " + string(id) + " " + hex.EncodeToString(sum[:16]), err
}

// A closing is what came of closing a sheet.
type closing struct {
	Sheet inventory.SheetID    `json:"sheet"`
	State inventory.SheetState `json:"state"`
	// CountAgain has no figures: they are told once it was counted twice.
	CountAgain  []inventory.Lot `json:"count_again,omitempty"`
	Differences []difference    `json:"differences,omitempty"`
	Entry       uint64          `json:"entry,omitempty"`
	At          time.Time       `json:"counted_at,omitzero"`
}

type difference struct {
	Product inventory.ProductID `json:"product"`
	Lot     string              `json:"lot,omitempty"`
	Counted int64               `json:"counted"`
	Book    int64               `json:"book"`
	Cause   string              `json:"cause,omitempty"`
}

func differing(lines []inventory.CountLine) (list []difference) {
	for _, l := range lines {
		if l.Counted != l.Book {
			list = append(list, difference{l.Product, l.Lot, l.Counted, l.Book, l.Cause})
		}
	}
	return list
}

// closeSheet compares a sheet with the book and makes it a count, or says what is
// to be counted again or needs a cause; the exit code is then 1.
func closeSheet(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error) {
	cause := f.String("cause", "", "")
	note := f.String("note", "", "")
	file := f.String("causes", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() > 1 || (*cause != "" && *file != "") || (*note != "" && *cause == "") {
		return exitUsage, wrongUsage("close takes the sheet, if more than one is open, and for differences --cause CODE with --note TEXT for all of them, or --causes FILE")
	}
	cmd := inventory.Finishing{Sheet: inventory.SheetID(f.Arg(0))}
	if *file != "" {
		causes, _, _, problems, err := readSheet(&intake.SheetCauses, *file)
		if err != nil {
			return exitError, err
		}
		if len(problems) > 0 {
			return (&findings{command: "count-sheet"}).of(problems...).print(e), nil
		}
		cmd.Causes = causes
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{MustExist: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	if cmd.Sheet, err = h.sheetNamed(ctx, cmd.Sheet); err != nil {
		return exitError, err
	}
	if *cause != "" {
		lines, err := h.compared(ctx, cmd.Sheet)
		if err != nil {
			return exitError, err
		}
		for _, l := range lines {
			cmd.Causes = append(cmd.Causes, inventory.LotCause{Product: l.Product, Lot: l.Lot, Cause: *cause, Note: *note})
		}
	}
	rec, err := h.book.FinishSheet(ctx, console(), cmd)
	if err != nil {
		return exitError, err
	}
	ev, err := h.decoded(rec)
	if err != nil {
		return exitError, err
	}
	out := closing{Sheet: cmd.Sheet, State: inventory.SheetDone}
	switch v := ev.(type) {
	case *inventory.Counted:
		at := rec.Entries[len(rec.Entries)-1]
		out.Entry, out.At, out.Differences = at.Seq, at.Happened, differing(v.Lines)
		return exitOK, jsonTo(e.stdout).Encode(out)
	case *inventory.SheetCompared:
		if out.State, out.CountAgain = v.State, slices.Clone(v.Again); v.State == inventory.SheetCauses {
			lines, err := h.compared(ctx, cmd.Sheet)
			if err != nil {
				return exitError, err
			}
			out.Differences = differing(lines)
			fmt.Fprintln(e.stderr, "lotbook: count-sheet: what differs was counted twice\nhint: close it again with --cause, or --causes FILE (product, lot, cause, note)")
		} else {
			fmt.Fprintln(e.stderr, "lotbook: count-sheet: some lots are to be counted again\nhint: lotbook count-sheet paper writes them; enter what is found, 0 for none, and close it again")
		}
		return exitError, jsonTo(e.stdout).Encode(out)
	}
	return exitError, fmt.Errorf("closing sheet %s wrote a %s", cmd.Sheet, ev.Kind())
}

// compared returns a sheet's lines beside the book.
func (h *house) compared(ctx context.Context, id inventory.SheetID) (lines []inventory.CountLine, err error) {
	err = h.book.View(ctx, func(r inventory.Reader) error {
		lines, err = h.book.Compared(r, id)
		return err
	})
	return lines, err
}

func dropSheet(ctx context.Context, e *env, f *flag.FlagSet, data *string, args []string) (int, error) {
	reason := f.String("reason", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() > 1 || *reason == "" {
		return exitUsage, wrongUsage("drop takes --reason, and the sheet if more than one is open")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{MustExist: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	id, err := h.sheetNamed(ctx, inventory.SheetID(f.Arg(0)))
	if err != nil {
		return exitError, err
	}
	if _, err := h.book.DropSheet(ctx, console(), inventory.SheetGivenUp{Sheet: id, Reason: *reason}); err != nil {
		return exitError, err
	}
	fmt.Fprintf(e.stdout, "%s is given up, and nothing of it is posted\n", id)
	return exitOK, nil
}
