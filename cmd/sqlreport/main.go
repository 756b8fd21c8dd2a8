// Command sqlreport asks who received a lot, of the book and as SQL of SQLite
// and PostgreSQL, over the same facts and in turn on the same machine.
//
//	make sql-report
//
// It needs sqlite3 and PostgreSQL, which make installs with Debian's package
// manager, and says so. The answers are compared before times count: the same
// treatments with the same grades.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"text/tabwriter"
	"time"

	"lotbook/trace/demo"
)

func main() {
	if err := run(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "sqlreport:", err)
		os.Exit(1)
	}
}

// A figure is what an answer cost: the median of the rounds on the clock, and
// processor time on average.
type figure struct {
	wall, cpu time.Duration
}

// An engine answers who received a lot: each line is a grade and a treatment.
type engine interface {
	name() string
	answer(ctx context.Context, lot string) ([]string, error)
	// time asks so many times.
	time(ctx context.Context, lot string, rounds int) (figure, error)
}

func run(ctx context.Context) error {
	treatments := flag.Int("treatments", 1_000_000, "in the journal; made first, which takes minutes")
	kept := flag.String("kept", os.Getenv("LOTBOOK_BENCH"), "folder in which the journal is kept for the next run")
	rounds := flag.Int("rounds", 20, "how often each is asked")
	flag.Parse()
	temp, err := os.MkdirTemp("", "lotbook-sql-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	if *kept == "" {
		*kept = temp
	}
	o := demo.LongOf(*treatments)
	own, err := openBook(ctx, filepath.Join(*kept, o.Name()), o)
	if err != nil {
		return err
	}
	defer own.store.Close()
	fmt.Println("writing the same facts as tables")
	if err := export(ctx, own.Book, temp); err != nil {
		return err
	}
	lite, err := newSQLite(ctx, temp)
	if err != nil {
		return err
	}
	pg, err := newPostgres(ctx, temp)
	if err != nil {
		return err
	}
	defer pg.stop()
	out := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(out, "who received a lot, of %d treatments\tlines\ton the clock\tprocessor\n", *treatments)
	for _, uses := range []int{100, 2500} {
		if err := compare(ctx, out, o.Middle(uses), uses, *rounds, own, lite, pg); err != nil {
			return err
		}
	}
	book, err := own.workbook(ctx, o.Middle(2500), *rounds, temp)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "2500 uses, lotbook, the workbook as well\t\t%v\t%v\n", round(book.wall), round(book.cpu))
	return out.Flush()
}

// compare asks each engine about a lot, and prints what it cost if all say the
// same.
func compare(ctx context.Context, out *tabwriter.Writer, lot string, uses, rounds int, engines ...engine) error {
	var want []string
	for i, e := range engines {
		got, err := e.answer(ctx, lot)
		if err != nil {
			return fmt.Errorf("%s: %w", e.name(), err)
		}
		slices.Sort(got)
		if i == 0 {
			want = got
		} else if !slices.Equal(got, want) {
			return fmt.Errorf("%s lists %d treatments, %s %d, or others", e.name(), len(got), engines[0].name(), len(want))
		}
	}
	if len(want) < uses {
		return fmt.Errorf("only %d treatments are listed of a lot of %d pieces", len(want), uses)
	}
	for _, e := range engines {
		f, err := e.time(ctx, lot, rounds)
		if err != nil {
			return fmt.Errorf("%s: %w", e.name(), err)
		}
		fmt.Fprintf(out, "%d uses, %s\t%d\t%v\t%v\n", uses, e.name(), len(want), round(f.wall), round(f.cpu))
	}
	return nil
}

func round(d time.Duration) time.Duration { return d.Round(10 * time.Microsecond) }

func median(list []time.Duration) time.Duration {
	slices.Sort(list)
	return list[len(list)/2]
}
