package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"strconv"
	"strings"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
)

// runVerify checks a store that nobody is writing to. Heads that were noted
// elsewhere, on a workbook say, can be given as --head SEQ:HASH.
func runVerify(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("verify")
	data := f.String("data", "", "")
	var noted []journal.Checkpoint
	f.Func("head", "", func(s string) error {
		seq, hash, _ := strings.Cut(s, ":")
		n, err := strconv.ParseUint(seq, 10, 64)
		if err != nil {
			return fmt.Errorf("%q is not SEQ:HASH", s)
		}
		h, err := journal.ParseHash(hash)
		noted = append(noted, journal.Checkpoint{Seq: n, Hash: h})
		return err
	})
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if *data == "" || f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --data")
	}
	if e.getenv(childVerify) != "" {
		o := verifyOptions(e, noted)
		return exitOK, boltstore.ServeVerify(ctx, e.stdout, *data, o)
	}
	rep, err := verifyApart(ctx, e, *data, noted)
	if errors.Is(err, fs.ErrNotExist) {
		return exitError, inventory.NotFound("book", *data, "Give the folder of an existing one.")
	}
	if err != nil {
		return exitError, err
	}
	for i := range rep.Problems {
		fmt.Fprintf(e.stdout, "wrong: %v\n", &rep.Problems[i])
	}
	if len(rep.Problems) > 0 {
		if rep.More > 0 {
			fmt.Fprintf(e.stdout, "and %d more\n", rep.More)
		}
		return exitError, errors.New("the book is damaged; keep this folder as it is, and restore a backup into a new one")
	}
	fmt.Fprintf(e.stdout, "right: %d entries, each with the hash of the one before; %s\nhead: %d:%s\n",
		rep.Entries, rowsText(&rep), rep.Head.Seq, rep.Head.Hash)
	return exitOK, nil
}

// rowsText says what was found out about the derived rows.
func rowsText(rep *boltstore.Report) string {
	if rep.OtherForm {
		return fmt.Sprintf("the rows (form %s) are another version's and were not checked: they are made again (form %s) when the book is next opened",
			rep.RowForm, derivation().Form)
	}
	return fmt.Sprintf("%d rows (form %s) in %d indexes are what the entries derive", rep.Rows, rep.RowForm, rep.Indexes)
}

func verifyOptions(e *env, noted []journal.Checkpoint) boltstore.VerifyOptions {
	d := derivation()
	return boltstore.VerifyOptions{Project: d.Project, Form: d.Form, Checkpoints: noted, Clock: e.now}
}

// childVerify is the environment variable that makes this program check a
// store for another process of its own, which a damaged file may end.
const childVerify = "LOTBOOK_VERIFY"

// verifyApart checks a store in a process of its own, if this program can be
// started again, and in this one if not.
func verifyApart(ctx context.Context, e *env, dir string, noted []journal.Checkpoint) (boltstore.Report, error) {
	o := verifyOptions(e, noted)
	self, err := os.Executable()
	if err != nil {
		return boltstore.Verify(ctx, dir, o)
	}
	cmd := exec.CommandContext(ctx, self, "verify", "--data", dir)
	for _, n := range noted {
		cmd.Args = append(cmd.Args, "--head", fmt.Sprintf("%d:%s", n.Seq, n.Hash))
	}
	cmd.Env = append(os.Environ(), childVerify+"=1")
	return boltstore.VerifyChild(ctx, cmd, boltstore.ChildOptions{})
}
