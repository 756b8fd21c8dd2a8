package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace/intake"
	"lotbook/trace/notice"
)

// A noticeUse is a use of the command notice: what it takes besides --data and
// --notice, and what it does.
type noticeUse struct {
	name  string
	usage string
	// write opens the book for writing.
	write bool
	// set adds flags, and returns what runs when they are read.
	set func(*flag.FlagSet) func(context.Context, *noticeRun) (int, error)
}

// A noticeRun is a use of the command notice under way.
type noticeRun struct {
	*env
	*house
	book *notice.Book
	data string
	id   notice.ID
	call inventory.Call
}

func noticeUses() []noticeUse {
	return append([]noticeUse{
		{"write", "(--json FILE | --list FILE --reference R --issuer WHO --received DATE [--subject S] [--class C] [--dated DATE] [--deadline DATE] [--action TEXT]…) [--notice ID [--alone]] [--another]", true, setNoticeWrite},
		{"show", "--notice ID", false, setNoticeShow},
		{"lots", "--notice ID [--version N]", false, setNoticeLots},
		{"decide", "--notice ID --product ID [--lot LOT] --meant yes|no --reason WHY", true, setNoticeDecide},
		{"confirm", "--notice ID [--version N]", true, setNoticeConfirm},
		{"release", "--notice ID [--product ID [--lot LOT]…] --reason WHY", true, setNoticeRelease},
		{"answer", "--notice ID [--version N | --reply N [--paper A4|Letter] [--reply-xlsx FILE] [--letter FILE]] [--xlsx FILE]", false, setNoticeAnswer},
		{"difference", "--notice ID --from N --to N", false, setNoticeDifference},
		{"reply", "--notice ID --words FILE [--version N] [--seen SUM]", true, setNoticeReply},
	}, noticeWork()...)
}

// runNotice does something about a field notice.
func runNotice(ctx context.Context, e *env, args []string) (int, error) {
	var names []string
	for _, u := range noticeUses() {
		names = append(names, u.name)
	}
	if len(args) == 0 {
		return exitUsage, wrongUsage("say %s", strings.Join(names, ", "))
	}
	for _, u := range noticeUses() {
		if u.name == args[0] {
			return u.run(ctx, e, args[1:])
		}
	}
	return exitUsage, wrongUsage("there is no use %q of it: say %s", args[0], strings.Join(names, ", "))
}

func (u *noticeUse) run(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("notice " + u.name)
	data := f.String("data", "", "")
	id := f.String("notice", "", "")
	do := u.set(f)
	wrong := func(why string) (int, error) {
		return exitUsage, wrongUsage("%s: %s; it takes --data DIR %s", u.name, why, u.usage)
	}
	if err := f.Parse(args); err != nil {
		return wrong(err.Error())
	}
	switch {
	case f.NArg() != 0:
		return wrong("there is something behind the options")
	case *id == "" && u.name != "write":
		return wrong("--notice is missing")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: !u.write, MustExist: u.write})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	r := &noticeRun{e, h, notice.NewBook(h.book), *data, notice.ID(*id), inventory.Call{Actor: string(account.Console)}}
	code, err := do(ctx, r)
	if miss := (*usageError)(nil); errors.As(err, &miss) {
		return wrong(miss.why)
	}
	return code, err
}

// print writes a value as JSON.
func (r *noticeRun) print(v any) (int, error) {
	enc := json.NewEncoder(r.stdout)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return exitOK, enc.Encode(v)
}

// wrote says what was recorded: the events that a receipt's entries hold.
func (r *noticeRun) wrote(rec inventory.Receipt, err error) (int, error) {
	if err != nil {
		return exitError, err
	}
	for _, e := range rec.Entries {
		switch ev, err := r.registry.Decode(e); v := ev.(type) {
		case *notice.VersionWritten:
			fmt.Fprintf(r.stdout, "%s: %s of %s written down as entry %d\n", v.Notice, v.Reference, v.Issuer, e.Seq)
		case *notice.LotDecided:
			lot, meant := "lot "+v.Lot, "meant"
			if v.Lot == "" {
				lot = "without a lot number"
			}
			if !v.Meant {
				meant = "not meant"
			}
			fmt.Fprintf(r.stdout, "%s: %s %s: %s (entry %d)\n", v.Notice, v.Product, lot, meant, e.Seq)
		case *notice.ScopeConfirmed:
			fmt.Fprintf(r.stdout, "%s: the scope of version %d is confirmed, and what it means is on hold (entry %d)\n", v.Notice, v.Version, e.Seq)
		case *notice.HoldReleased:
			fmt.Fprintf(r.stdout, "%s: released (entry %d)\n", v.Notice, e.Seq)
		case *notice.Replied:
			fmt.Fprintf(r.stdout, "%s: reply %d is kept as entry %d: %s\n", v.Notice, v.Number, e.Seq, v.Receipt.Words())
		default:
			if err != nil {
				return exitError, err
			}
		}
	}
	return exitOK, nil
}

func setNoticeWrite(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	doc := f.String("json", "", "")
	list := f.String("list", "", "")
	v := notice.Version{}
	f.StringVar(&v.Reference, "reference", "", "")
	f.StringVar(&v.Issuer, "issuer", "", "")
	f.StringVar(&v.Subject, "subject", "", "")
	f.StringVar(&v.Class, "class", "", "")
	f.StringVar((*string)(&v.Dated), "dated", "", "")
	f.StringVar((*string)(&v.Received), "received", "", "")
	f.StringVar((*string)(&v.Deadline), "deadline", "", "")
	f.Func("action", "", func(s string) error {
		v.Actions = append(v.Actions, notice.Action{ID: fmt.Sprint(len(v.Actions) + 1), Text: s})
		return nil
	})
	f.BoolVar(&v.Alone, "alone", false, "")
	another := f.Bool("another", false, "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		if (*doc == "") == (*list == "") {
			return exitUsage, wrongUsage("give --json, or --list")
		}
		w := notice.Writing{Notice: r.id, Version: v, Another: *another}
		if *doc != "" {
			if err := readJSON(r.env, *doc, &w.Version); err != nil {
				return exitError, err
			}
			return r.wrote(r.book.Write(ctx, r.call, w))
		}
		rows, lines, found, err := noticeList(*list)
		if err != nil {
			return exitError, err
		}
		if code := found.print(r.env); code != exitOK {
			return code, nil
		}
		var begun []int
		w.Lines, begun = intake.LinesOf(rows)
		rec, err := r.book.Write(ctx, r.call, w)
		// What the book has against a line is named by the row that began it.
		if l := (*inventory.LineError)(nil); errors.As(err, &l) && l.Line < len(begun) {
			return exitError, fmt.Errorf("%s, line %d: %w", *list, lines[begun[l.Line]], l.Err)
		}
		return r.wrote(rec, err)
	}
}

// noticeList reads products and lots from a list.
func noticeList(file string) (rows []notice.Line, lines []int, found *findings, err error) {
	found = &findings{command: "notice"}
	in, err := os.Open(file)
	if err != nil {
		return nil, nil, nil, err
	}
	defer in.Close()
	t, err := intake.Open(in, file)
	if p := (*intake.Problem)(nil); errors.As(err, &p) {
		return nil, nil, found.of(p), nil
	} else if err != nil {
		return nil, nil, nil, err
	}
	rows, lines, problems := intake.NoticeLines.All(t)
	return rows, lines, found.of(problems...), nil
}

// readJSON reads one JSON value from a file, or from standard input for -. What
// the value has no place for is an error.
func readJSON(e *env, file string, v any) error {
	in := e.stdin
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return err
		}
		defer f.Close()
		in = f
	}
	dec := json.NewDecoder(in)
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return inventory.Invalid("json", "Write it as the README shows it; members are called as in the API.", "%s can't be read: %v", file, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return inventory.Invalid("json", "Put one JSON object into the file.", "there is something behind the JSON value in %s", file)
	}
	return nil
}
