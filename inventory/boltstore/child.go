package boltstore

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os/exec"
	"strings"
	"sync/atomic"
	"time"

	"lotbook/inventory"
)

// A childLine is a line of what ServeVerify writes: one of its members.
type childLine struct {
	Done   uint64  `json:"done,omitempty"`
	Total  uint64  `json:"total,omitempty"`
	Report *Report `json:"report,omitempty"`
	Error  string  `json:"error,omitempty"`
	Kind   string  `json:"kind,omitempty"` // of the error
}

// childKinds are the errors that keep their identity on the way.
var childKinds = map[string]error{
	"in use": inventory.ErrInUse, "newer": inventory.ErrNewerFormat, "not a store": inventory.ErrNotAStore,
	"no store": fs.ErrNotExist, "no right": fs.ErrPermission, "damaged": ErrDamaged,
}

// ServeVerify runs Verify in a process that VerifyChild started and writes its
// progress and its outcome to w, JSON a line.
func ServeVerify(ctx context.Context, w io.Writer, dir string, o VerifyOptions) error {
	enc := json.NewEncoder(w)
	o.Progress = func(done, total uint64) { _ = enc.Encode(childLine{Done: done, Total: total}) }
	r, err := Verify(ctx, dir, o)
	last := childLine{Report: &r}
	if err != nil {
		last = childLine{Error: err.Error()}
		for kind, sentinel := range childKinds {
			if errors.Is(err, sentinel) {
				last.Kind = kind
			}
		}
	}
	return enc.Encode(last)
}

// ChildOptions are the settings of VerifyChild.
type ChildOptions struct {
	// Stall is how long the child may say nothing before it is ended; zero
	// means two minutes. A file of 10 GB on a slow disk is read in less.
	Stall time.Duration
	// Progress is what VerifyOptions.Progress is.
	Progress func(done, total uint64)
}

// VerifyChild runs a Verify in a process of its own, so that a damaged file can
// end that and nothing else. cmd is a command, not yet started, that calls
// ServeVerify with its standard output. If it ends without a report, or says
// nothing for too long, the Report has that as its problem.
func VerifyChild(ctx context.Context, cmd *exec.Cmd, o ChildOptions) (Report, error) {
	if o.Stall == 0 {
		o.Stall = 2 * time.Minute
	}
	var stderr opening
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return Report{}, fmt.Errorf("boltstore: verify: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return Report{}, fmt.Errorf("boltstore: verify: %w", err)
	}
	var stalled atomic.Bool
	end := func() { _ = cmd.Process.Kill() }
	watch := time.AfterFunc(o.Stall, func() { stalled.Store(true); end() })
	defer watch.Stop()
	defer context.AfterFunc(ctx, end)()
	last, readErr := readChild(out, func(done, total uint64) {
		watch.Reset(o.Stall)
		if o.Progress != nil {
			o.Progress(done, total)
		}
	})
	waitErr := cmd.Wait()
	switch {
	case last.Report != nil:
		return *last.Report, nil
	case last.Error != "":
		if kind := childKinds[last.Kind]; kind != nil {
			return Report{}, &childError{last.Error, kind}
		}
		return Report{}, errors.New(last.Error)
	case ctx.Err() != nil:
		return Report{}, ctx.Err()
	case stalled.Load():
		return broken("checking it made no headway for %v", o.Stall), nil
	case waitErr != nil:
		return broken("checking it ended the process that did so: %v: %s", waitErr, stderr.firstLine()), nil
	}
	return Report{}, fmt.Errorf("boltstore: verify: the checking process said nothing: %w", errors.Join(readErr, io.ErrUnexpectedEOF))
}

// broken is the report on a file that nothing could be found out about.
func broken(format string, args ...any) Report {
	return Report{Problems: []Problem{{Place: InFile, Why: fmt.Sprintf(format, args...)}}}
}

// readChild reads lines up to the report or the error.
func readChild(r io.Reader, progress func(done, total uint64)) (last childLine, err error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 4<<20) // a report of a hundred problems has some 50 KB
	for lines.Scan() {
		var l childLine
		if err := json.Unmarshal(lines.Bytes(), &l); err != nil {
			return last, err
		}
		if l.Report != nil || l.Error != "" {
			return l, nil
		}
		progress(l.Done, l.Total)
	}
	return last, lines.Err()
}

// A childError is an error that came from another process.
type childError struct {
	text string
	kind error
}

func (e *childError) Error() string { return e.text }
func (e *childError) Unwrap() error { return e.kind }

// An opening keeps the first bytes that are written to it; the runtime names the
// cause of a crash there, before the stacks.
type opening struct{ b bytes.Buffer }

func (o *opening) Write(b []byte) (int, error) {
	if room := 4096 - o.b.Len(); room > 0 {
		o.b.Write(b[:min(room, len(b))])
	}
	return len(b), nil
}

func (o *opening) firstLine() string {
	line, _, _ := strings.Cut(o.b.String(), "\n")
	return line
}
