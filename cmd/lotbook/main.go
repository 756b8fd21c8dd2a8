// Command lotbook keeps which lot went into which haemodialysis treatment: see
// the README. Each command is a file of this folder.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"lotbook/inventory"
)

// Exit codes.
const (
	exitOK    = 0
	exitError = 1
	exitUsage = 2
)

// An env is what a command works with: what a test puts in place of the
// process's own.
type env struct {
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	now    func() time.Time
	getenv func(string) string
}

// A command does its job and returns an exit code that is not 0 only together
// with output of its own, or an error, which main prints.
type command struct {
	name  string
	usage string
	about string
	run   func(ctx context.Context, e *env, args []string) (int, error)
}

func commands() []command {
	return []command{
		{"read", "read [--profile FILE] [--one-pack] [FILE…]", "barcodes out of pictures and text files, one JSON object a line (-: standard input); --one-pack: pictures of one pack, read together", runRead},
		{"exposures", "exposures --data DIR --product GTIN --lot LOT [--xlsx FILE | --treatment ID | --left-out [--from DATE] [--to DATE]]", "which patients received a lot", runExposures},
		{"shared", "shared --data DIR --cases FILE [--others FILE] [--from DATE --to DATE | --days N] [--within HOURS] [--alpha 0.05] [--json | --xlsx FILE]", "which lots, batches, machines, stations and shifts treatments with a reaction share that others don't; FILE: CSV or Excel with treatment, or problem, or patient and at", runShared},
		{"overdue", "overdue --data DIR [--json]", "what should have been done on open field notices; exit 1 if there is any", runOverdue},
		{"drill", "drill begin|end|list --data DIR [--product ID --lot LOT] [--drill D [--found PLACE=PIECES]… [--searched] [--held-up WORDS]…]", "a mock notice on a lot of choice or by chance: the time, the share accounted for, what held it up", runDrill},
		{"problems", "problems --data DIR [--product GTIN] [--lot LOT] [--from DATE] [--to DATE] [--xlsx FILE]", "problems with products, and those of one lot or product that belong together", runProblems},
		{"problem-draft", "problem-draft --data DIR --problem NUMBER [--xlsx FILE]", "what is on record of a problem, in the fields that 21 CFR 803.32 asks for: a draft, no report", runProblemDraft},
		{"trend", "trend --data DIR --from DATE --to DATE [--product ID] [--location ID] [--alpha 0.05] [--json | --xlsx FILE]", "control charts over shifts, and what goes without a reason; exit 1 if there is an alarm", runTrend},
		{"count-plan", "count-plan --data DIR [--date DATE] [--location ID] [--xlsx FILE]", "what is to be counted, by value and movement", runCountPlan},
		{"count-sheet", "count-sheet open --data DIR --location ID [--product ID]… [--complete] [--date DATE --shift N] | list [--location ID] | paper [SHEET] FILE | enter [SHEET] FILE | close [--cause CODE [--note TEXT] | --causes FILE] [SHEET] | drop --reason TEXT [SHEET], each with --data DIR", "a blind count: open a sheet, write its paper, note what was found, compare; exit 1 if some is to be counted again or needs a cause", runCountSheet},
		{"reorder", "reorder --data DIR [--service 0.98] [--review DAYS] [--lead DAYS [--lead-sd DAYS]] [--xlsx FILE]", "what to order, by the plan, with the terms of every figure", runReorder},
		{"next", "next --data DIR [--location ID] [--product ID] [--xlsx FILE]", "which lots to take next, and what will expire before it is used", runNext},
		{"reconcile", "reconcile --data DIR --date DATE [--shift N | --to DATE | --weeks N] [--product ID] [--location ID] [--xlsx FILE]", "counted, recorded, expected: of a shift, of days as one, of the weeks up to a date", runReconcile},
		{"serve", "serve --data DIR [--listen ADDR] [--join-within TIME]", "the service: pages and API, on loopback unless told otherwise", runServe},
		{"demo", "demo [--days N] [--stations N] [--shifts N] [--mixed] [--seed N] [--data DIR] [--until TIME] [--leak SHARE [--leak-of ID] [--leak-from DAY]] [--short-runs SHARE] [--listen ADDR] [--no-serve]", "an invented unit to try things on", runDemo},
		{"import", "import --data DIR [--partial] [--again] [--progress] products|patients|prescriptions|schedule|receipts|counts|ordering FILE", "a list as CSV or Excel; of a file with a bad row nothing is taken", runImport},
		{"export", "export --data DIR products|patients|prescriptions|schedule|receipts|counts|ordering FILE", "a list as CSV or Excel, by the file's name, as import takes it; - is CSV on standard output", runExport},
		{"template", "template products|patients|prescriptions|schedule|receipts|counts|ordering|notice FILE", "an empty list to fill in, as CSV or Excel, with what each column is", runTemplate},
		{"orders", "orders --data DIR [--open]", "orders and what became of them, one JSON object a line", runOrders},
		{"notices", "notices --data DIR [--open]", "the field notices: how far each is, its deadline, what is due and overdue, one JSON object a line", runNotices},
		{"notice", "notice write|show|lots|decide|confirm|release|answer|difference|reply|progress|assign|done|review|machine|told|effective|close|reopen --data DIR …", "a field notice: what was written, which lots it means, the hold, the answer, the reply; each says what it takes", runNotice},
		{"batches", "batches --data DIR [--tank ID] [--batch ID]", "batches mixed in the unit: what went in, readings, what they fed; one JSON object a line, the latest first", runBatches},
		{"kits", "kits --data DIR [--product ID] [--lot LOT] [--unsaid]", "kits' lots and which lots they hold, one JSON object a line; --unsaid: those of which nobody said", runKits},
		{"containers", "containers --data DIR [--location ID] [--open]", "containers opened for several treatments, one JSON object a line", runContainers},
		{"verify", "verify --data DIR [--head SEQ:HASH]", "checks every hash and every derived row", runVerify},
		{"backup", "backup --data DIR FILE", "a whole copy, also while a service has the book open", runBackup},
		{"restore", "restore --data DIR FILE", "a checked copy back into a new folder", runRestore},
		{"user", "user add|token|list --data DIR …", "the people who may sign in", runUser},
		{"scanner", "scanner sheet [--paper A4|Letter] | scanner diagnose [FILE]", "a keyboard scanner's test sheet as SVG; what its scans show, a line each, as JSON", runScanner},
		{"version", "version", "which version this is", runVersion},
	}
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	e := &env{os.Stdin, os.Stdout, os.Stderr, time.Now, os.Getenv}
	code := run(ctx, e, os.Args[1:])
	stop()
	os.Exit(code)
}

func run(ctx context.Context, e *env, args []string) int {
	if len(args) == 0 || args[0] == "help" || args[0] == "--help" || args[0] == "-h" {
		usage(e.stdout)
		if len(args) == 0 {
			return exitUsage
		}
		return exitOK
	}
	for _, c := range commands() {
		if c.name != args[0] {
			continue
		}
		code, err := c.run(ctx, e, args[1:])
		if err != nil {
			return fail(e.stderr, &c, err)
		}
		return code
	}
	fmt.Fprintf(e.stderr, "lotbook: there is no command %q\nhint: lotbook help lists them\n", args[0])
	return exitUsage
}

func usage(w io.Writer) {
	fmt.Fprint(w, "lotbook keeps which lot went into which haemodialysis treatment.\n\n")
	for _, c := range commands() {
		fmt.Fprintf(w, "  lotbook %s\n        %s\n", c.usage, c.about)
	}
	fmt.Fprint(w, "\nIt keeps records. It does not replace the prescription check, the machine's own\ntests, the independent check of conductivity and pH, local codes or licensed\npractice.\n")
}

// A usageError is wrong usage of a command.
type usageError struct{ why string }

func (u *usageError) Error() string { return u.why }

func wrongUsage(format string, args ...any) error { return &usageError{fmt.Sprintf(format, args...)} }

// fail prints what happened and what to do, and returns the exit code.
func fail(w io.Writer, c *command, err error) int {
	var u *usageError
	var r *inventory.Refusal
	switch {
	case errors.As(err, &u):
		fmt.Fprintf(w, "lotbook: %s: %s\nhint: lotbook %s\n", c.name, u.why, c.usage)
		return exitUsage
	case errors.As(err, &r):
		fmt.Fprintf(w, "lotbook: %s: %s\nhint: %s\n", c.name, sentence(err), r.Hint)
	case errors.Is(err, inventory.ErrInUse):
		fmt.Fprintf(w, "lotbook: %s: %s\nhint: stop the service that has it open, or ask that service instead\n", c.name, sentence(err))
	default:
		fmt.Fprintf(w, "lotbook: %s: %s\n", c.name, sentence(err))
	}
	return exitError
}

// sentence puts joined errors on one line each, indented.
func sentence(err error) string { return strings.ReplaceAll(err.Error(), "\n", "\n  ") }
