// Command report times the reading of one UDI of five elements beside two
// parsers in JavaScript, turn and turn about on the same machine.
//
//	make text-report
//
// It needs node and npm. Both print the elements that they read, and the times
// count only if those are the same.
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"lotbook/scanner"
	"lotbook/scanner/gs1"
)

// udi is a device label of five identifiers, two of them of variable length.
const udi = "0109506000117843112612311728123110A213B1\x1d211234567"

// A figure is the best of some rounds.
type figure struct {
	PerSecond float64  `json:"perSecond"`
	Elements  []string `json:"elements"`
}

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "report:", err)
		os.Exit(1)
	}
}

func run() error {
	rounds := flag.Int("rounds", 10, "how often each parser has its turn; the best counts")
	npm := flag.String("npm", ".", "folder that holds node_modules and parse.mjs")
	flag.Parse()
	const parsed, read = "lotbook, parsed and checked", "lotbook, line to finished code"
	names := []string{parsed, read}
	best := map[string]figure{}
	for range *rounds {
		ours, err := turn()
		if err != nil {
			return err
		}
		theirs, err := theirTurn(*npm)
		if err != nil {
			return err
		}
		round := map[string]figure{parsed: ours[0], read: ours[1]}
		for name, f := range theirs {
			round[name] = f
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
		for name, f := range round {
			if !slices.Equal(f.Elements, ours[0].Elements) {
				return fmt.Errorf("%s read %q, lotbook %q", name, f.Elements, ours[0].Elements)
			}
			if f.PerSecond > best[name].PerSecond {
				best[name] = f
			}
		}
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "parser\tparses a second, one core\tof the first")
	for _, name := range names {
		fmt.Fprintf(w, "%s\t%.0f\t%.3f\n", name, best[name].PerSecond, best[name].PerSecond/best[parsed].PerSecond)
	}
	return w.Flush()
}

// turn times this project's reader: the parser, and from a scanned line to a
// code with GTIN, lot, serial and dates.
func turn() ([2]figure, error) {
	now := time.Now()
	var out [2]figure
	els, err := gs1.Parse(udi, now)
	if err != nil {
		return out, err
	}
	codes := scanner.Read("]d2"+udi, scanner.Options{Now: now})
	if len(codes) != 1 || codes[0].Error != nil {
		return out, fmt.Errorf("the line was read as %+v", codes)
	}
	for _, e := range els {
		out[0].Elements = append(out[0].Elements, e.AI.Code()+e.Value)
	}
	for _, e := range codes[0].Elements {
		out[1].Elements = append(out[1].Elements, e.AI+e.Value)
	}
	out[0].PerSecond = perSecond(func() { els, err = gs1.Append(els[:0], udi, now) })
	out[1].PerSecond = perSecond(func() { codes = scanner.AppendRead(codes[:0], "]d2"+udi, scanner.Options{Now: now}) })
	if err != nil || len(els) != 5 || len(codes) != 1 || len(codes[0].Elements) != 5 {
		return out, fmt.Errorf("read as %d elements and %+v, %v", len(els), codes, err)
	}
	return out, nil
}

// perSecond runs do for at least 100 ms, as parse.mjs does.
func perSecond(do func()) float64 {
	for n := 100; ; n *= 2 {
		start := time.Now()
		for range n {
			do()
		}
		if took := time.Since(start); took >= 200*time.Millisecond {
			return float64(n) / took.Seconds()
		}
	}
}

func theirTurn(npm string) (map[string]figure, error) {
	cmd := exec.Command("node", "parse.mjs", udi, strconv.Itoa(1))
	cmd.Dir, cmd.Stderr = npm, os.Stderr
	b, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("node parse.mjs: %w", err)
	}
	theirs := map[string]figure{}
	if err := json.Unmarshal(b, &theirs); err != nil {
		return nil, err
	}
	for name, f := range theirs {
		for i, e := range f.Elements {
			f.Elements[i] = strings.TrimSuffix(e, "\x1d")
		}
		theirs[name] = f
	}
	return theirs, nil
}
