package main

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"text/tabwriter"
	"time"

	"lotbook/scanner/picture"
)

// An answer is what one reader said of one picture. MS is the processor time
// that it took, not the clock's, so that a busy machine doesn't count.
type answer struct {
	File    string  `json:"file"`
	MS      float64 `json:"ms"`
	Symbols []struct {
		Symbology string `json:"symbology"`
		Text      string `json:"text"`
	} `json:"symbols"`
}

func (c *corpora) otherReader() error {
	var list bytes.Buffer
	for _, p := range c.Pictures {
		fmt.Fprintln(&list, cmp.Or(p.AsPNG, p.File))
	}
	name := filepath.Join(c.dir, "list.txt")
	if err := os.WriteFile(name, list.Bytes(), 0o644); err != nil {
		return err
	}
	return c.node("read.mjs", name, filepath.Join(c.dir, "theirs.jsonl"))
}

func (c *corpora) answers() (map[string]answer, error) {
	f, err := os.Open(filepath.Join(c.dir, "theirs.jsonl"))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	m := map[string]answer{}
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, 1<<22)
	for sc.Scan() {
		var a answer
		if err := json.Unmarshal(sc.Bytes(), &a); err != nil {
			return nil, err
		}
		m[a.File] = a
	}
	return m, sc.Err()
}

func (c *corpora) ourReader(ctx context.Context) (map[string]answer, error) {
	m := map[string]answer{}
	for _, p := range c.Pictures {
		b, err := os.ReadFile(p.File)
		if err != nil {
			return nil, err
		}
		start := cpuTime()
		syms, err := picture.Decode(ctx, bytes.NewReader(b), picture.Options{Deadline: 20 * time.Second})
		a := answer{File: p.File, MS: float64((cpuTime() - start).Microseconds()) / 1000}
		if err != nil && !errors.Is(err, picture.ErrDeadline) {
			return nil, fmt.Errorf("%s: %w", p.File, err)
		}
		for _, s := range syms {
			a.Symbols = append(a.Symbols, struct {
				Symbology string `json:"symbology"`
				Text      string `json:"text"`
			}{s.Symbology, s.Text})
		}
		m[p.File] = a
	}
	return m, nil
}

// cpuTime is the processor time of this process so far, of all its threads.
func cpuTime() time.Duration {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		return 0
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

// tally counts what one reader read of one group of pictures.
type tally struct {
	read, wrong int
	ms          []float64
}

// score matches an answer against what the picture holds. A text that nobody
// put there is wrong. With identifiers the symbology identifier must agree, too,
// where it is known: that is asked of this reader only, since the other one has
// its own view of some (a Code 39 whose check character happens to be right).
func (t *tally) score(p shot, a answer, identifiers bool) (missing []want) {
	t.ms = append(t.ms, a.MS)
	left := slices.Clone(p.Want)
	for _, s := range a.Symbols {
		same := func(w want) bool {
			return plain(w.Text) == plain(s.Text) && (!identifiers || w.Symbology == "" || w.Symbology == s.Symbology)
		}
		if i := slices.IndexFunc(left, same); i >= 0 {
			left = slices.Delete(left, i, i+1)
			t.read++
		} else if !slices.ContainsFunc(p.Want, same) {
			t.wrong++
		}
	}
	return left
}

// plain takes a text as the photos' own .txt files have it: their line ends
// vary, and some write the FNC1 that only says "this is GS1", or a separator
// as <GS>.
func plain(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "<GS>", "\x1d")
	return strings.TrimPrefix(strings.TrimRight(s, "\n"), "\x1d")
}

func (c *corpora) report(w io.Writer, ours, theirs map[string]answer) error {
	type row struct {
		want int
		a, b tally
	}
	rows := map[string]*row{}
	var order []string
	group := func(name string) *row {
		if rows[name] == nil {
			rows[name] = &row{}
			order = append(order, name)
		}
		return rows[name]
	}
	var failed []failure
	for _, p := range c.Pictures {
		names := []string{p.Corpus, p.Corpus + ": " + p.How}
		if len(p.Want) == 1 && p.Corpus == "singles" {
			names = append(names, "kind: "+p.Want[0].Kind)
		}
		for i, n := range names {
			g := group(n)
			g.want += len(p.Want)
			missed := g.a.score(p, ours[p.File], true)
			g.b.score(p, theirs[cmp.Or(p.AsPNG, p.File)], false)
			if i == 0 && (len(missed) > 0 || len(ours[p.File].Symbols) > len(p.Want)) {
				failed = append(failed, failure{p, missed, ours[p.File], theirs[cmp.Or(p.AsPNG, p.File)]})
			}
		}
	}
	slices.SortStableFunc(order, func(a, b string) int {
		return strings.Count(a, ": ") - strings.Count(b, ": ")
	})
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "corpus\tsymbols\tthis reader\tC++ reader\tratio\twrong\tC++ wrong\tp50 ms\tp95 ms\tC++ p95 ms\t")
	for _, n := range order {
		g := rows[n]
		ratio := "-"
		if g.b.read > 0 {
			ratio = fmt.Sprintf("%.3f", float64(g.a.read)/float64(g.b.read))
		}
		fmt.Fprintf(tw, "%s\t%d\t%d\t%d\t%s\t%d\t%d\t%.0f\t%.0f\t%.0f\t\n", n, g.want, g.a.read, g.b.read, ratio,
			g.a.wrong, g.b.wrong, quantile(g.a.ms, 0.5), quantile(g.a.ms, 0.95), quantile(g.b.ms, 0.95))
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	return c.failures(failed)
}

func quantile(v []float64, q float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[min(len(v)-1, int(q*float64(len(v))))]
}

type failure struct {
	Shot         shot
	Missed       []want
	Ours, Theirs answer
}

var page = template.Must(template.New("").Parse(`<!doctype html><meta charset="utf-8"><title>Not read</title>
{{range .}}<figure><a href="{{.Shot.File}}"><img src="{{.Shot.File}}" style="max-width:480px;max-height:360px"></a>
<figcaption>{{.Shot.Corpus}}, {{.Shot.How}}: {{range .Missed}}{{.Kind}} {{printf "%q" .Text}} {{end}}
<br>this reader: {{range .Ours.Symbols}}{{.Symbology}} {{printf "%q" .Text}} {{end}}
<br>C++ reader: {{range .Theirs.Symbols}}{{.Symbology}} {{printf "%q" .Text}} {{end}}</figcaption></figure>
{{end}}`))

// failures writes the page of what was not read, and the list for a program.
func (c *corpora) failures(f []failure) error {
	for i := range f {
		if rel, err := filepath.Rel(c.dir, f[i].Shot.File); err == nil {
			f[i].Shot.File = rel
		}
	}
	var b bytes.Buffer
	if err := page.Execute(&b, f); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(c.dir, "index.html"), b.Bytes(), 0o644); err != nil {
		return err
	}
	j, err := json.MarshalIndent(f, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(c.dir, "failures.json"), j, 0o644)
}
