package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/trace"
	"lotbook/trace/intake"
)

// runShared prints what treatments with a reaction share that others don't: the
// first lines for people, the whole as JSON, or the workbook.
func runShared(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("shared")
	data := f.String("data", "", "")
	cases := f.String("cases", "", "")
	others := f.String("others", "", "")
	from := f.String("from", "", "")
	to := f.String("to", "", "")
	days := f.Int("days", -1, "")
	within := f.Int("within", 0, "")
	alpha := f.Float64("alpha", 0, "")
	whole := f.Bool("json", false, "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if *cases == "" || f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --cases, a list with the columns treatment, problem, patient and at")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	q := trace.Comparing{From: inventory.Date(*from), To: inventory.Date(*to), Within: *within, Alpha: *alpha}
	if *days >= 0 {
		q.Days = days
	}
	said := &findings{command: "shared"}
	asked, err := h.asked(ctx, e)
	if err != nil {
		return exitError, err
	}
	caseList, err := readCases(said, asked.Zone, *cases)
	if err != nil {
		return exitError, err
	}
	otherList := &caseFile{}
	if *others != "" {
		if otherList, err = readCases(said, asked.Zone, *others); err != nil {
			return exitError, err
		}
	}
	if said.n > 0 {
		return said.print(e), nil
	}
	q.Cases, q.Others = caseList.items, otherList.items
	c, err := h.book.Compare(ctx, q)
	if err != nil {
		list := caseList
		if o := (*trace.OthersError)(nil); errors.As(err, &o) {
			list = otherList
		}
		if ps := list.refused(err); len(ps) > 0 {
			return said.of(ps...).print(e), nil
		}
		return exitError, err
	}
	switch {
	case *file != "":
		return exitOK, writeWorkbook(ctx, *data, *file, reports.Comparison(c, asked))
	case *whole:
		enc := json.NewEncoder(e.stdout)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		return exitOK, enc.Encode(struct {
			*trace.Comparison
			Caution string `json:"caution"`
		}{c, reports.Caution})
	}
	return exitOK, printShared(e.stdout, c)
}

// A caseFile is a list of cases as it was read.
type caseFile struct {
	table *intake.Table
	items []trace.Case
	lines []int
}

// refused turns what was refused of single lines into problems with their line.
func (f *caseFile) refused(err error) []*intake.Problem {
	if l := (*inventory.LineError)(nil); !errors.As(err, &l) {
		return nil
	}
	return intake.Refused(f.table, f.lines, err)
}

func readCases(said *findings, zone *time.Location, file string) (*caseFile, error) {
	in, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	out := new(caseFile)
	out.table, err = intake.Open(in, file)
	if p := (*intake.Problem)(nil); errors.As(err, &p) {
		said.of(p)
		return out, nil
	} else if err != nil {
		return nil, err
	}
	out.table.Zone = zone
	var problems []*intake.Problem
	out.items, out.lines, problems = intake.Cases.All(out.table)
	said.of(problems...)
	return out, nil
}

// firstShared is how many lines people are shown without asking for more.
const firstShared = 12

// printShared writes what was found in words.
func printShared(out io.Writer, c *trace.Comparison) error {
	fmt.Fprintf(out, "%s to %s: %d cases of %d patients, %d other treatments of %d other patients, %d things looked at\n",
		c.From, c.To, c.Treatments.Cases, c.Patients.Cases, c.Treatments.Others, c.Patients.Others, c.Looked)
	standing := c.StandingOut()
	if len(standing) == 0 {
		fmt.Fprintln(out, "Nothing stands out beyond what chance gives among so many. The first of those looked at:")
	}
	for i := range c.Factors {
		x := &c.Factors[i]
		if i >= firstShared && !x.StandsOut {
			break
		}
		mark := "       "
		if x.StandsOut {
			mark = "STANDS "
		}
		fmt.Fprintf(out, "%s%s: %s\n", mark, reports.FactorText(&x.Factor), x.Words)
	}
	for _, l := range c.Limits {
		fmt.Fprintf(out, "- %s\n", l)
	}
	_, err := fmt.Fprintf(out, "--json and --xlsx have all %d, by treatment and by patient\n%s\n", len(c.Factors), reports.Caution)
	return err
}
