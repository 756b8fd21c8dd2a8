package main

import (
	"fmt"
	"io"
	"os"
)

// A progress tells on standard error how far a long job is: as a line that is
// written over on a terminal, a line now and then where it was asked for, and
// not at all otherwise.
type progress struct {
	w        io.Writer
	terminal bool
	doing    string
	done     int
	total    int
	said     bool
}

// The steps after which something is said.
const (
	stepTerminal = 500
	stepLines    = 10_000
)

// newProgress returns the progress for a command; asked is whether a flag asks
// for it.
func newProgress(e *env, asked bool) *progress {
	p := &progress{w: e.stderr}
	if f, ok := e.stderr.(*os.File); ok {
		st, err := f.Stat()
		p.terminal = err == nil && st.Mode()&os.ModeCharDevice != 0
	}
	if !p.terminal && !asked {
		p.w = nil
	}
	return p
}

// begin starts a part of the job of so many rows.
func (p *progress) begin(doing string, total int) {
	p.end()
	p.doing, p.done, p.total = doing, 0, total
}

// step says that n more rows are done.
func (p *progress) step(n int) {
	p.done += n
	if p.w == nil {
		return
	}
	switch {
	case p.terminal && p.done%stepTerminal == 0:
		fmt.Fprintf(p.w, "\r%s %d of %d rows", p.doing, p.done, p.total)
		p.said = true
	case !p.terminal && p.done%stepLines == 0:
		fmt.Fprintf(p.w, "%s %d of %d rows\n", p.doing, p.done, p.total)
	}
}

// end clears the line on a terminal.
func (p *progress) end() {
	if p.said {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.said = false
	}
}
