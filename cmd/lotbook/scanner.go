package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"strings"

	"lotbook/scanner/picture/draw"
	"lotbook/scanner/wedge"
)

// runScanner prints the test sheet for keyboard scanners, and says what the
// scans of it show.
func runScanner(_ context.Context, e *env, args []string) (int, error) {
	if len(args) == 0 {
		return exitUsage, wrongUsage("say sheet or diagnose")
	}
	f := flags("scanner " + args[0])
	paper := f.String("paper", draw.A4.Name, "")
	if err := parse(f, args[1:]); err != nil {
		return exitUsage, err
	}
	switch {
	case args[0] == "sheet" && f.NArg() == 0:
		for _, p := range []draw.Paper{draw.A4, draw.Letter} {
			if strings.EqualFold(p.Name, *paper) {
				return exitOK, draw.Sheet(e.stdout, p)
			}
		}
		return exitUsage, wrongUsage("there is no paper %q; use A4 or Letter", *paper)
	case args[0] == "diagnose" && f.NArg() <= 1:
		return diagnose(e, f.Arg(0))
	}
	return exitUsage, wrongUsage("say sheet, or diagnose and at most one file")
}

// diagnosed is what is known of a scanner once its scans of the test sheet were
// looked at.
type diagnosed struct {
	Profile  *wedge.Profile  `json:"profile,omitempty"`
	Findings []wedge.Finding `json:"findings"`
}

// diagnose reads scans of the test sheet, a line each.
func diagnose(e *env, name string) (int, error) {
	in := e.stdin
	if name != "" && name != "-" {
		file, err := os.Open(name)
		if err != nil {
			return exitError, err
		}
		defer file.Close()
		in = file
	}
	text, err := io.ReadAll(io.LimitReader(in, longestLine))
	if err != nil {
		return exitError, err
	}
	p, fs, err := wedge.Diagnose(wedge.Lines(string(text)))
	if err != nil && !errors.Is(err, wedge.ErrSheet) {
		return exitError, err
	}
	d := diagnosed{Findings: fs}
	code := exitError
	if err == nil {
		d.Profile, code = &p, exitOK
	}
	out := bufio.NewWriter(e.stdout)
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	return code, errors.Join(enc.Encode(d), out.Flush())
}

// profileFrom reads a scanner's profile from a file that diagnose wrote.
func profileFrom(name string) (wedge.Profile, error) {
	if name == "" {
		return wedge.Profile{}, nil
	}
	b, err := os.ReadFile(name)
	if err != nil {
		return wedge.Profile{}, err
	}
	var d diagnosed
	if err := json.Unmarshal(b, &d); err != nil {
		return wedge.Profile{}, wrongUsage("%s is not what scanner diagnose prints: %v", name, err)
	}
	if d.Profile == nil {
		return wedge.Profile{}, wrongUsage("%s holds no profile: the scans of the test sheet gave none", name)
	}
	return *d.Profile, nil
}
