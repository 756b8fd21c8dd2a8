package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace/notice"
)

// texts are the values of a flag that may be given several times.
type texts []string

func (t *texts) String() string     { return strings.Join(*t, ", ") }
func (t *texts) Set(s string) error { *t = append(*t, s); return nil }

// runDrill begins, ends and lists drills.
func runDrill(ctx context.Context, e *env, args []string) (int, error) {
	if len(args) == 0 {
		return exitUsage, wrongUsage("say begin, end or list")
	}
	f := flags("drill")
	data := f.String("data", "", "")
	var found, heldUp texts
	product, lot, note := f.String("product", "", ""), f.String("lot", "", ""), f.String("note", "", "")
	drill, searched := f.String("drill", "", ""), f.Bool("searched", false, "")
	f.Var(&found, "found", "")
	f.Var(&heldUp, "held-up", "")
	if err := parse(f, args[1:]); err != nil {
		return exitUsage, err
	}
	verb := args[0]
	if err := drillFlags(f, verb); err != nil {
		return exitUsage, err
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: verb == "list"})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	b, call := notice.NewBook(h.book), inventory.Call{Actor: string(account.Console)}
	switch verb {
	case "begin":
		rec, err := b.BeginDrill(ctx, call, notice.Drilling{Product: inventory.ProductID(*product), Lot: *lot, Note: *note})
		if err != nil {
			return exitError, err
		}
		ev, err := h.registry.Decode(rec.Entries[0])
		if err != nil {
			return exitError, err
		}
		d := ev.(*notice.DrillBegun)
		how := "chosen"
		if d.Among > 0 {
			how = fmt.Sprintf("drawn among %d lots", d.Among)
		}
		fmt.Fprintf(e.stdout, "drill %s: lot %s of %s, %s; the clock is running\n", d.Drill, d.Lot, d.Product, how)
		return exitOK, nil
	case "end":
		q := notice.Drilled{Drill: notice.DrillID(*drill), Searched: *searched, HeldUp: heldUp}
		if q.Shelf, err = shelfOf(found); err != nil {
			return exitUsage, err
		}
		if _, err := b.EndDrill(ctx, call, q); err != nil {
			return exitError, err
		}
	}
	list, err := b.Drills(ctx)
	if err != nil {
		return exitError, err
	}
	if verb == "list" && len(list) == 0 {
		fmt.Fprintln(e.stdout, "no drill is on record")
	}
	for i := range list {
		if verb == "list" || string(list[i].Drill) == *drill {
			printDrill(e.stdout, &list[i])
		}
	}
	return exitOK, nil
}

// drillFlags says whether the flags belong to the verb.
func drillFlags(f *flag.FlagSet, verb string) error {
	of := map[string]string{"begin": "data product lot note", "end": "data drill searched found held-up", "list": "data"}
	allowed, ok := of[verb]
	if !ok || f.NArg() != 0 {
		return wrongUsage("say begin, end or list")
	}
	var err error
	f.Visit(func(x *flag.Flag) {
		if !strings.Contains(" "+allowed+" ", " "+x.Name+" ") {
			err = wrongUsage("--%s does not belong to %s", x.Name, verb)
		}
	})
	if err == nil && verb == "end" && f.Lookup("drill").Value.String() == "" {
		err = wrongUsage("--drill is missing: the number that begin printed")
	}
	return err
}

// shelfOf reads "cart-a=3".
func shelfOf(found []string) ([]notice.FoundThere, error) {
	var list []notice.FoundThere
	for _, s := range found {
		place, n, ok := strings.Cut(s, "=")
		pieces, err := strconv.ParseInt(n, 10, 64)
		if !ok || err != nil || place == "" {
			return nil, wrongUsage("--found takes a place and how many were found there: cart-a=3, not %q", s)
		}
		list = append(list, notice.FoundThere{Location: inventory.LocationID(place), Pieces: pieces})
	}
	return list, nil
}

// printDrill writes a drill in words.
func printDrill(w io.Writer, d *notice.Drill) {
	fmt.Fprintf(w, "%s  lot %s of %s, begun %s by %s\n", d.Drill, d.Lot, d.Product, d.At.Format("2006-01-02 15:04 UTC"), d.By)
	r := d.Result
	if r == nil {
		fmt.Fprintln(w, "  not ended")
		return
	}
	fmt.Fprintf(w, "  %s from the beginning to the end\n", time.Duration(r.Seconds)*time.Second)
	fmt.Fprintf(w, "  %s of %d pieces accounted for by the record", percent(r.Recorded), r.Mass.In())
	if r.Searched {
		fmt.Fprintf(w, ", %s by what was found", percent(r.Found))
	}
	fmt.Fprintln(w)
	for _, n := range r.Counts {
		fmt.Fprintf(w, "  %s: treatments %d, patients %d, machines %d\n", n.Grade, n.Treatments, n.Patients, n.Machines)
	}
	for _, s := range r.HeldUp {
		fmt.Fprintf(w, "  held up: %s\n", s)
	}
}

func percent(thousandths int64) string {
	return fmt.Sprintf("%d.%d %%", thousandths/10, thousandths%10)
}
